// The page's own script: reading values off figures, zooming, placing windows, live numbers, uploads. Every page works without it.
// Plain ES module, typed in comments; `tsc --checkJs` checks it in a test.

/** @typedef {{ g: SVGGElement, left: number, right: number, top: number, bottom: number, x: Axis, y: Axis }} Plot */
/** @typedef {{ from: number, to: number, unit: string, logarithmic: boolean }} Axis */
/** @typedef {{ name: string, points: [number, number][] }} Trace */
/** @typedef {{ scan: { words: string }, determinations: { words: string[] }[], series: { words: string }, figure: string }} Tried */
/** @typedef {{ state: string, is_over: boolean, done: number, of: number, what: string }} Progress */

const SVG = "http://www.w3.org/2000/svg";

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name @param {Record<string, string>} attributes @param {string} [text]
 * @returns {HTMLElementTagNameMap[K]}
 */
function element(name, attributes, text) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

/** @param {Element} at @param {string} name */
function number(at, name) {
  return Number(at.getAttribute(name));
}

/** @param {number} milliseconds */
function pause(milliseconds) {
  return new Promise((done) => setTimeout(done, milliseconds));
}

/** Says something to those who do not see the page change, once it has come to rest. @param {Element} status */
function speaker(status) {
  let waiting = 0;
  return (/** @type {string} */ words) => {
    clearTimeout(waiting);
    waiting = window.setTimeout(() => { status.textContent = words; }, 500);
  };
}

// --- The connection -------------------------------------------------------------------------------------------------

/** @type {Promise<boolean> | undefined} */
let waiting_for_server;

/** Says that the server does not answer, and asks again until it does. What was typed stays where it is. Whether it is the same server. */
function wait_for_server() {
  waiting_for_server ??= asked_again().finally(() => { waiting_for_server = undefined; });
  return waiting_for_server;
}

async function asked_again() {
  const said = element("p", { class: "connection", role: "status" });
  document.body.prepend(said);
  said.textContent = "The server does not answer. Nothing was recorded by this page since; what you typed stays here. It is asked again every two seconds.";
  for (;;) {
    await pause(2000);
    try {
      const answer = await fetch("/api/head", { cache: "no-store" });
      if (answer.ok) break;
      said.textContent = "The server was started anew and does not know this browser any more. Copy what you typed, then open the address that it printed.";
      return false;
    } catch { /* still nothing */ }
  }
  said.textContent = "The server answers again. What you typed is still here; send it again.";
  setTimeout(() => said.remove(), 6000);
  return true;
}

/** Forms are sent by the browser itself, but only to a server that answers: else what was typed would be lost. */
function guard_forms() {
  /** @type {WeakSet<HTMLFormElement>} */
  const cleared = new WeakSet();
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || form.method !== "post" || event.defaultPrevented || cleared.has(form)) return;
    event.preventDefault();
    const submitter = event.submitter;
    try {
      await fetch("/api/head", { cache: "no-store" });
    } catch {
      void wait_for_server();
      return;
    }
    cleared.add(form);
    form.requestSubmit(submitter);
  });
}

// --- Figures: reading values and zooming ----------------------------------------------------------------------------

/** @param {SVGSVGElement} svg @returns {Plot[]} */
function plots_of(svg) {
  const axis = (/** @type {Element} */ g, /** @type {string} */ of) => ({
    from: number(g, `data-${of}-from`),
    to: number(g, `data-${of}-to`),
    unit: g.getAttribute(`data-${of}-unit`) ?? "",
    logarithmic: g.getAttribute(`data-${of}-spacing`) === "logarithmic",
  });
  return [.../** @type {NodeListOf<SVGGElement>} */ (svg.querySelectorAll("g.plot"))].map((g) => ({
    g, left: number(g, "data-left"), right: number(g, "data-right"), top: number(g, "data-top"), bottom: number(g, "data-bottom"),
    x: axis(g, "x"), y: axis(g, "y"),
  }));
}

/** A share of the axis as a number. @param {Axis} axis @param {number} share */
function value_at(axis, share) {
  if (!axis.logarithmic) return axis.from + share * (axis.to - axis.from);
  return Math.exp(Math.log(axis.from) + share * (Math.log(axis.to) - Math.log(axis.from)));
}

