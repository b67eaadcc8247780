// Hears from the server that something changed: a stream of events that carry nothing, one for all tabs of a person. It
// is a hint; without it there is a look every minute. A stream that ends is opened again, later each time while it keeps
// ending at once, and at once when the network comes back or the page is shown again.

/** A stream that ends sooner than this, in milliseconds, counts as one more failure. */
const QUICK = 10_000;
/** Milliseconds until it is opened again, by how many in a row have failed: doubled from the first to the last. */
const FIRST = 1_000;
const LAST = 120_000;
/** Milliseconds without a sign of life, which the server gives every 20 seconds, after which a stream is dead. */
const SILENT = 50_000;

/**
 * Milliseconds until the next attempt.
 * @param {number} failed  attempts in a row that failed; 0 where the last stream had lasted
 * @param {number} chance  from 0 to 1: tablets that lost one network do not come back all at once
 */
export const pauseAfter = (failed, chance) =>
  Math.min(LAST, FIRST * 2 ** Math.min(failed, 20)) * (0.5 + chance / 2);

/**
 * Listens until stopped.
 * @param {import("./session.js").Session} session
 * @param {import("./sync.js").Sync} sync
 * @param {AbortSignal} stop
 */
export const listen = (session, sync, stop) =>
  navigator.locks.request(`plumbline-live-${session.person.staff_id}`, { signal: stop }, async () => {
    for (let failed = 0; !stop.aborted;) {
      const began = Date.now();
      const woken = await stream(session, sync, stop);
      sync.told = false;
      failed = woken || Date.now() - began >= QUICK ? 0 : failed + 1;
      // Woken, it is opened again at once, and what fails then waits like any other.
      const back = woken || await rest(pauseAfter(failed, Math.random()), stop);
      failed = back ? 0 : failed;
    }
  }).catch(() => undefined);

/**
 * Calls `wake` when the network comes back or the page is shown again, until `end`.
 * @param {(online: boolean) => void} wake  whether it is the network
 * @param {AbortSignal} end
 */
const wakes = (wake, end) => {
  addEventListener("online", () => wake(true), { signal: end });
  const shown = () => document.visibilityState === "visible" && wake(false);
  document.addEventListener("visibilitychange", shown, { signal: end });
};

/**
 * Waits; not to the end where there is reason to try now.
 * @param {number} ms
 * @param {AbortSignal} stop
 * @returns {Promise<boolean>} whether there was
 */
const rest = (ms, stop) =>
  new Promise((resolve) => {
    const over = new AbortController();
    const end = (/** @type {boolean} */ woken) => {
      clearTimeout(timer);
      over.abort();
      resolve(woken);
    };
    const timer = setTimeout(() => end(false), ms);
    stop.addEventListener("abort", () => end(false), { once: true, signal: over.signal });
    stop.aborted ? end(false) : wakes(() => end(true), over.signal);
  });

/**
 * One stream, to its end, which is also a silence too long, and the network coming back: the line it was on is gone.
 * @param {import("./session.js").Session} session
 * @param {import("./sync.js").Sync} sync
 * @param {AbortSignal} stop
 * @returns {Promise<boolean>} whether there is reason to open the next one at once
 */
const stream = async (session, sync, stop) => {
  const end = new AbortController();
  let [woken, heard] = [false, Date.now()];
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let silence;
  const alive = () => {
    heard = Date.now();
    clearTimeout(silence);
    silence = setTimeout(() => end.abort(), SILENT);
  };
  wakes((online) => {
    // A page that is shown again after a moment has a stream that is alive.
    woken = online || !sync.told || Date.now() - heard > SILENT / 2;
    woken && end.abort();
  }, end.signal);
  stop.addEventListener("abort", () => end.abort(), { signal: end.signal });
  try {
    alive();
    await read(session, sync, end.signal, alive);
  } catch {
    // Offline, or not understood: it is opened again.
  } finally {
    clearTimeout(silence);
    end.abort();
  }
  return woken;
};

/**
 * Reads a stream. Each "head" event is a run of the sync.
 * @param {import("./session.js").Session} session
 * @param {import("./sync.js").Sync} sync
 * @param {AbortSignal} signal
 * @param {() => void} alive  called at each sign of life
 */
const read = async (session, sync, signal, alive) => {
  const answer = await session.stream("/sync/events", signal);
  sync.told = true;
  // What happened before the stream was there.
  sync.run();
  const reader = answer.pipeThrough(new TextDecoderStream()).getReader();
  for (let text = "", { value, done } = await reader.read(); !done; { value, done } = await reader.read()) {
    alive();
    const lines = (text + value).split("\n");
    text = lines.pop() || "";
    if (lines.some((line) => line.trim() === "event: head")) {
      sync.run();
    }
  }
};
