// A tablet that the school has cut off: what waits goes to the lead, and what is kept of pupils goes.

import assert from "node:assert/strict";
import { test } from "node:test";

import { problem, waits } from "./fake_server.js";
import { done, granted, lesson, log, nothingTold, numbers, ready, server, tab, tabOf } from "./sync_tab.js";

const people = await import("../../api/client/lib/people.js");
const { Person } = await import("../../api/client/lib/person.js");
const vault = await import("../../api/client/lib/vault.js");
const { make } = vault;

const PUSH = "/sync/push";

/** The server answers each push as of a revoked tablet, and keeps what came in it; the numbers of each. */
const revoked = (times) => {
  /** @type {number[][]} */
  const handed = [];
  for (let push = 0; push < times; push += 1) {
    server.next(PUSH, (/** @type {any} */ body) => {
      handed.push(numbers(body));
      return problem(403, "tablet_revoked");
    });
  }
  return handed;
};

test("a revoked tablet hands over what waits, once, and hears of it", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  const first = await log(one, "2026-11-25");
  // What stands on another does not go in the same push.
  await log(one, "2026-11-25", null, first.op_id);
  const handed = revoked(2);
  await one.sync.run();
  assert.deepEqual([one.told.revoking, one.told.revoked, done().length, handed], [1, [3], 0, [[1, 2], [3]]]);
});

test("what the lead was handed is not sent again, and what was not is, however often that fails", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  const first = await log(one, "2026-11-25");
  await log(one, "2026-11-25", null, first.op_id);
  const handed = revoked(1);
  server.next(PUSH, () => problem(503, "busy"));
  await one.sync.run();
  // Others' records are gone already; one's own wait, in words.
  assert.deepEqual([one.told.revoking, one.told.revoked, handed], [1, [], [[1, 2]]]);
  assert.match(one.sync.trouble, /goes to the phonics lead as soon as the server takes it/);
  // The same after the tablet was closed. Meanwhile the lead may have discarded the first two.
  const again = await tab();
  await again.session.begin(granted);
  const rest = revoked(1);
  await again.sync.run();
  assert.deepEqual([again.told.revoked, rest, done().length], [[3], [[3]], 0]);
});

test("what the server has no room for is kept, and goes once the lead has made room", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  const first = await log(one, "2026-11-25");
  await log(one, "2026-11-25", null, first.op_id);
  const handed = revoked(1);
  server.next(PUSH, () => problem(409, "holds_no_more"));
  await one.sync.run();
  assert.deepEqual([handed, one.told.revoked, one.person.unsent.map((op) => op.n)], [[[1, 2]], [], [1, 2, 3]]);
  assert.equal(waits.length, 1, "it is tried again by itself");
  const rest = revoked(1);
  await one.sync.run();
  assert.deepEqual([rest, one.told.revoked, done().length], [[[3]], [3], 0]);
});

test("whatever is asked, the answer that the tablet is revoked is heard", async () => {
  for (const ask of [({ session }) => session.send("/groups/a"), ({ session }) => session.stream("/sync/events")]) {
    const one = await ready();
    const path = server.asked.length;
    const gone = () => problem(403, "tablet_revoked");
    for (const asked of ["/groups/a", "/sync/events", "/sync/pull"]) {
      server.next(asked, gone);
    }
    await assert.rejects(ask(one), { code: "tablet_revoked" });
    await one.sync.run();
    assert.deepEqual([one.told.revoked, server.asked.length > path], [[0], true]);
    server.instead.length = 0;
  }
});