/** @param {Axis} axis @param {number} value */
function share_of(axis, value) {
  if (!axis.logarithmic) return (value - axis.from) / (axis.to - axis.from);
  return (Math.log(value) - Math.log(axis.from)) / (Math.log(axis.to) - Math.log(axis.from));
}

/** Corners of a path of straight pieces, whichever commands it is written with. @param {string} d @returns {[number, number][]} */
function corners(d) {
  /** @type {[number, number][]} */
  const all = [];
  let [x, y] = [0, 0];
  for (const [, command = "", rest = ""] of d.matchAll(/([MLHVmlhv])([^A-Za-z]*)/g)) {
    const numbers = (rest.match(/-?\d*\.?\d+/g) ?? []).map(Number);
    const step = command === command.toLowerCase() ? 1 : 0;
    const kind = command.toUpperCase();
    for (let at = 0; at < numbers.length; at += kind === "H" || kind === "V" ? 1 : 2) {
      if (kind === "V") y = step * y + numbers[at];
      else {
        x = step * x + numbers[at];
        if (kind !== "H") y = step * y + numbers[at + 1];
      }
      all.push([x, y]);
    }
  }
  return all;
}

/** @param {Plot} plot @returns {Trace[]} */
function traces_of(plot) {
  return [...plot.g.querySelectorAll("path[data-trace]")].map((path) => ({
    name: path.querySelector("title")?.textContent ?? path.getAttribute("data-trace") ?? "",
    points: corners(path.getAttribute("d") ?? ""),
  })).filter((trace) => trace.points.length > 1);
}

const PREFIXES = /** @type {const} */ ([[1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]]);

/** A number with its unit: volts to the millivolt, amperes with a prefix. @param {number} value @param {string} unit */
function quantity(value, unit) {
  const size = Math.abs(value);
  let text;
  if (unit === "V") text = `${value.toFixed(4)} V`;
  else if (unit === "A" || unit === "A·V") {
    const [scale, prefix] = PREFIXES.find(([scale]) => size >= scale) ?? [1e-12, "p"];
    text = size === 0 ? `0 ${unit}` : `${(value / scale).toPrecision(4)} ${prefix}${unit}`;
  } else text = `${Number(value.toPrecision(5))} ${unit}`.trim();
  return text.replace("-", "−");
}

/** One figure: a cross to read with, by pointer and arrow keys, and a closer look. */
class Reader {
  /** @param {HTMLElement} figure @param {SVGSVGElement} svg */
  constructor(figure, svg) {
    this.figure = figure;
    this.svg = svg;
    this.whole = svg.getAttribute("viewBox") ?? "";
    this.closeness = 1;
    this.plot = 0;
    this.trace = 0;
    this.point = -1;
    this.frame = element("div", { class: "reader", tabindex: "0", role: "group", "aria-label": "Read values: left and right along a curve, up and down to the next one, page keys between plots, plus and minus to zoom, 0 for the whole" });
    svg.replaceWith(this.frame);
    this.frame.append(svg);
    this.reading = element("p", { class: "reading" }, " ");
    const status = element("p", { class: "visually-hidden", role: "status" });
    this.say = speaker(status);
    const buttons = element("span", { class: "zoom" });
    for (const [words, by] of /** @type {const} */ ([["Closer", 2], ["Further", 0.5], ["Whole", 0]])) {
      const button = element("button", { type: "button", class: "plain" }, words);
      button.addEventListener("click", () => this.zoom(by));
      buttons.append(button, " ");
    }
    const line = element("div", { class: "reading-line" });
    line.append(this.reading, buttons);
    this.frame.after(line, status);
    this.frame.addEventListener("keydown", (event) => this.key(event));
    this.frame.addEventListener("pointermove", (event) => { if (event.pointerType !== "touch") this.point_at(event); });
    this.frame.addEventListener("pointerdown", (event) => this.point_at(event));
    this.frame.addEventListener("pointerleave", () => this.clear());
    this.take(svg);
  }

  /** Another drawing of the same figure. @param {SVGSVGElement} svg */
  take(svg) {
    if (svg !== this.svg) {
      if (this.closeness === 1) this.whole = svg.getAttribute("viewBox") ?? "";
      else svg.setAttribute("viewBox", this.svg.getAttribute("viewBox") ?? this.whole);
      this.svg.replaceWith(svg);
      this.svg = svg;
    }
    this.plots = plots_of(svg);
    this.traces = this.plots.map(traces_of);
  }

