// What is shown of what the server said and of what was done: presence by scope, the latest version, ops laid over rows.

import assert from "node:assert/strict";
import { test } from "node:test";

import { applied, ofKind } from "../../api/client/lib/rows.js";
import { View } from "../../api/client/lib/view.js";

const row = (scope, kind, id, v, body, is = "put") => ({ scope, kind, id, v, is, body });
const page = (parts, rows, gone = []) => applied(parts, { rows, gone }).parts;
const names = (parts) => [...ofKind(parts, "pupil").values()].map((one) => one.name);

test("a record goes when no scope has it, in whatever order it moves", () => {
  const put = (scope, v) => row(scope, "pupil", "p", v, { name: "Zo" });
  const leave = (scope, v) => row(scope, "pupil", "p", v, null, "leave");
  const start = page(new Map(), [put("group:a", "1")]);
  assert.deepEqual(names(page(start, [put("group:b", "2"), leave("group:a", "2")])), ["Zo"]);
  assert.deepEqual(names(page(start, [leave("group:a", "2"), put("group:b", "2")])), ["Zo"]);
  assert.deepEqual(names(page(start, [leave("group:a", "2")])), []);
  assert.deepEqual(names(page(start, [row("group:a", "pupil", "p", "2", null, "del")])), []);
});

test("of two scopes the later version counts, also beyond numbers a script can hold", () => {
  const parts = page(new Map(), [
    row("group:a", "pupil", "p", "9007199254740993", { name: "later" }),
    row("class:b", "pupil", "p", "9007199254740992", { name: "earlier" }),
    row("group:c", "pupil", "q", "9", { name: "nine" }),
    row("class:b", "pupil", "q", "10", { name: "ten" }),
  ]);
  assert.deepEqual(names(parts), ["later", "ten"]);
  const [first] = ofKind(parts, "pupil").values();
  assert.deepEqual([first.group_ids, first.class_ids, first.v], [["a"], ["b"], "9007199254740993"]);
});

test("a dropped scope takes what no other has", () => {
  const parts = page(new Map(), [
    row("group:a", "pupil", "p", "1", { name: "in both" }),
    row("group:b", "pupil", "p", "1", { name: "in both" }),
    row("group:a", "pupil", "q", "1", { name: "in one" }),
  ]);
  const { parts: after, touched } = applied(parts, { rows: [], gone: ["group:a"] });
  assert.deepEqual(names(after), ["in both"]);
  assert.deepEqual([...touched], ["group:a pupil"]);
  assert.equal(parts.size, 2, "what was there is as it was");
});

test("a reset scope is what came after the reset", () => {
  const parts = page(new Map(), [row("group:a", "pupil", "p", "5", { name: "old" })]);
  assert.deepEqual(names(page(parts, [row("group:a", "pupil", "q", "3", { name: "new" })], ["group:a"])), ["new"]);
});

test("a pupil of two groups is a member of each", () => {
  const parts = page(new Map(), ["a", "b"].map((id) =>
    row(`group:${id}`, "group_member", `p in ${id}`, "1", { group_id: id, pupil_id: "p", from: id })));
  const view = new View(parts, [], "me", 0);
  assert.deepEqual(view.list("group_member", { group_id: "b" }).map((one) => one.from), ["b"]);
  assert.equal(view.list("group_member", { pupil_id: "p" }).length, 2);
});

const op = (n, type, set) => ({ n, op_id: `op${n}`, type, set, base_v: null, base_op: null, at: "2026-11-25T09:00:00Z", tz: "UTC" });
const lesson = { group_id: "a", on: "2026-11-25", lesson_id: "l", outcome: "delivered" };

test("a lesson logged here is shown, waits until it is acknowledged, and is one with the record that comes", () => {
  const ops = [op(1, "lesson.record", lesson), op(2, "lesson.record", { ...lesson, outcome: "part", items: ["i"] })];
  const [shown, ...more] = new View(new Map(), ops, "me", 0).list("lesson_record", { group_id: "a" });
  assert.deepEqual([shown.outcome, shown.waiting, shown.v, shown.taught_by, more.length], ["part", true, null, "me", 0]);
  assert.equal(new View(new Map(), ops, "me", 2).list("lesson_record")[0].waiting, false);
  const parts = page(new Map(), [row("group:a", "lesson_record", "r", "7", { ...lesson, slot: 1, taught_by: "her" })]);
  const [known] = new View(parts, ops, "me", 0).list("lesson_record");
  assert.deepEqual([known.id, known.v, known.taught_by, known.waiting], ["r", "7", "her", true]);
  const [made] = new View(new Map(), [{ ...ops[0], makes: "r" }], "me", 0).list("lesson_record");
  assert.equal(made.id, "r");
  const gone = [...ops, op(3, "lesson.delete", { id: "r" })];
  assert.deepEqual(new View(parts, gone, "me", 0).list("lesson_record"), []);
});