test("on a revoked tablet the others’ records go, and what they did not send stays sealed for them alone", async () => {
  await people.setTablet({ id: "tablet-1", name: "Trolley 2" });
  const stores = {};
  for (const staff_id of ["ada", "ben", "cy"]) {
    const { keys, sealed } = await make("carpet-27");
    await people.remember({ staff_id, name: staff_id, roles: [], failures: 0, seen: new Date().toISOString(), vault: sealed });
    stores[staff_id] = await Person.open(staff_id, keys);
    await stores[staff_id].put("draft second", { of: "a child" });
  }
  const unsent = await stores.ben.append("lesson.record", lesson("2026-11-24"), null, null);
  assert.deepEqual(await people.cut("ada"), ["ben", "cy"]);
  await people.leave("ada", 2);
  const left = (await people.entries()).filter((one) => one.vault);
  assert.deepEqual(left.map((one) => [one.staff_id, one.revoked, one.vault.data]), [["ben", "tablet-1", null]]);
  const { handed, name } = await people.cutOff();
  assert.deepEqual([await people.tablet(), handed, name], [null, 2, "Trolley 2"]);
  // The tablet is used again under another name. What is sealed comes back with the PIN, and is still the old tablet's.
  await people.setTablet({ id: "tablet-2", name: "Trolley 3" });
  assert.equal(await people.cutOff(), null);
  const { keys: opened, sealed } = await vault.open(left[0].vault, "carpet-27");
  await people.remember({ staff_id: "ben", vault: sealed });
  const ben = await Person.open("ben", opened);
  assert.deepEqual([ben.unsent.map((op) => op.op_id), await ben.box("draft second")], [[unsent.op_id], undefined]);
  const { session, sync, told } = tabOf(ben, nothingTold());
  await session.begin(granted);
  server.next("/sync/replicas", () => problem(403, "tablet_revoked"));
  const pushed = revoked(1);
  await sync.run();
  assert.equal(server.asked.find(([path]) => path === "/sync/replicas")[1].tablet_id, "tablet-1");
  assert.deepEqual([told.revoked, pushed, done().length], [[1], [[1]], 0]);
  // Who works on it under its new name stays.
  await people.remember({ staff_id: "dot", name: "dot", roles: [], failures: 0, seen: left[0].seen, vault: sealed });
  assert.deepEqual(await people.cut("ben"), []);
  await people.leave("ben", 1);
  const now = (await people.entries()).map((one) => one.staff_id);
  assert.deepEqual([now, (await people.tablet()).id], [["dot"], "tablet-2"]);
});

/** A store of which the lead was handed two of three ops, and which began anew as another one since. */
const handedAndAnew = async () => {
  const one = await ready();
  await log(one, "2026-11-23");
  await one.sync.run();
  for (const on of ["2026-11-24", "2026-11-25", "2026-11-26"]) {
    await log(one, on);
  }
  // Of those numbered 2, 3 and 4 the lead has the first two.
  await one.person.note({ handed: 3 });
  await one.person.remint();
  assert.deepEqual([one.person.sync.handed, one.person.sync.next], [2, 4]);
  assert.deepEqual(one.person.due.map((op) => [op.n, op.set.on]), [[3, "2026-11-26"]]);
  assert.equal(await people.unsentOf(one.person.staff_id), 1);
  server.asked.length = 0;
  return one;
};

test("while the tablet is cut off the lead is handed nothing again, under the numbers of another store either", async () => {
  await handedAndAnew();
  const again = await tab();
  await again.session.begin(granted);
  server.next("/sync/replicas", () => problem(403, "tablet_revoked"));
  const rest = revoked(1);
  await again.sync.run();
  assert.deepEqual([rest, again.told.revoked, done()], [[[3]], [3], ["2026-11-23"]]);
});

// A tablet stays cut off at the server that cut it off: one that takes its pushes is from before, and its lead has nothing.
test("a server that takes the pushes of a tablet that was cut off, whatever store it is by now, is sent all that it lacks", async () => {
  const one = await handedAndAnew();
  await one.sync.run();
  assert.deepEqual(server.pushes().map(numbers), [[3], [1, 2, 3]]);
  assert.deepEqual([done(), one.person.unsent.length], [["2026-11-23", "2026-11-24", "2026-11-25", "2026-11-26"], 0]);
});

test("a server that was brought back from before the tablet was cut off is sent what its lead no longer has", async () => {
  const one = await ready();
  for (const on of ["2026-11-24", "2026-11-25"]) {
    await log(one, on);
  }
  await one.person.note({ handed: 1 });
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length, one.sync.trouble], [["2026-11-24", "2026-11-25"], 0, null]);
});