  /** Where a pointer is, in units of the drawing. @param {PointerEvent} event */
  place(event) {
    const matrix = this.svg.getScreenCTM();
    return matrix ? new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()) : undefined;
  }

  /** @param {{ x: number, y: number }} at */
  plot_at(at) {
    return (this.plots ?? []).findIndex((plot) => at.x >= plot.left && at.x <= plot.right && at.y >= plot.top && at.y <= plot.bottom);
  }

  /** @param {PointerEvent} event */
  point_at(event) {
    const at = this.place(event);
    const plot = at ? this.plot_at(at) : -1;
    if (!at || plot < 0) return this.clear();
    this.plot = plot;
    this.show(at.x, at.y, "");
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== this.frame) return;
    const step = event.shiftKey ? 10 : 1;
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowLeft: () => this.step(-step), ArrowRight: () => this.step(step),
      ArrowUp: () => this.other_trace(1), ArrowDown: () => this.other_trace(-1),
      Home: () => this.step(-Infinity), End: () => this.step(Infinity),
      PageUp: () => this.other_plot(-1), PageDown: () => this.other_plot(1),
      "+": () => this.zoom(2), "-": () => this.zoom(0.5), 0: () => this.zoom(0), Escape: () => this.clear(),
    };
    const act = keys[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  /** Along the curve, or where there is none across the plot. @param {number} by */
  step(by) {
    const plot = this.plots?.[this.plot];
    if (!plot) return;
    const trace = this.traces?.[this.plot]?.[this.trace];
    const n = trace ? trace.points.length : 101;
    this.point = this.point < 0 ? Math.floor(n / 2) : Math.min(n - 1, Math.max(0, this.point + by));
    const at = trace ? trace.points[this.point] : [plot.left + (this.point / 100) * (plot.right - plot.left), (plot.top + plot.bottom) / 2];
    this.show(at[0], at[1], trace?.name ?? "");
  }

  /** @param {number} by */
  other_trace(by) {
    const n = this.traces?.[this.plot]?.length ?? 0;
    if (n > 0) this.trace = (this.trace + by + n) % n;
    this.step(0);
  }

  /** @param {number} by */
  other_plot(by) {
    const n = this.plots?.length ?? 0;
    if (n > 0) this.plot = (this.plot + by + n) % n;
    this.trace = 0;
    this.step(0);
  }

  /** @param {number} x @param {number} y @param {string} name */
  show(x, y, name) {
    const plot = this.plots?.[this.plot];
    if (!plot) return;
    this.at = { x, y };
    let cross = this.svg.querySelector("path.cross");
    if (!cross) {
      cross = document.createElementNS(SVG, "path");
      cross.setAttribute("class", "cross");
    }
    plot.g.append(cross);
    cross.setAttribute("d", `M${plot.left} ${y}H${plot.right}M${x} ${plot.top}V${plot.bottom}`);
    const along = value_at(plot.x, (x - plot.left) / (plot.right - plot.left));
    const up = value_at(plot.y, (plot.bottom - y) / (plot.bottom - plot.top));
    const words = `${quantity(along, plot.x.unit)}, ${quantity(up, plot.y.unit)}${name ? `, ${name}` : ""}`;
    this.reading.textContent = words;
    if (name) this.say(words);
  }

  clear() {
    this.svg.querySelector("path.cross")?.remove();
    this.reading.textContent = " ";
  }

  /** Twice as close, half as close, or the whole. @param {number} by */
  zoom(by) {
    const [left = 0, top = 0, width = 0, height = 0] = this.whole.split(" ").map(Number);
    this.closeness = by === 0 ? 1 : Math.min(16, Math.max(1, this.closeness * by));
    const [w, h] = [width / this.closeness, height / this.closeness];
    const plot = this.plots?.[this.plot];
    const at = this.at ?? (plot ? { x: (plot.left + plot.right) / 2, y: (plot.top + plot.bottom) / 2 } : { x: width / 2, y: height / 2 });
    const x = Math.min(left + width - w, Math.max(left, at.x - w / 2));
    const y = Math.min(top + height - h, Math.max(top, at.y - h / 2));
    this.svg.setAttribute("viewBox", this.closeness === 1 ? this.whole : `${x} ${y} ${w} ${h}`);
    this.say(this.closeness === 1 ? "The whole figure" : `${this.closeness} times closer`);
  }
}

