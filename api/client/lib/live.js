// Hears from the server that something changed: a stream of events that carry nothing, one for all tabs of a person. It
// is a hint; without it there is a look every minute.

/** Streams that end sooner than this, in a row, mean that something on the way does not let them through. */
const QUICK = 10_000;
const TRIES = 3;
/** Milliseconds until it is tried again after that. */
const REST = 600_000;

/**
 * Listens until stopped.
 * @param {import("./session.js").Session} session
 * @param {import("./sync.js").Sync} sync
 * @param {AbortSignal} stop
 */
export const listen = (session, sync, stop) =>
  navigator.locks.request(`plumbline-live-${session.person.staff_id}`, { signal: stop }, async () => {
    for (let quick = 0; !stop.aborted;) {
      const began = Date.now();
      try {
        await stream(session, sync, stop);
      } catch {
        // Offline, or not understood: counted below.
      }
      sync.told = false;
      quick = Date.now() - began < QUICK ? quick + 1 : 0;
      await pause(quick < TRIES ? 5_000 : REST, stop);
      quick %= TRIES;
    }
  }).catch(() => undefined);

/**
 * @param {number} ms
 * @param {AbortSignal} stop
 */
const pause = (ms, stop) =>
  new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    stop.addEventListener("abort", () => {
      clearTimeout(timer);
      resolve(undefined);
    }, { once: true });
  });

/**
 * One stream, to its end. Each "head" event is a run of the sync.
 * @param {import("./session.js").Session} session
 * @param {import("./sync.js").Sync} sync
 * @param {AbortSignal} stop
 */
const stream = async (session, sync, stop) => {
  const answer = await fetch("/api/v1/sync/events", {
    headers: { Authorization: `Bearer ${await session.token()}`, Accept: "text/event-stream" },
    cache: "no-store", credentials: "omit", redirect: "error", signal: stop,
  });
  if (!answer.ok || !answer.body || !(answer.headers.get("Content-Type") || "").startsWith("text/event-stream")) {
    throw new Error("no stream");
  }
  sync.told = true;
  // What happened before the stream was there.
  sync.run();
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let text = "", { value, done } = await reader.read(); !done; { value, done } = await reader.read()) {
    const lines = (text + value).split("\n");
    text = lines.pop() || "";
    if (lines.some((line) => line.trim() === "event: head")) {
      sync.run();
    }
  }
};
