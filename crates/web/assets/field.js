// A step that was done is kept on the phone first and handed in then: once, in order, whenever there is a link. Without script the
// same forms work with a link alone. Nothing is judged here: clocks and order are looked at again where the step is taken.
// Plain script, typed in comments; `tsc --checkJs` checks it in a test.
"use strict";

/** @typedef {{ run: string, place: number, deed: string, purpose: string, well: string, token: string, boot: string }} State */
/** @typedef {{ id?: number, run: string, place: number, key: string, deed: string, fields: Record<string, string>, boot: string, steady: number, clock: number, file: Blob | null }} Kept */

(() => {
  const OF_SERVER = "clock-of-the-server";
  const ORDER = ["strip", "temperature", "rinse", "apply", "start", "file"];
  const RETRY_MS = 5000;
  const PATIENCE_MS = 30000;
  // A photo's longer side when it is sent: the finer of the two at which the server looks for a code.
  const PHOTO_SIDE = 1600;
  // A wait lasts a little longer than asked for: the way of the page took a moment.
  const MARGIN_MS = 300;

  const digits = () => [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const step = () => /** @type {HTMLElement | null} */ (document.querySelector("main#step"));
  /** @template {HTMLElement} [T=HTMLElement] @param {string} way @param {ParentNode | null} [within] @returns {T | null} */
  const one = (way, within = document) => within?.querySelector(way) ?? null;

  // The steady clock: set once by the server when the page comes, else one of this page alone.
  const navigation = /** @type {PerformanceNavigationTiming | undefined} */ (performance.getEntriesByType("navigation")[0]);
  const born = navigation?.responseStart || performance.now();
  const serverNow = Number(step()?.dataset.now ?? NaN);
  const boot = Number.isFinite(serverNow) ? OF_SERVER : digits();
  const offset = Number.isFinite(serverNow) ? serverNow - born : 0;
  const steady = () => Math.max(0, Math.round(offset + performance.now()));

  /** @type {State} */
  let state = { run: "", place: 1, deed: "", purpose: "", well: "", token: "", boot };
  let due = 0;
  /** Every step's form, for when there is no link. @type {Document | null} */
  let kept = null;
  let isBusy = false;

  // What waits on the phone.
  /** @type {Promise<IDBDatabase>} */
  const opened = new Promise((done, failed) => {
    const asked = indexedDB.open("stillwell-field", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("queue", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("now");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  /** @template T @param {"queue" | "now"} name @param {IDBTransactionMode} mode @param {(store: IDBObjectStore) => IDBRequest<T>} work @returns {Promise<T>} */
  async function inStore(name, mode, work) {
    const base = await opened;
    return new Promise((done, failed) => {
      const all = base.transaction(name, mode);
      const asked = work(all.objectStore(name));
      all.oncomplete = () => done(asked.result);
      all.onerror = all.onabort = () => failed(all.error);
    });
  }
  /** @returns {Promise<Kept[]>} */
  const waiting = () => inStore("queue", "readonly", (queue) => queue.getAll());
  /** @param {Kept} one */
  const isDone = (one) => inStore("queue", "readwrite", (queue) => queue.delete(one.id ?? 0));
  const remember = () => inStore("now", "readwrite", (now) => now.put({ ...state }, "state"));

  async function count() {
    const line = one(".link-lost");
    const n = (await waiting()).length;
    const number = one("b", line);
    if (line) line.hidden = n === 0;
    if (number) number.textContent = n ? String(n) : "";
    return n;
  }

  // The clock of a wait: the button is free when it is over.
  function tick() {
    const button = /** @type {HTMLButtonElement | null} */ (one("form.step > .reach .press", step()));
    const clock = one(".clock", step());
    const left = Math.ceil((due - performance.now()) / 1000);
    if (button) button.disabled = due > 0 && performance.now() < due + MARGIN_MS;
    if (!clock) return;
    clock.hidden = left <= 0;
    const words = (clock.dataset.text ?? "").replace("#", String(Math.max(left, 0)));
    const span = one("span", clock);
    if (span && span.textContent !== words) span.textContent = words;
  }

  /** What the page says of the run. @param {number} since */
  function learn(since) {
    const { run, place, deed, purpose, least } = step()?.dataset ?? {};
    const token = /** @type {HTMLInputElement | null} */ (one("input[name=form-token]"))?.value;
    if (token) state.token = token;
    if (run) state = { ...state, run, place: Number(place), deed: deed ?? "", purpose: purpose ?? "", boot };
    due = Number(least ?? 0) > 0 ? since + 1000 * Number(least) : 0;
    tick();
    return remember();
  }

  /** @param {string} text */
  function show(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const main = page.querySelector("main#step");
    if (!main) throw new Error("no step");
    step()?.replaceWith(document.adoptNode(main));
    scrollTo(0, 0);
    step()?.focus({ preventScroll: true });
    return learn(performance.now());
  }

  async function keep() {
    const text = await fetch("/field/steps").then((answer) => (answer.ok ? answer.text() : ""), () => "");
    if (text) kept = new DOMParser().parseFromString(text, "text/html");
  }

  /** The next step from what the phone keeps: nobody knows yet what the last one came to. */
  async function showKept() {
    if (!kept) await keep();
    const main = step();
    const ofPurpose = state.purpose && state.deed !== "none" ? `[data-purpose="${state.purpose}"]` : "";
    const wanted = [`template[data-deed="${state.deed}"]${ofPurpose}`, 'template[data-deed="none"]'];
    const template = /** @type {HTMLTemplateElement | null | undefined} */ (wanted.map((way) => one(way, kept)).find(Boolean));
    if (!template || !main) return;
    for (const name of Object.keys(main.dataset)) delete main.dataset[name];
    main.replaceChildren(document.importNode(template.content, true));
    if (state.well) {
      const line = document.createElement("p");
      line.className = "well";
      line.append(state.well);
      main.prepend(line);
    }
    due = Number(template.dataset.least ?? 0) > 0 ? performance.now() + 1000 * Number(template.dataset.least) : 0;
    tick();
    scrollTo(0, 0);
    await remember();
  }

  /** Which step comes after a deed if nothing is wrong. @param {string} deed */
  function goOn(deed) {
    const at = ORDER.indexOf(deed);
    const isCut = state.boot !== boot && at > 1;
    state.boot = boot;
    if (deed === "well") [state.deed, state.purpose] = ["strip", "control"];
    else if (isCut) state.deed = at === 2 ? "temperature" : "strip";
    else if (at >= 0 && at < ORDER.length - 1) state.deed = ORDER[at + 1];
    else if (deed === "file" && state.purpose === "control") [state.deed, state.purpose] = ["strip", "sample"];
    else [state.deed, state.purpose] = ["none", ""];
  }

  /** @param {Kept} one */
  async function send(one) {
    const form = new FormData();
    form.set("form-token", state.token);
    for (const [name, value] of Object.entries(one.fields)) form.set(name, value);
    for (const name of /** @type {const} */ (["place", "key", "deed", "boot", "steady", "clock"])) form.set(name, String(one[name]));
    // A step of an earlier page: its own clock is gone, and how long it waited is told by the calendar alone.
    const age = one.boot === boot ? steady() - one.steady : Date.now() - one.clock;
    form.set("sent", String(one.steady + Math.max(0, age)));
    if (one.file) form.set("file", one.file, "scan.txt");
    return fetch(`/field/run/${one.run}`, { method: "POST", body: form, headers: { "x-field-script": "1" }, signal: AbortSignal.timeout(PATIENCE_MS) });
  }

  /** @param {string} run */
  async function dropRun(run) {
    for (const one of await waiting()) if (one.run === run) await isDone(one);
  }

  /** Hands in what waits, in order, until all is in or something stands in the way. */
  async function handIn() {
    if (isBusy) return;
    isBusy = true;
    try {
      let last = "";
      for (;;) {
        const one = (await waiting())[0];
        if (!one) break;
        const answer = await send(one);
        if (answer.ok) {
          last = await answer.text();
          await isDone(one);
        } else if (answer.status === 409 || answer.status === 413 || answer.status === 404) {
          // It can never be taken, nor what follows it in its run: the run as it stands is shown.
          await dropRun(one.run);
          last = await fetch(`/field/run/${one.run}`).then((run) => run.text());
        } else if (answer.status === 401 || answer.status === 403) {
          await show(await answer.text());
          last = "";
          break;
        } else throw new Error(String(answer.status));
      }
      if (last) await show(last);
    } catch {
      // No link, or a server that cannot: it is tried again.
    } finally {
      isBusy = false;
      await count();
    }
  }

  /** @param {SubmitEvent} event */
  async function pressed(event) {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.classList.contains("step")) return;
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    const data = new FormData(form, event.submitter);
    const deed = String(data.get("deed"));
    /** @type {Record<string, string>} */
    const fields = {};
    for (const name of ["code", "label", "temperature", "why"]) if (data.has(name)) fields[name] = String(data.get(name));
    const file = data.get("file");
    // The bytes themselves: a file that is only named may be gone when there is a link again.
    const bytes = file instanceof File ? new Blob([await file.arrayBuffer()]) : null;
    /** @type {Kept} */
    const done = { run: state.run, place: state.place, key: digits(), deed, fields, boot, steady: steady(), clock: Date.now(), file: bytes };
    await inStore("queue", "readwrite", (queue) => queue.add(done));
    if (deed === "well") state.well = event.submitter?.textContent ?? "";
    state.place += 1;
    await handIn();
    if ((await waiting()).some((still) => still.key === done.key)) {
      goOn(deed);
      await showKept();
      await count();
    }
  }

  /** A photo of a label, made small before it is sent: a weak link carries it, and the server looks no closer. @param {File} photo @returns {Promise<Blob>} */
  async function smaller(photo) {
    try {
      const whole = await createImageBitmap(photo);
      const by = Math.min(1, PHOTO_SIDE / Math.max(whole.width, whole.height));
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [Math.round(whole.width * by), Math.round(whole.height * by)];
      canvas.getContext("2d")?.drawImage(whole, 0, 0, canvas.width, canvas.height);
      return await new Promise((done) => canvas.toBlob((blob) => done(blob ?? photo), "image/jpeg", 0.85));
    } catch {
      return photo;
    }
  }

  /** Scans need a link: without one, the list is the way. @param {HTMLFormElement} form @param {File | undefined} photo */
  async function scanned(form, photo) {
    const said = one("p[role=status]", form);
    if (!photo || !said) return;
    said.textContent = form.dataset.busy ?? "";
    const data = new FormData();
    data.set("form-token", state.token);
    try {
      data.set("photo", await smaller(photo), "photo.jpg");
      const answer = await fetch(form.action, { method: "POST", body: data, signal: AbortSignal.timeout(PATIENCE_MS) });
      await show(await answer.text());
    } catch {
      said.textContent = form.dataset.noLink ?? "";
      form.reset();
    }
  }

  async function begin() {
    state = { ...state, run: digits(), place: 1, deed: "well", purpose: "", well: "" };
    await showKept();
  }

  document.documentElement.classList.add("scripted");
  document.addEventListener("submit", (event) => void pressed(event));
  document.addEventListener("change", (event) => {
    const photo = event.target;
    const form = photo instanceof HTMLInputElement ? photo.closest("form.scan") : null;
    if (photo instanceof HTMLInputElement && form instanceof HTMLFormElement) void scanned(form, photo.files?.[0]);
  });
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest('a[href="/field/new"]') : null;
    if (!link) return;
    const isOffline = one(".link-lost")?.hidden === false || step()?.dataset.kept;
    if (!isOffline) return;
    event.preventDefault();
    void begin();
  });
  setInterval(tick, 250);
  setInterval(async () => {
    if ((await count()) > 0) await handIn();
  }, RETRY_MS);
  addEventListener("online", () => void handIn());

  async function start() {
    navigator.serviceWorker?.register("/field/service-worker.js", { scope: "/field" }).catch(() => {});
    const before = /** @type {State | undefined} */ (await inStore("now", "readonly", (now) => now.get("state")));
    if (before) state = { ...state, ...before, well: before.well ?? "" };
    if (step()?.dataset.run) {
      if (step()?.dataset.run !== state.run) state.well = "";
      await learn(born);
    }
    const n = await count();
    if (step()?.dataset.kept) {
      kept = /** @type {Document} */ (document.cloneNode(true));
      const form = /** @type {HTMLTemplateElement | null} */ (one("template"))?.content ?? null;
      state.token = /** @type {HTMLInputElement | null} */ (one("input[name=form-token]", form))?.value ?? state.token;
      if (location.pathname === "/field/new") await begin();
      else if (n > 0 && state.run) await showKept();
    } else if (one("form.step, .wells")) {
      // Asked for while there is a link, for when there is none.
      await keep();
    }
    if (n > 0) await handIn();
  }
  void start();
})();
