// What the server did not take: said in full, with the reason in words, until it was read.

import assert from "node:assert/strict";
import { test } from "node:test";

import { app, shown } from "./fake_dom.js";

const { default: account } = await import("../../api/client/screens/account.js");
const { note } = await import("../../api/client/screens/frame.js");
const { default: groupScreen } = await import("../../api/client/screens/group.js");
const { change } = await import("../../api/client/screens/log.js");
const { why } = await import("../../api/client/screens/refused.js");
const { default: savedFile } = await import("../../api/client/screens/saved_file.js");
const { default: waiting } = await import("../../api/client/screens/waiting.js");

const ON = "2026-11-24";
const OP = { op_id: "o1", type: "lesson.record", at: `${ON}T09:10:00Z`, outcome: "rejected", code: "gone", field: "on",
  detail: "the record was deleted meanwhile", set: { group_id: "g", on: ON, slot: 1, outcome: "delivered", lesson_id: "l", version_id: "v",
    taught_by: "ada", register: [{ pupil_id: "p", mark: "absent" }] } };
const RECORD = { id: "r", v: "4", group_id: "g", on: ON, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered", register: [],
  taught_by: "ada", entered_by: "ada", entered_at: `${ON}T09:00:00Z` };
const ROWS = { group: [{ id: "g", name: "Blue", sequence_id: "q", adults: [{ staff_id: "ada", from: "2026-09-01", until: null }] }],
  pupil: [{ id: "p", name: "Zephyrine" }, { id: "p2", name: "Mei" }], lesson_record: [], staff_name: [{ id: "ben", name: "Ben Rowe" }],
  group_member: ["p", "p2"].map((pupil_id) => ({ id: `g ${pupil_id}`, group_id: "g", pupil_id, from: "2026-09-01", until: null })),
  sequence_version: [{ id: "v", sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null,
    steps: [{ title: "One", lessons: [{ id: "k", title: "s", items: [{ id: "i0", label: "s" }] },
      { id: "l", title: "m and o", items: [{ id: "i1", label: "m" }, { id: "i2", label: "o" }] }] }] }] };
const STATE = { online: true, trouble: null, unsent: 0, oldest: null, refused: [], kept: true, signed_in: true, update: false, stranded: false };
const around = (refused, more = {}) => ({ ago: () => "1 day", time: () => "09:10", on: () => ON, state: { ...STATE, refused, ...more },
  kept: async () => { throw new Error("no connection"); } });
const list = (refused, rows = ROWS, more = {}) => shown(waiting, {}, rows, { ...around(refused), ...more });
const superseded = (more = {}, op = {}) =>
  ({ ...OP, outcome: "superseded", code: undefined, field: undefined, detail: undefined, current: { ...RECORD, ...more }, ...op });

test("what was refused is said in full, and is entered again where nothing is kept of it", async () => {
  const screen = await list([OP]);
  assert.match(screen.text(), /Lesson record, Blue, Tuesday 24 Novemberm and o: taught, Zephyrine away\.The record was deleted meanwhile\. This one is not at the school’s server\.Enter it againI have read it/);
  assert.deepEqual(screen.links("Enter it again"), [`#/groups/g/log/${ON}/1`]);
  const there = await list([OP], { ...ROWS, lesson_record: [RECORD] });
  assert.deepEqual([there.links("Enter it again"), there.links("Look")], [[], [`#/groups/g/log/${ON}/1`]]);
  const catchUp = { ...OP, type: "catch_up.record", set: { id: "c", group_id: "g", on: ON, items: ["i1"], pupil_ids: ["p"] } };
  const of = await list([catchUp]);
  assert.match(of.text(), /Catch-up, Blue, Tuesday 24 Novemberm: Zephyrine/);
  assert.deepEqual(of.links("Enter it again"), ["#/groups/g/catch-up"]);
});

test("the form it is entered again in is of its day, and says what it said", async () => {
  const place = { group_id: "g", on: ON, slot: "1" };
  const screen = await shown(change, place, ROWS, around([OP]));
  assert.match(screen.text(), /Log a lesson: Bluem and oTuesday 24 November, lesson 2 of step 1.*1 away/);
  await screen.press("Save");
  assert.deepEqual(screen.acts.map(([type, { on, slot, lesson_id, outcome, register }]) => [type, on, slot, lesson_id, outcome, register]),
    [["lesson.record", ON, 1, "l", "delivered", [{ pupil_id: "p", mark: "absent" }]]]);
  for (const refused of [[], [{ ...OP, set: { ...OP.set, slot: 2 } }]]) {
    assert.match((await shown(change, place, ROWS, around(refused))).text(), /This record is not on this tablet any more/);
  }
});

