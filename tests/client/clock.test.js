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
const DAY = 24 * HOUR;
const dated = (at = NOON) => ({ Date: new Date(at).toUTCString() });

/** The server's time is noon, and this tablet's so much off it. */
const off = (ms) => mock.timers.setTime(NOON + ms);

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ["Date"], now: NOON });
  // What the clock was in the test before.
  clock.told(new Date(NOON).toUTCString(), NOON);
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

/** What the list of people says of somebody who synced at the server's noon on a tablet that was so much off it. */
const remembered = async (wrong) => {
  const one = await ready();
  await people.remember({ staff_id: one.person.staff_id, name: "Ada", vault: /** @type {any} */ ({}) });
  off(wrong);
  server.headers = dated();
  server.always["/sessions/refresh"] = () => Response.json(granted, { headers: dated() });
  await one.sync.run();
  return people.entry(one.person.staff_id);
};

/** The clock as a page has it that is opened later. */
let pages = 0;
const opened = async (entry) => {
  const later = await import(`../../api/client/lib/clock.js?${(pages += 1)}`);
  later.recall(entry);
  return later;
};

// How much the tablet was off when it was told, what its own clock is when it is opened again, and what time that is.
for (const [words, wrong, own, right] of [
  ["a year slow still", -YEAR, -YEAR + DAY, DAY],
  ["a year slow still, after a holiday", -YEAR, -YEAR + 10 * DAY, 10 * DAY],
  ["a year fast still", YEAR, YEAR + DAY, DAY],
  ["an hour slow still, after a weekend", -HOUR, -HOUR + 3 * DAY, 3 * DAY],
  ["an hour fast still, after a weekend", HOUR, HOUR + 3 * DAY, 3 * DAY],
  ["put right after it was a year slow", -YEAR, DAY, DAY],
  ["put right after it was a year fast", YEAR, DAY, DAY],
  ["put right after it was ten days slow", -10 * DAY, DAY, DAY],
  ["put right after it was two hours fast, within one", 2 * HOUR, HOUR, HOUR],
]) {
  test(`opened without the server, a tablet that is ${words} goes by what it was told only as long as that holds`, async () => {
    const entry = await remembered(wrong);
    off(own);
    const later = await opened(entry);
    assert.equal(new Date(later.now()).toISOString(), new Date(NOON + right).toISOString());
    // Whoever is open meanwhile goes by the same.
    assert.equal(app.ago(new Date(NOON + right - 2 * HOUR).toISOString()), "2 hours");
  });
}

test("what was remembered before it was noted when counts for nothing", async () => {
  assert.equal((await opened({ ahead: YEAR })).now(), NOON);
});

test("an answer that came in after the tablet had slept tells no time", async () => {
  const one = await ready();
  server.headers = dated();
  await one.sync.run();
  const page = { epoch: "one", drop: [], reset: [], rows: [], cursors: {}, more: false, last_n: 0, safe_n: 0 };
  const after = async (ms) => {
    off(0);
    server.next("/sync/pull", () => {
      off(ms);
      return Response.json(page, { headers: dated() });
    });
    await one.sync.run();
    return new Date(clock.server()).toISOString();
  };
  assert.equal(await after(20 * HOUR), "2026-11-26T08:00:00.000Z");
  assert.equal(app.today(), "2026-11-26");
  assert.equal(await after(30_000), "2026-11-25T12:00:30.000Z");
  assert.equal(await after(29_000), "2026-11-25T12:00:00.000Z");
});

test("how long nobody was in touch is counted by the server's clock, also where the tablet's was put right meanwhile", async () => {
  for (const wrong of [-YEAR, YEAR]) {
    const entry = await remembered(wrong);
    const kept = async (own) => {
      await people.remember({ staff_id: entry.staff_id, vault: /** @type {any} */ ({ data: {} }) });
      off(own);
      await people.lapse();
      return (await people.entry(entry.staff_id)).vault.data !== null;
    };
    assert.equal(entry.seen, "2026-11-25T12:00:00.000Z");
    assert.deepEqual([await kept(wrong + 3 * DAY), await kept(3 * DAY), await kept(16 * DAY), await kept(17 * DAY)], [true, true, true, false]);
  }
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

test("a server that was set to another day, as on trial, dates lessons by that day", async () => {
  server.headers = dated(NOON - 5 * DAY);
  const one = await tab();
  await one.session.begin(granted);
  await one.sync.run();
  assert.equal(app.today(), "2026-11-20");
  assert.equal(app.ago("2026-11-20T11:00:00Z"), "1 hour");
});
