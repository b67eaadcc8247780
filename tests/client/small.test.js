// Ids, days and addresses.

import assert from "node:assert/strict";
import { test } from "node:test";

import { recordId, uuid } from "../../api/client/lib/ids.js";
import { choose, fits } from "../../api/client/lib/router.js";
import { dateIn, dayInWords, plusDays, since, timeIn } from "../../api/client/lib/time.js";

test("ids are of version 7 and sort by when they were made, within a millisecond too", () => {
  const ids = Array.from({ length: 2000 }, uuid);
  assert.ok(ids.every((id) => /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/.test(id)), ids[0]);
  assert.deepEqual([...ids].sort(), ids);
  assert.equal(new Set(ids).size, ids.length);
});

test("a lesson record has the id here that it will have everywhere", async () => {
  // By another implementation of RFC 9562: name-based, SHA-1, parts joined with U+001F.
  assert.equal(await recordId("0199f2c4-0000-7000-8000-000000000008", "2026-11-25", 1), "30b84aed-4a58-5019-b1d7-4750b7c47138");
});

test("days are the school's, across the change of clocks", () => {
  // 00:30 in London on 26 October 2026 is 00:30 UTC: summer time ended on the 25th. On the 24th it was 23:30 the day before.
  assert.equal(dateIn("Europe/London", new Date("2026-10-26T00:30:00Z")), "2026-10-26");
  assert.equal(dateIn("Europe/London", new Date("2026-10-23T23:30:00Z")), "2026-10-24");
  assert.equal(timeIn("Europe/London", "2026-07-01T08:00:00Z"), "09:00");
  assert.equal(dayInWords("2026-11-25"), "Wednesday 25 November");
  assert.equal(plusDays("2026-10-24", 2), "2026-10-26");
  assert.equal(plusDays("2026-03-01", -1), "2026-02-28");
});

test("how long ago is said in words, also by a clock that was set back", () => {
  const now = Date.parse("2026-11-25T12:00:00Z");
  const said = (instant) => since(instant, now);
  assert.equal(said("2026-11-25T11:59:30Z"), "less than a minute");
  assert.equal(said("2026-11-25T11:58:59Z"), "1 minute");
  assert.equal(said("2026-11-25T09:00:00Z"), "3 hours");
  assert.equal(said("2026-11-21T09:00:00Z"), "4 days");
  assert.equal(said("2026-11-26T12:00:00Z"), "less than a minute");
});

test("an address chooses a screen of the phase, else the phase's own", () => {
  assert.deepEqual(fits("/groups/:group_id/log", "/groups/7/log"), { group_id: "7" });
  assert.equal(fits("/groups/:group_id/log", "/groups//log"), null);
  assert.equal(fits("/groups/:group_id", "/groups/7/log"), null);
  const screens = [{ path: "/" }, { path: "/groups/:id" }, { path: "/locked", phases: ["locked"] }, { path: "/cut-off", phases: ["cut_off"] },
    { path: "/sign-in", phases: ["signed_out", "locked"] }];
  const chosen = (phase, address) => choose(screens, phase, address)?.screen.path;
  assert.deepEqual([chosen("open", "/groups/7"), chosen("locked", "/groups/7"), chosen("locked", "/sign-in"),
    chosen("open", "/nothing"), chosen("start", "/"), chosen("cut_off", "/groups/7")],
  ["/groups/:id", "/locked", "/sign-in", "/", undefined, "/cut-off"]);
});