test("a reason is in our words, by its code and what it is about, and never names an id", () => {
  const id = "01a2b3c4-0000-7000-8000-000000000001";
  const of = (type, code, field, detail) => why({ ...OP, type, code, field, detail }).replace(" This one is not at the school’s server.", "");
  assert.equal(of("catch_up.record", "conflict", "again", `the same is recorded already, as ${id}: say true if it was taught once more`),
    "The same catch-up is recorded for that day already.");
  assert.equal(of("lesson.record", "invalid", "register[3].pupil_id", "this pupil was not in the group that day"),
    "Somebody in the register was not in the group on that day.");
  assert.equal(of("lesson.delete", "conflict", null, "a later record"), "A later lesson record stands on this one: put that one right or delete it first.");
  assert.equal(of("sitting.begin", "conflict", null, "x"), "This check is over, is asked by somebody else, or is yours to mark a second time.");
  assert.equal(of("lesson.record", "invalid", "version_id", "no"), "Something in it cannot be so.");
  assert.equal(of("lesson.delete", "not_found", "id", "x"), "It is not there any more, or it is not yours to see.");
  assert.equal(of("lesson.record", "new_code", null, "The school is closed for good."), "The school is closed for good.");
  assert.equal(of("lesson.record", "new_code", null, `see ${id}`), "The school’s server did not take it.");
  assert.equal(why({ ...OP, code: "set_aside", detail: null }),
    "You set it aside: it was not sent, and the school’s server has it only if somebody enters it.");
});

test("it is said per thing where it is, and who was first: not somebody else where it was the same person", async () => {
  await list([]);
  assert.equal(why(superseded({ entered_by: "ada", taught_by: "ben" })),
    "You had recorded it on another tablet first. What stands: taught, by Ben Rowe. Yours is kept, and is shown with what stands.");
  assert.equal(why(superseded({ entered_by: "ben", taught_by: "ada" })),
    "Somebody else, Ben Rowe, had recorded it first. What stands: taught, by Ada. Yours is kept, and is shown with what stands.");
  const answer = { type: "sitting.answer", outcome: "superseded", set: { answers: [] }, current: { taken_by: "ben", outcome: "right" } };
  assert.equal(why({ ...OP, ...answer }),
    "Somebody else, Ben Rowe, had recorded it first. What stands: right. Yours is kept, and is shown with what stands.");
  assert.doesNotMatch((await list([superseded()])).text(), /not at the school’s server/);
});

test("two clashes on one lesson are one entry with the last, read once; and not all is sent where something was not taken", async () => {
  const second = superseded({ outcome: "retaught" }, { op_id: "o2" });
  const refused = [superseded(), second, superseded({}, { op_id: "o3", set: { ...OP.set, slot: 2 } })];
  const read = [];
  const screen = await list(refused, ROWS, { dismiss: async (op_id) => void read.push(op_id) });
  assert.equal(screen.text().split("I have read it").length - 1, 2);
  assert.match(screen.text(), /Nothing waits2 not taken.*What stands: taught again, by Ada/);
  assert.doesNotMatch(screen.text(), /All sent/);
  await screen.press("I have read it");
  assert.deepEqual(read, ["o1", "o2"]);
  // What was refused for good is not at the server: each is another thing.
  assert.match((await list([OP, { ...OP, op_id: "o2" }])).text(), /2 not taken/);
  assert.match((await list([])).text(), /All sent/);
});

test("that it is saved is said until the server has refused it, and not after", async () => {
  note("Taught. It is saved on this tablet.", OP);
  const screen = await shown(groupScreen, { group_id: "g" }, ROWS, around([]));
  assert.match(screen.text(), /It is saved on this tablet/);
  app.state = { ...app.state, refused: [{ ...OP, op_id: "another" }] };
  await screen.draw();
  assert.match(screen.text(), /It is saved on this tablet/);
  app.state = { ...app.state, refused: [OP] };
  await screen.draw();
  assert.doesNotMatch(screen.text(), /It is saved on this tablet/);
  note("Taught. It is saved on this tablet.", OP);
  assert.doesNotMatch((await shown(groupScreen, { group_id: "g" }, ROWS, around([OP]))).text(), /It is saved on this tablet/);
});

test("what the server had refused is marked so in a saved file", async () => {
  const line = { what: "Lesson record", about: "Blue", says: "m and o: taught.", at: OP.at };
  const unpack = async () => ({ made_at: OP.at, by: { name: "Ada" }, school: "S", lines: [{ ...line, refused: true }, line] });
  const screen = await shown(savedFile, {}, {}, { ...around([]), unpack, me: { staff_id: "oli", name: "Oli", roles: ["office"] } });
  screen.one("file").files = [{ text: async () => "{}" }];
  screen.one("code").value = "A";
  await screen.submit();
  assert.equal(screen.text().split("Not taken by the server").length - 1, 1);
});

test("signed out, it is said once, to sign in is the main touch, and there is a way back from there", async () => {
  const trouble = "Your sign-in has ended. Sign in again to send; nothing is lost.";
  const signedOut = around([], { signed_in: false, trouble });
  const screen = await shown(waiting, {}, ROWS, signedOut);
  assert.match(screen.text(), /nothing is lost\. Sign in.*Sign in to send/);
  assert.doesNotMatch(screen.text(), /Nothing is sent until|Send now/);
  assert.match((await shown(waiting, {}, ROWS, around([], { signed_in: false }))).text(), /Nothing is sent until you sign in again\. Sign in/);
  const signIn = account.find((one) => one.path === "/sign-in");
  const back = async (phase) => (await shown(signIn, {}, {}, { ...signedOut, phase })).links("Go on without signing in");
  assert.deepEqual([await back("open"), await back("signed_out")], [["#/"], []]);
});