// --- Placing peak and baseline --------------------------------------------------------------------------------------

/** @param {HTMLElement} section @param {Reader | undefined} reader */
function place(section, reader) {
  const form = section.querySelector("form.windows");
  const address = section.dataset.try;
  if (!(form instanceof HTMLFormElement) || !address) return;
  const status = section.querySelector("[data-of=said]");
  const say = status ? speaker(status) : () => {};
  let [asked, answered, busy] = [0, 0, false];

  /** @param {Tried} tried */
  function show(tried) {
    const part = (/** @type {string} */ of) => section.querySelector(`[data-of=${of}]`);
    const list = section.querySelector("[data-live]");
    if (list instanceof HTMLElement) list.hidden = false;
    const [signal, sample, series] = ["signal", "sample", "series"].map(part);
    if (signal) signal.textContent = tried.scan.words;
    const words = tried.determinations.flatMap((one) => one.words);
    sample?.replaceChildren(...words.map((line) => element("li", { dir: "auto" }, line)));
    if (words.length === 0) sample?.replaceChildren(element("li", {}, "no determination of its own: a standard, a check, a spike or a blank"));
    if (series) series.textContent = tried.series.words;
    say([tried.scan.words, ...words, tried.series.words].join(". "));
    const svg = new DOMParser().parseFromString(tried.figure, "text/html").querySelector("svg");
    if (svg && reader) reader.take(document.importNode(svg, true));
  }

  /** One question at a time; what was moved meanwhile is asked next. The sample alone while it moves, the series once it rests. */
  async function ask() {
    asked += 1;
    if (busy) return;
    busy = true;
    let is_whole = false;
    do {
      if (answered === asked) await pause(200);
      is_whole = answered === asked;
      answered = asked;
      const fields = new URLSearchParams(/** @type {[string, string][]} */ ([...new FormData(/** @type {HTMLFormElement} */ (form))]));
      if (!is_whole) fields.set("alone", "yes");
      try {
        const answer = await fetch(`${address}?${fields}`, { cache: "no-store" });
        if (answer.ok) show(await answer.json());
        else refused(await answer.json());
      } catch {
        void wait_for_server();
      }
    } while (answered !== asked || !is_whole);
    busy = false;
  }

  /** @param {{ found: string[], cure: string }} refusal */
  function refused(refusal) {
    const signal = section.querySelector("[data-of=signal]");
    if (signal) signal.textContent = `${refusal.found.join("; ")}: ${refusal.cure}`;
  }

  form.addEventListener("input", () => void ask());
  form.addEventListener("reset", () => setTimeout(() => void ask(), 0));
  if (!reader) return;

  /** @type {HTMLInputElement | undefined} */
  let held;
  /** The end of a window nearest to a place, if it is near enough to be meant. @param {PointerEvent} event */
  function grip_at(event) {
    const at = reader?.place(event);
    if (!at || !reader || reader.plot_at(at) < 0) return undefined;
    // A finger is less exact than a pointer.
    const reach = event.pointerType === "touch" ? 24 : 10;
    const near = [...reader.svg.querySelectorAll("path.grip, path.height")].map((grip) => {
      const [[x = 0] = []] = corners(grip.getAttribute("d") ?? "");
      const input = form?.querySelector(`input[data-handle="${grip.getAttribute("data-handle")}"][data-end="${grip.getAttribute("data-end") ?? "at"}"]`);
      return { input, far: Math.abs(x - at.x) };
    }).filter(({ input, far }) => input && far <= reach).sort((a, b) => a.far - b.far)[0];
    return near?.input instanceof HTMLInputElement ? near.input : undefined;
  }

  const { frame } = reader;
  frame.classList.add("with-grips");
  frame.addEventListener("pointerdown", (event) => {
    held = grip_at(event);
    if (!held) return;
    frame.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  frame.addEventListener("pointermove", (event) => {
    if (!held) {
      frame.classList.toggle("at-grip", grip_at(event) !== undefined);
      return;
    }
    const [at, plot] = [reader.place(event), reader.plots?.[reader.plots.length - 1]];
    if (!at || !plot) return;
    const share = Math.min(1, Math.max(0, (at.x - plot.left) / (plot.right - plot.left)));
    const decimals = (held.step.split(".")[1] ?? "").length;
    const value = value_at(plot.x, share).toFixed(decimals);
    if (value === held.value) return;
    held.value = value;
    void ask();
  });
  const let_go = () => { held = undefined; };
  frame.addEventListener("pointerup", let_go);
  frame.addEventListener("pointercancel", let_go);
}

// --- Long work ------------------------------------------------------------------------------------------------------

/** @param {HTMLElement} section */
function follow(section) {
  const words = section.querySelector("[data-words]");
  const bar = section.querySelector("progress");
  const events = new EventSource(section.dataset.events ?? "");
  events.addEventListener("progress", (event) => {
    /** @type {Progress} */
    const progress = JSON.parse(event.data);
    if (words) words.textContent = progress.of > 0 ? `${progress.state}: ${progress.done} of ${progress.of} ${progress.what}` : progress.state;
    if (bar && progress.of > 0) [bar.max, bar.value] = [progress.of, progress.done];
    if (progress.is_over) {
      events.close();
      setTimeout(() => location.reload(), 300);
    }
  });
  // The browser asks again by itself; it is only said.
  events.addEventListener("error", () => { if (events.readyState !== EventSource.OPEN) void wait_for_server(); });
}

// --- Files dropped on the page --------------------------------------------------------------------------------------

/** Files of one sending, and their bytes. */
const [MOST_FILES, MOST_BYTES] = [100, 16 << 20];

/** @param {HTMLFormElement} form */
function take_files(form) {
  const input = form.querySelector("input[type=file]");
  if (!(input instanceof HTMLInputElement)) return;
  const status = element("p", { role: "status" });
  form.append(status);
  for (const kind of ["dragover", "dragleave", "drop"]) {
    form.addEventListener(kind, (event) => {
      event.preventDefault();
      form.classList.toggle("over", kind === "dragover");
    });
  }
  form.addEventListener("drop", (event) => void send(form, [...(event.dataTransfer?.files ?? [])], status));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void send(form, [...(input.files ?? [])], status);
  });
}

