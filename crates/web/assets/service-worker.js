// Keeps the pages of the field on the phone, so that they open without a link. It hands nothing in: the page does that itself.
// Plain script, typed in comments; `tsc --checkJs` checks it in a test.
"use strict";

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const FILES = ["FILES"];
const KEPT = "stillwell-field-" + FILES.join("").replace(/[^0-9a-z]/g, "").slice(0, 60);
const STEPS = "/field/steps";

worker.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(FILES)).then(() => worker.skipWaiting()));
});

worker.addEventListener("activate", (event) => {
  /** @param {string} name */
  const old = (name) => name.startsWith("stillwell-field-") && name !== KEPT;
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name)))).then(() => worker.clients.claim()),
  );
});

/** From the net, and kept; from what is kept where there is no net. @param {Request} request */
async function fresh(request) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await fetch(request);
    if (answer.ok) await kept.put(STEPS, answer.clone());
    return answer;
  } catch (error) {
    return (await kept.match(STEPS)) ?? Promise.reject(error);
  }
}

worker.addEventListener("fetch", (event) => {
  const request = event.request;
  const way = new URL(request.url).pathname;
  if (request.method !== "GET") return;
  if (way === STEPS) event.respondWith(fresh(request));
  else if (request.mode === "navigate") {
    event.respondWith(fetch(request).catch(async () => (await (await caches.open(KEPT)).match(STEPS)) ?? Response.error()));
  } else if (way.startsWith("/assets/")) {
    event.respondWith(caches.match(request).then((kept) => kept ?? fetch(request)));
  }
});
