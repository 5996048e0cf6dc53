// A step that was done is kept on the phone first and handed in then: once, in order, whenever there is a link. Without script the
// same forms work with a link alone. Nothing is judged here: clocks and order are looked at again where the step is taken.
"use strict";

(() => {
  const OF_SERVER = "clock-of-the-server";
  const ORDER = ["strip", "temperature", "rinse", "apply", "start", "file"];
  const RETRY_MS = 5000;
  const PATIENCE_MS = 30000;
  // A wait lasts a little longer than asked for: the way of the page took a moment.
  const MARGIN_MS = 300;

  const digits = () => [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const step = () => document.querySelector("main#step");

  // The steady clock: set once by the server when the page comes, else one of this page alone.
  const born = performance.getEntriesByType("navigation")[0]?.responseStart || performance.now();
  const serverNow = Number(step()?.dataset.now ?? NaN);
  const boot = Number.isFinite(serverNow) ? OF_SERVER : digits();
  const offset = Number.isFinite(serverNow) ? serverNow - born : 0;
  const steady = () => Math.max(0, Math.round(offset + performance.now()));

  let state = { run: "", place: 1, deed: "", purpose: "", well: "", token: "", boot };
  let due = 0;
  let kept = null;
  let isBusy = false;

  // What waits on the phone.
  const opened = new Promise((done, failed) => {
    const asked = indexedDB.open("stillwell-field", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("queue", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("now");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  async function inStore(name, mode, work) {
    const base = await opened;
    return new Promise((done, failed) => {
      const all = base.transaction(name, mode);
      const asked = work(all.objectStore(name));
      all.oncomplete = () => done(asked.result);
      all.onerror = all.onabort = () => failed(all.error);
    });
  }
  const waiting = () => inStore("queue", "readonly", (queue) => queue.getAll());
  const isDone = (id) => inStore("queue", "readwrite", (queue) => queue.delete(id));
  const remember = () => inStore("now", "readwrite", (now) => now.put({ ...state }, "state"));

  async function count() {
    const line = document.querySelector(".link-lost");
    const n = (await waiting()).length;
    if (line) {
      line.hidden = n === 0;
      line.querySelector("b").textContent = n ? String(n) : "";
    }
    return n;
  }

  // The clock of a wait: the button is free when it is over.
  function tick() {
    const button = step()?.querySelector("form.step > .reach .press");
    const clock = step()?.querySelector(".clock");
    const left = Math.ceil((due - performance.now()) / 1000);
    if (button) button.disabled = due > 0 && performance.now() < due + MARGIN_MS;
    if (clock) {
      clock.hidden = left <= 0;
      const words = clock.dataset.text.replace("#", String(Math.max(left, 0)));
      const span = clock.querySelector("span");
      if (span.textContent !== words) span.textContent = words;
    }
  }

  function learn(since) {
    const { run, place, deed, purpose, least } = step()?.dataset ?? {};
    const token = document.querySelector("input[name=form-token]")?.value;
    if (token) state.token = token;
    if (run) state = { ...state, run, place: Number(place), deed: deed ?? "", purpose: purpose ?? "", boot };
    due = Number(least ?? 0) > 0 ? since + 1000 * Number(least) : 0;
    tick();
    return remember();
  }

  function show(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    step().replaceWith(document.adoptNode(page.querySelector("main#step")));
    scrollTo(0, 0);
    step().focus({ preventScroll: true });
    return learn(performance.now());
  }

  /** The next step from what the phone keeps: nobody knows yet what the last one came to. */
  async function showKept() {
    kept ??= await fetch("/field/steps").then((answer) => (answer.ok ? answer.text() : null)).then((text) => text && new DOMParser().parseFromString(text, "text/html")).catch(() => null);
    if (!kept) return;
    const template = kept.querySelector(`template[data-deed="${state.deed}"]${state.purpose && state.deed !== "none" ? `[data-purpose="${state.purpose}"]` : ""}`) ?? kept.querySelector('template[data-deed="none"]');
    const main = step();
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

  /** Which step comes after a deed if nothing is wrong. */
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

  async function send(one) {
    const form = new FormData();
    form.set("form-token", state.token);
    for (const [name, value] of Object.entries(one.fields)) form.set(name, value);
    for (const name of ["place", "key", "deed", "boot", "steady", "clock"]) form.set(name, String(one[name]));
    // A step of an earlier page: its own clock is gone, and how long it waited is told by the calendar alone.
    const age = one.boot === boot ? steady() - one.steady : Date.now() - one.clock;
    form.set("sent", String(one.steady + Math.max(0, age)));
    if (one.file) form.set("file", one.file, "scan.txt");
    return fetch(`/field/run/${one.run}`, { method: "POST", body: form, headers: { "x-field-script": "1" }, signal: AbortSignal.timeout(PATIENCE_MS) });
  }

  async function dropRun(run) {
    for (const one of await waiting()) if (one.run === run) await isDone(one.id);
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
          await isDone(one.id);
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

  async function pressed(event) {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.classList.contains("step")) return;
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    const data = new FormData(form, event.submitter);
    const deed = String(data.get("deed"));
    const fields = {};
    for (const name of ["code", "temperature", "why"]) if (data.has(name)) fields[name] = String(data.get(name));
    const file = data.get("file");
    const one = { run: state.run, place: state.place, key: digits(), deed, fields, boot, steady: steady(), clock: Date.now(), file: null };
    // The bytes themselves: a file that is only named may be gone when there is a link again.
    if (file instanceof File) one.file = new Blob([await file.arrayBuffer()]);
    await inStore("queue", "readwrite", (queue) => queue.add(one));
    if (deed === "well") state.well = event.submitter?.textContent ?? "";
    state.place += 1;
    await handIn();
    if ((await waiting()).some((still) => still.key === one.key)) {
      goOn(deed);
      await showKept();
      await count();
    }
  }

  async function begin() {
    state = { ...state, run: digits(), place: 1, deed: "well", purpose: "", well: "" };
    await showKept();
  }

  document.addEventListener("submit", (event) => void pressed(event));
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest('a[href="/field/new"]') : null;
    if (!link) return;
    const isOffline = !document.querySelector(".link-lost")?.hidden || step()?.dataset.kept;
    if (!isOffline) return;
    event.preventDefault();
    void begin();
  });
  setInterval(tick, 250);
  setInterval(() => void count().then((n) => n > 0 && handIn()), RETRY_MS);
  addEventListener("online", () => void handIn());

  async function start() {
    navigator.serviceWorker?.register("/field/service-worker.js", { scope: "/field" }).catch(() => {});
    const before = await inStore("now", "readonly", (now) => now.get("state"));
    if (before) state = { ...state, ...before, well: before.well ?? "" };
    if (step()?.dataset.run) {
      if (step().dataset.run !== state.run) state.well = "";
      await learn(born);
    }
    const n = await count();
    if (step()?.dataset.kept) {
      kept = document.cloneNode(true);
      state.token = document.querySelector("template")?.content.querySelector("input[name=form-token]")?.value ?? state.token;
      if (location.pathname === "/field/new") await begin();
      else if (n > 0 && state.run) await showKept();
    } else if (document.querySelector("form.step, .wells")) {
      // Asked for while there is a link, for when there is none.
      kept = await fetch("/field/steps").then((answer) => (answer.ok ? answer.text() : null)).then((text) => text && new DOMParser().parseFromString(text, "text/html")).catch(() => null);
    }
    if (n > 0) await handIn();
  }
  void start();
})();
