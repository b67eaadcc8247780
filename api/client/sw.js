// The service worker: keeps one version of the client whole, and answers from it without asking the network. The server
// puts `VERSION`, the hash of all files, and `FILES`, their addresses, in front of this text, so that any change of any
// file is a new worker. It touches no data: stores belong to the pages.

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const NAME = `plumbline ${VERSION}`;

// All files or none: a version with a file missing is never taken.
worker.addEventListener("install", (event) => {
  const requests = FILES.map((path) => new Request(path, { cache: "no-cache", redirect: "error" }));
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(requests)));
});

worker.addEventListener("activate", (event) => {
  const tidy = async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith("plumbline ") && name !== NAME);
    await Promise.all(old.map((name) => caches.delete(name)));
    await worker.clients.claim();
  };
  event.waitUntil(tidy());
});

worker.addEventListener("message", (event) => {
  if (event.data === "take") {
    worker.skipWaiting();
  }
});

worker.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  const ours = url.origin === worker.location.origin && event.request.method === "GET" && FILES.includes(url.pathname);
  if (ours) {
    event.respondWith(caches.open(NAME).then((cache) => cache.match(url.pathname)).then((found) => found || fetch(event.request)));
  }
});