test("whoever saves a record and was shown what was set aside settles it at once, and nobody else does", () => {
  const on = { group_id: "g", on: "2026-11-25", slot: 1, outcome: "delivered" };
  const parts = (set_aside) => page(new Map(), [row("group:g", "lesson_record", "r", "10", { ...on, taught_by: "me", set_aside })]);
  const save = (n, more) => op(n, "lesson.record", { ...on, ...more });
  const kept = (ops, set_aside = true) => new View(parts(set_aside), ops, "me", 0).get("lesson_record", "r").set_aside;
  assert.deepEqual([kept([]), kept([save(1)])], [true, true]);
  assert.equal(kept([save(1), save(2, { settles: true })]), false);
  assert.deepEqual([kept([save(1)], false), kept([save(1)], null)], [false, false]);
});

test("an undo takes back the last answer that stands", () => {
  const at = { round_id: "r", pupil_id: "p", sitting_id: "s", on: "2026-11-25" };
  const answer = (n, id, item_id) => op(n, "sitting.answer", { ...at, answers: [{ id, item_id, outcome: "right" }] });
  const ops = [
    op(1, "sitting.begin", { round_id: "r", pupil_id: "p", id: "s", check_id: "c", on: "2026-11-25" }),
    answer(2, "01", "i1"), answer(3, "02", "i2"),
    op(4, "sitting.undo", { ...at, id: "03" }), op(5, "sitting.undo", { ...at, id: "04" }),
  ];
  const view = new View(new Map(), ops, "me", 0);
  assert.deepEqual(view.list("response").map((one) => [one.id, one.corrects, one.item_id, one.check_id]),
    [["01", null, "i1", "c"], ["02", null, "i2", "c"], ["03", "02", "i2", "c"], ["04", "01", "i1", "c"]]);
});

test("an undo takes back the answer it names and, where the server set that one aside, none", () => {
  const at = { round_id: "r", pupil_id: "p", sitting_id: "s", on: "2026-11-25" };
  const answer = (n, id, item_id) => op(n, "sitting.answer", { ...at, answers: [{ id, item_id, outcome: "right" }] });
  const undo = (n, id, of) => op(n, "sitting.undo", { ...at, id, of });
  const backs = (ops) => new View(new Map(), ops, "me", 0).list("response").map((one) => one.corrects).filter(Boolean);
  const [one, two] = [answer(1, "01", "i1"), answer(2, "02", "i2")];
  assert.deepEqual(backs([one, two, undo(3, "03", "01")]), ["01"]);
  assert.deepEqual(backs([one, two, undo(3, "03", "02"), undo(4, "04", "01")]), ["02", "01"]);
  // What was set aside is not shown any more.
  assert.deepEqual(backs([one, undo(3, "03", "02")]), []);
});

test("catch-up that is taken back is open again, whether it was sent or not", () => {
  const sent = row("group:a", "catch_up", "c1", "5", { group_id: "a", on: "2026-11-25", items: ["i"], pupil_ids: ["p"] });
  const op = (n, type, set) => ({ n, op_id: `o${n}`, type, set, at: "2026-11-25T09:00:00Z" });
  const here = op(1, "catch_up.record", { id: "c2", group_id: "a", on: "2026-11-25", items: ["j"], pupil_ids: ["p"] });
  const left = (ops) => new View(page(new Map(), [sent]), ops, "me", 0).list("catch_up").map((one) => one.id);
  assert.deepEqual(left([here]), ["c1", "c2"]);
  assert.deepEqual(left([here, op(2, "catch_up.delete", { id: "c1" })]), ["c2"]);
  assert.deepEqual(left([here, op(2, "catch_up.delete", { id: "c1" }), op(3, "catch_up.delete", { id: "c2" })]), []);
});
