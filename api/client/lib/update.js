// A new version of the client. The worker fetches it as a whole and waits; what is shown goes on in the old one until
// somebody takes the new. What was done is on disk by then, and is not touched.

/** @type {ServiceWorker | null} */
let waiting = null;
let replaced = false;

/** Whether a new version is there to be taken. */
export const ready = () => Boolean(waiting) || replaced;

/**
 * Puts the worker in place and watches for its successors.
 * @param {() => void} tell  a new version is ready
 */
export const watch = async (tell) => {
  if (!navigator.serviceWorker) {
    return;
  }
  const first = !navigator.serviceWorker.controller;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    // Another tab took it: this one goes on as it is, and says so.
    replaced = !first;
    tell();
  });
  const registration = await navigator.serviceWorker.register("/sw.js", { type: "module", updateViaCache: "none" });
  const found = () => {
    const next = registration.waiting;
    if (next && navigator.serviceWorker.controller) {
      waiting = next;
      tell();
    }
  };
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", found));
  found();
  setInterval(look, 3_600_000);
};

/** Looks for a new version now. */
export const look = async () => {
  const registration = await navigator.serviceWorker?.getRegistration();
  registration?.update().catch(() => undefined);
};

/** Takes the new version: the page starts anew, at the same address. */
export const take = () => {
  if (!waiting) {
    return location.reload();
  }
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("take");
};
