// The stream that says when something changed: opened again however often it ends, and at once where there is reason to.

import assert from "node:assert/strict";
import { beforeEach, mock, test } from "node:test";

const page = Object.assign(new EventTarget(), { visibilityState: "visible" });
globalThis.addEventListener = page.addEventListener.bind(page);
globalThis.document = page;
const locks = { request: async (_name, _options, work) => work() };
Object.defineProperty(globalThis, "navigator", { value: { onLine: true, locks }, configurable: true });
mock.timers.enable({ apis: ["setTimeout", "Date"] });
mock.method(Math, "random", () => 1);

const { listen, pauseAfter } = await import("../../api/client/lib/live.js");

/** What is under way comes to where it waits for time or for the network. */
const settled = async () => {
  for (let turn = 0; turn < 20; turn += 1) {
    await new Promise((resolve) => setImmediate(resolve));
  }
};

const after = async (ms) => {
  mock.timers.tick(ms);
  await settled();
};

let stop;
beforeEach(() => (stop = new AbortController()));

/** A tab that listens; `streams` are those opened, null where the line was down. */
const listening = async () => {
  const tab = { up: true, streams: [], runs: 0, sync: null };
  tab.sync = { told: false, run: () => (tab.runs += 1) };
  const session = {
    person: { staff_id: "s" },
    stream: async (_path, signal) => {
      if (!tab.up) {
        tab.streams.push(null);
        throw new TypeError("cut");
      }
      let out;
      const body = new ReadableStream({ start: (made) => void (out = made) });
      signal.addEventListener("abort", () => out.error(new Error("aborted")));
      tab.streams.push({ say: (text) => out.enqueue(new TextEncoder().encode(text)), end: () => out.close() });
      return body;
    },
  };
  void listen(session, tab.sync, stop.signal);
  await settled();
  return tab;
};

/** Seconds between one attempt and the next, so many times. */
const pauses = async (tab, times) => {
  const waited = [];
  for (let n = 0; n < times; n += 1) {
    const before = tab.streams.length;
    let seconds = 0;
    for (; tab.streams.length === before && seconds < 1000; seconds += 1) {
      await after(1000);
    }
    waited.push(seconds);
  }
  return waited;
};

test("it is opened again however often it fails, later each time, and no later than every two minutes", async () => {
  const tab = await listening();
  tab.up = false;
  tab.streams[0].end();
  await settled();
  assert.equal(tab.sync.told, false, "without a stream it is looked every minute");
  assert.deepEqual(await pauses(tab, 9), [2, 4, 8, 16, 32, 64, 120, 120, 120]);
  tab.up = true;
  assert.deepEqual(await pauses(tab, 1), [120]);
  assert.equal(tab.sync.told, true);
  stop.abort();
});

test("a stream that lasted is opened again soon", async () => {
  const tab = await listening();
  await after(15_000);
  tab.streams[0].end();
  await settled();
  assert.deepEqual(await pauses(tab, 1), [1]);
  stop.abort();
});

test("pauses differ from tablet to tablet by up to a half", () => {
  assert.deepEqual([pauseAfter(0, 0), pauseAfter(0, 1), pauseAfter(3, 0), pauseAfter(3, 0.5)], [500, 1000, 4000, 6000]);
  assert.deepEqual([pauseAfter(500, 0), pauseAfter(500, 1)], [60_000, 120_000]);
});

test("the network coming back, or the page, opens it at once", async () => {
  const tab = await listening();
  tab.up = false;
  tab.streams[0].end();
  await settled();
  await pauses(tab, 6);
  const tried = tab.streams.length;
  tab.up = true;
  page.dispatchEvent(new Event("online"));
  await settled();
  assert.deepEqual([tab.streams.length, tab.sync.told], [tried + 1, true]);
  // The line the stream was on is gone with the network it was on.
  page.dispatchEvent(new Event("online"));
  await settled();
  assert.equal(tab.streams.length, tried + 2);
  // A page that is hidden, or was hidden for a moment, has nothing to mend.
  page.visibilityState = "hidden";
  page.dispatchEvent(new Event("visibilitychange"));
  page.visibilityState = "visible";
  page.dispatchEvent(new Event("visibilitychange"));
  await settled();
  assert.equal(tab.streams.length, tried + 2);
  // After a sleep its stream may be dead.
  await after(30_000);
  page.dispatchEvent(new Event("visibilitychange"));
  await settled();
  assert.equal(tab.streams.length, tried + 3);
  stop.abort();
});

test("each head is a run, and a stream without a sign of life is dead", async () => {
  const tab = await listening();
  assert.equal(tab.runs, 1, "what happened before");
  tab.streams[0].say("event: he");
  tab.streams[0].say("ad\nid: e:2\n\n");
  await settled();
  assert.equal(tab.runs, 2);
  for (let n = 0; n < 5; n += 1) {
    await after(20_000);
    tab.streams[0].say(": nothing new\n\n");
    await settled();
  }
  assert.deepEqual([tab.streams.length, tab.runs], [1, 2]);
  await after(50_000);
  assert.equal(tab.sync.told, false);
  assert.deepEqual(await pauses(tab, 1), [1]);
  stop.abort();
});

test("stopped, it is opened no more", async () => {
  const tab = await listening();
  tab.up = false;
  tab.streams[0].end();
  await settled();
  stop.abort();
  await settled();
  await after(600_000);
  page.dispatchEvent(new Event("online"));
  await settled();
  assert.equal(tab.streams.length, 1);
});
