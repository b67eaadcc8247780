// A store that is open on a tablet when the school cuts that off, and when it is opened again: with its sync and screen.

import assert from "node:assert/strict";
import { test } from "node:test";

import { problem, waits } from "./fake_server.js";
import { granted, lesson, numbers, server } from "./sync_tab.js";
import { shown } from "./fake_dom.js";

Object.assign(document, { addEventListener: () => undefined, removeEventListener: () => undefined });
Object.assign(globalThis, { addEventListener: () => undefined, removeEventListener: () => undefined });
const { Open } = await import("../../api/client/lib/open.js");
const { default: cutOff } = await import("../../api/client/screens/cut_off.js");
const people = await import("../../api/client/lib/people.js");
const { Person } = await import("../../api/client/lib/person.js");
const vault = await import("../../api/client/lib/vault.js");

const PUSH = "/sync/push";
const full = () => problem(409, "holds_no_more");
const me = (staff_id) => ({ staff_id, name: staff_id, school_id: "s", school_name: "S", roles: ["teacher"] });

/** Somebody with a store of this tablet. */
const somebody = async (staff_id) => {
  const { keys, sealed } = await vault.make("carpet-27");
  await people.remember({ ...me(staff_id), failures: 0, seen: new Date().toISOString(), vault: sealed });
  return keys;
};

test("a tablet without room for what waits is wiped at once, and keeps that until there is room", async () => {
  await people.setTablet({ id: "tablet-1", name: "Trolley 2" });
  const keys = await somebody("ada");
  const ben = await Person.open("ben", await somebody("ben"));
  await ben.put("draft second", { of: "a child" });
  const told = [];
  const around = { draw: () => undefined, lock: () => undefined, cut: async () => void told.push("cut"),
    wiped: () => wiped() };
  /** @type {() => void} */
  let wiped;
  const gone = new Promise((resolve) => (wiped = resolve));
  const open = await Open.with(me("ada"), keys, granted, around, false);
  server.pages = [[{ scope: "group:a", kind: "pupil", id: "p", v: "1", is: "put", body: { name: "Cyrus" } }]];
  await open.sync.run();
  await open.person.put("draft first", { of: "a child" });
  const first = await open.person.append("lesson.record", lesson("2026-11-23"), null, null);
  await open.sync.run();
  assert.deepEqual([open.person.view.list("pupil").length, open.person.due.length, open.cut], [1, 0, false]);
  await open.person.append("lesson.record", lesson("2026-11-24"), null, null);
  await open.person.append("lesson.record", lesson("2026-11-25"), null, null);
  // It hears of it by its first push, and by nothing else.
  server.next(PUSH, full);
  server.next(PUSH, full);
  waits.length = 0;
  await open.sync.run();
  assert.deepEqual([told, open.cut, waits.length], [["cut"], true, 1]);
  assert.deepEqual(open.person.view.list("pupil"), []);
  assert.equal(await open.person.box("draft first"), undefined);
  assert.deepEqual(open.person.ops.map((op) => op.n), [2, 3], `not ${first.op_id}, which the server has`);
  assert.deepEqual((await people.entries()).map((one) => [one.staff_id, one.revoked]), [["ada", "tablet-1"]]);
  assert.deepEqual([await people.tablet(), (await people.cutOff()).handed, await people.unsentOf("ada")], [null, 0, 2]);
  const state = { unsent: open.person.due.length, online: true, trouble: open.trouble, signed_in: true };
  const said = (await shown(cutOff, {}, {}, { state, cut_off: await people.cutOff() })).text();
  assert.match(said, /“Trolley 2”.*can be read on it.*2 things you did here.*does not have yet.*ask them to make room.*tried again/);
  assert.doesNotMatch(said, /went to the phonics lead/);
  open.close();
  // Opened again by the PIN alone, it goes on where it was, though she has no role any more. The lead has made room.
  const { vault: sealed } = await people.entry("ada");
  const again = await Open.with({ ...me("ada"), roles: [] }, (await vault.open(sealed, "carpet-27")).keys, null, around, true);
  assert.deepEqual([again.cut, again.person.due.length], [true, 2]);
  const sent = [];
  const held = (body) => {
    sent.push(numbers(body));
    return problem(403, "tablet_revoked");
  };
  server.next("/sessions/refresh", ({ refresh_token }) => Response.json({ ...granted, refresh_token: `${refresh_token}2` }));
  server.next(PUSH, full);
  server.next(PUSH, held);
  again.start();
  await gone;
  assert.deepEqual([sent, await people.entry("ada")], [[[2, 3]], undefined]);
  assert.equal((await people.cutOff()).handed, 2);
});

test("a tablet is not wiped of what waits while that is being handed over, nor of what somebody was not shown", async () => {
  await people.setTablet({ id: "tablet-2", name: "Trolley 3" });
  const keys = await somebody("dee");
  const wiped = [];
  const around = (who) => ({ draw: () => undefined, lock: () => undefined, cut: async () => undefined, wiped: () => wiped.push(who) });
  const one = await Open.with(me("dee"), keys, granted, around("one"), false);
  await one.sync.run();
  await one.person.append("lesson.record", lesson("2026-11-24"), null, null);
  server.next(PUSH, full);
  server.next(PUSH, full);
  await one.sync.run();
  const other = await Open.with(me("dee"), keys, null, around("other"), true);
  assert.deepEqual([one.cut, other.cut, other.person.due.length], [true, true, 1]);
  // There is room by now, and while it goes the other tab sets it aside.
  let aside;
  server.next(PUSH, () => full());
  server.next(PUSH, () => {
    aside = assert.rejects(other.setAside(), /Look at what waits again/);
    return full();
  });
  await one.person.append("lesson.record", lesson("2026-11-25"), null, null);
  await one.sync.run();
  await aside;
  assert.deepEqual([wiped, other.person.due.length, await people.unsentOf("dee")], [[], 2, 2]);
  // Seen as it is, it is set aside, and the store goes with it.
  await other.setAside();
  assert.deepEqual([wiped, await people.entry("dee"), (await people.cutOff()).handed], [["other"], undefined, 0]);
  one.close();
});