/** A few at a time, each sending asked for again until the server has it. @param {HTMLFormElement} form @param {File[]} files @param {HTMLElement} status */
async function send(form, files, status) {
  let n_sent = 0;
  let address = location.href;
  let next = form;
  while (n_sent < files.length) {
    let [end, bytes] = [n_sent, 0];
    while (end < files.length && end - n_sent < MOST_FILES && (end === n_sent || bytes + files[end].size <= MOST_BYTES)) bytes += files[end++].size;
    const fields = new FormData();
    for (const hidden of next.querySelectorAll("input[type=hidden]")) {
      if (hidden instanceof HTMLInputElement) fields.append(hidden.name, hidden.value);
    }
    for (const file of files.slice(n_sent, end)) fields.append("files", file, file.name);
    status.textContent = `${n_sent} of ${files.length} files sent`;
    try {
      const answer = await fetch(next.action, { method: "POST", body: fields });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!answer.ok) {
        status.textContent = `${n_sent} of ${files.length} files sent; then: ${page.querySelector(".refusal")?.textContent ?? answer.status}`;
        return;
      }
      const found = page.querySelector("form[data-drop]");
      if (found instanceof HTMLFormElement) next = found;
      address = answer.url;
      n_sent = end;
    } catch {
      if (!(await wait_for_server())) return;
    }
  }
  location.assign(address);
}

// --- All together ---------------------------------------------------------------------------------------------------

/** @type {Map<Element, Reader>} */
const readers = new Map();
for (const figure of document.querySelectorAll("figure")) {
  const svg = figure.querySelector("svg");
  if (svg?.querySelector("g.plot")) readers.set(figure, new Reader(figure, svg));
}
for (const section of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-try]"))) {
  const figure = section.querySelector("figure") ?? section.parentElement?.querySelector("figure");
  place(section, figure ? readers.get(figure) : undefined);
}
for (const section of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-events]"))) follow(section);
for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-drop]"))) take_files(form);
guard_forms();
