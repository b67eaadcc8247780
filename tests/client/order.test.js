// What a group does next and when, without a server.

import assert from "node:assert/strict";
import { test } from "node:test";

import { awayBefore, byName, following, freeSlot, holds, left, lessons, sessionsOf, weekday } from "../../api/client/screens/order.js";

const item = (id) => ({ id });
const version = {
  steps: [
    { title: "One", lessons: [{ id: "a", items: [item("1"), item("2")] }, { id: "b", items: [item("3")] }] },
    { title: "Two", lessons: [{ id: "c", items: [item("4")] }] },
  ],
};
const record = (lesson_id, outcome, items = []) => ({ lesson_id, outcome, items });
const ids = (items) => items.map((one) => one.id);

test("lessons stand in teaching order with their places", () => {
  assert.deepEqual(
    lessons(version).map((one) => [one.id, one.step_title, one.place.step, one.place.lesson]),
    [["a", "One", 1, 1], ["b", "One", 1, 2], ["c", "Two", 2, 1]],
  );
  assert.deepEqual(lessons({ content: version }), lessons(version));
  assert.deepEqual(lessons(undefined), []);
});

test("what is left of a lesson: parts take away, a whole one that waits to be sent says no items, the rest teaches nothing", () => {
  const [a] = lessons(version);
  assert.deepEqual(ids(left([], a)), ["1", "2"]);
  assert.deepEqual(ids(left([record("a", "part", ["1"])], a)), ["2"]);
  assert.deepEqual(ids(left([record("a", "part", ["1"]), record("a", "delivered", ["2"])], a)), []);
  assert.deepEqual(ids(left([record("a", "delivered")], a)), []);
  assert.deepEqual(ids(left([record("a", "not_delivered"), record("a", "retaught", ["1"]), record("b", "delivered")], a)), ["1", "2"]);
});

test("the lesson after one is the next with something left, and none at the end", () => {
  const all = lessons(version);
  const after = (records, id) => {
    const next = following(all, records, id);
    return next && [next.id, ids(next.items), next.words];
  };
  assert.deepEqual(after([], undefined), ["a", ["1", "2"], null]);
  assert.deepEqual(after([record("b", "delivered", ["3"])], "a"), ["c", ["4"], null]);
  assert.deepEqual(after([record("a", "part", ["1"])], undefined), ["a", ["2"], null]);
  assert.equal(after([], "c"), null);
});

test("lessons of a day follow the line in force; without one there is one a weekday", () => {
  // 25 November 2026 is a Wednesday, the 28th a Saturday.
  assert.equal(weekday("2026-11-25"), "wednesday");
  const slot = (day, part, starts_at) => ({ weekday: day, part, starts_at });
  const lines = [
    { from: "2026-09-01", slots: null },
    { from: "2026-11-23", slots: [slot("monday", "morning"), slot("wednesday", "morning", "09:10"), slot("wednesday", "afternoon")] },
  ];
  assert.deepEqual(sessionsOf(lines, "2026-11-25").map((one) => [one.slot, one.part, one.starts_at]),
    [[1, "morning", "09:10"], [2, "afternoon", undefined]]);
  assert.deepEqual(sessionsOf(lines, "2026-11-24"), []);
  assert.deepEqual(sessionsOf(lines, "2026-11-20"), [{ slot: 1 }]);
  assert.deepEqual(sessionsOf([], "2026-11-28"), []);
});

test("the free place in a day is the first that is due, then one more", () => {
  const due = [{ slot: 1 }, { slot: 2 }];
  assert.equal(freeSlot([], due), 1);
  assert.equal(freeSlot([{ slot: 1 }], due), 2);
  assert.equal(freeSlot([{ slot: 2 }], due), 1);
  assert.equal(freeSlot([{ slot: 1 }, { slot: 2 }], due), 3);
  assert.equal(freeSlot([], []), 1);
});

test("days hold their first and last day, and go on where there is none", () => {
  const days = { from: "2026-11-02", until: "2026-11-06" };
  assert.deepEqual(["2026-11-01", "2026-11-02", "2026-11-06", "2026-11-07"].map((on) => holds(days, on)),
    [false, true, true, false]);
  assert.equal(holds({ from: "2026-11-02", until: null }, "2027-01-01"), true);
});

test("a register begins with who was away in the lesson before on that day", () => {
  const line = (pupil_id, mark) => ({ pupil_id, mark });
  const day = [
    { slot: 1, outcome: "delivered", register: [line("a", "absent"), line("b", "late"), line("c", "present"), line("d", "absent")] },
    { slot: 2, outcome: "not_delivered", register: [] },
  ];
  assert.deepEqual(awayBefore(day, 3), ["a", "d"]);
  assert.deepEqual(awayBefore(day, 2), ["a", "d"]);
  assert.deepEqual(awayBefore(day, 1), [], "not from a later one");
  // The last one before counts: who came for it is here. One that waits to be sent may say no slot.
  assert.deepEqual(awayBefore([{ ...day[0], slot: null }, { slot: 2, outcome: "part", register: [line("a", "absent")] }], 3), ["a"]);
  assert.deepEqual(awayBefore([], 2), []);
});

test("names have one order: as they are called, accents and case aside, and namesakes by what tells them apart", () => {
  const names = (all) => [...all].sort(byName).map((one) => one.name + (one.apart ? ` (${one.apart})` : ""));
  assert.deepEqual(
    names([{ name: "Zoë Ash" }, { name: "bo Young" }, { name: "Ömer Bell", apart: null }, { name: "Ada Zand" }, { name: "Olu Carr" }]),
    ["Ada Zand", "bo Young", "Olu Carr", "Ömer Bell", "Zoë Ash"],
  );
  assert.deepEqual(names([{ name: "Max Fox", apart: "Year 2" }, { name: "Max Fox", apart: "Year 1" }]),
    ["Max Fox (Year 1)", "Max Fox (Year 2)"]);
});
