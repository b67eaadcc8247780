// The time as the server tells it, on a tablet whose own clock is wrong.

import assert from "node:assert/strict";
import { beforeEach, mock, test } from "node:test";

import { portal } from "./fake_server.js";
import { app } from "./fake_dom.js";
import { granted, log, ready, server, tab } from "./sync_tab.js";

const clock = await import("../../api/client/lib/clock.js");
const people = await import("../../api/client/lib/people.js");

const HOUR = 3_600_000;
const YEAR = 365 * 24 * HOUR;
const NOON = Date.parse("2026-11-25T12:00:00Z");
const dated = () => ({ Date: new Date(NOON).toUTCString() });

/** The server's time is noon, and this tablet's so much off it. */
const off = (ms) => mock.timers.setTime(NOON + ms);

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ["Date"], now: NOON });
  // What the clock was in the test before.
  clock.told(new Date(NOON).toUTCString());
  clock.dated(0);
});

for (const [words, wrong] of [["an hour slow", -HOUR], ["an hour fast", HOUR], ["a year slow", -YEAR], ["a year fast", YEAR]]) {
  test(`a tablet that is ${words} says how long ago it was as the server would`, async () => {
    const one = await ready();
    off(wrong);
    server.headers = dated();
    await one.sync.run();
    assert.deepEqual(["2026-11-25T11:57:00Z", "2026-11-25T10:00:00Z", "2026-11-21T12:00:00Z"].map(app.ago), ["3 minutes", "2 hours", "4 days"]);
    assert.equal(app.today(), "2026-11-25");
    // What is done here is dated by the same clock, so that how long it waits is right on every tablet.
    const op = await log(one, "2026-11-25");
    assert.deepEqual([op.at, one.person.sync.synced], ["2026-11-25T12:00:00.000Z", "2026-11-25T12:00:00.000Z"]);
    mock.timers.setTime(NOON + wrong + 2 * HOUR);
    assert.equal(app.ago(op.at), "2 hours");
  });
}

test("what the server said of the time is known on the next day without it", async () => {
  const one = await ready();
  await people.remember({ staff_id: one.person.staff_id, vault: /** @type {any} */ ({}) });
  off(-YEAR);
  server.headers = dated();
  await one.sync.run();
  assert.equal((await people.entry(one.person.staff_id)).ahead, YEAR);
});

test("the page of a network tells no time", async () => {
  const one = await ready();
  server.next("/sync/pull", () => {
    const page = portal();
    page.headers.set("Date", new Date(NOON + YEAR).toUTCString());
    return page;
  });
  await one.sync.run();
  assert.equal(app.today(), "2026-11-25");
});

test("a server that was set to another day dates lessons by that day", async () => {
  server.today = "2026-11-20";
  const one = await tab();
  await one.session.begin(granted);
  await one.sync.run();
  assert.equal(app.today(), "2026-11-20");
  assert.equal(app.ago("2026-11-20T11:00:00Z"), "1 hour");
});
