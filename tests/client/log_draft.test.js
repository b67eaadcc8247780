// A form of a lesson that was left goes on, and one under which the record changed says so.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shown } from "./fake_dom.js";

const { change, default: log } = await import("../../api/client/screens/log.js");

const TODAY = "2026-11-25";
const PLACE = { group_id: "g", on: TODAY, slot: "1" };
const items = [{ id: "i1", label: "m" }, { id: "i2", label: "o" }];
const lessons = [{ id: "l1", title: "m and o", items }, { id: "l2", title: "t", items: [{ id: "i3", label: "t" }] }];
const member = (pupil_id) => ({ id: `g ${pupil_id}`, group_id: "g", pupil_id, from: "2026-09-01", until: null });
const reasons = [{ code: "trip", label: "A trip" }];
const school = () => ({
  group: [{ id: "g", name: "Blue", sequence_id: "q", adults: [{ staff_id: "ada", from: "2026-09-01", until: null }] }],
  sequence_version: [{ id: "v", sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null, steps: [{ title: "One", lessons }] }],
  school: [{ id: "s", not_taught_reasons: reasons }], staff_name: [{ id: "ben", name: "Ben" }],
  pupil: [{ id: "p1", name: "Cyrus" }, { id: "p2", name: "Mei" }], group_member: [member("p1"), member("p2")], lesson_record: [] });
const record = (more = {}) => ({ id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l1", version_id: "v", outcome: "delivered",
  items: ["i1", "i2"], register: [], taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z`, ...more });
const absent = (pupil_id) => ({ pupil_id, mark: "absent" });
const late = (pupil_id) => ({ pupil_id, mark: "late", missed: false });

/** A tablet that keeps its rows and drafts while screens come and go; `sent` is what was done, with the version it rests on. */
const tablet = (more = {}) => {
  const [rows, drafts, sent] = [school(), new Map(), []];
  const around = { drafts, act: async (type, set, as_of) => void sent.push([type, set, as_of]), ...more,
    kept: async () => ({ at: `${TODAY}T09:00:00Z`, fresh: true, body: { on: TODAY, day: "teaching", due: [{ slot: 1 }], version_id: "v",
      lesson: { ...lessons[0], place: { step: 1, lesson: 1 }, begun: false, words: null } } }) };
  return { rows, drafts, sent, around, new: () => shown(log, { group_id: "g" }, rows, around), right: () => shown(change, PLACE, rows, around) };
};
const GOES_ON = /This goes on where you left it\. Begin again/;

test("a register that was half filled goes on after a lock, says so, and is a draft no more once it is saved", async () => {
  const here = tablet();
  const first = await here.new();
  assert.doesNotMatch(first.text(), GOES_ON);
  await first.pick("mp1", "absent");
  await first.pick("mp2", "late");
  await first.tick("Came after the new part", true);
  // Ids and codes, and no name.
  assert.doesNotMatch(JSON.stringify([...here.drafts]), /Cyrus|Mei|Blue/);
  const again = await here.new();
  assert.match(again.text(), GOES_ON);
  assert.match(again.text(), /1 away, 1 late/);
  await again.press("Save");
  assert.deepEqual(here.sent[0][1].register, [absent("p1"), { ...late("p2"), missed: true }]);
  assert.equal(here.drafts.size, 0);
});

test("all that was said of a lesson goes on, the lesson, the day and the reason too", async () => {
  const here = tablet();
  const first = await here.new();
  await first.choose("lesson", "l2");
  await first.choose("on", "2026-11-24");
  await first.choose("by", "ben");
  await first.pick("outcome", "not_delivered");
  await first.pick("reason", "trip");
  await (await here.new()).press("Save");
  const [, set] = here.sent[0];
  assert.deepEqual([set.lesson_id, set.on, set.slot, set.taught_by, set.outcome, set.reason],
    ["l2", "2026-11-24", 1, "ben", "not_delivered", "trip"]);
  const part = await here.new();
  await part.pick("outcome", "part");
  await part.tick("o", true);
  await (await here.new()).press("Save");
  assert.deepEqual([here.sent[1][1].outcome, here.sent[1][1].items], ["part", ["i2"]]);
});

test("who begins again has the form as it is made, and nothing of a form that was only looked at is kept", async () => {
  const here = tablet();
  await here.new();
  assert.equal(here.drafts.size, 0);
  await (await here.new()).pick("mp1", "absent");
  assert.equal(here.drafts.size, 1);
  const again = await here.new();
  await again.press("Begin again");
  assert.equal(here.drafts.size, 0);
  assert.match(again.text(), /everybody here/);
  assert.doesNotMatch(again.text(), GOES_ON);
  // The marks are those of a form that begins: of the lesson before on that day.
  here.rows.lesson_record = [record({ register: [absent("p2")] })];
  assert.match((await here.new()).text(), /marked away here too.*1 away/);
});

test("a draft of another day is not gone on with, and is gone", async () => {
  const here = tablet();
  await (await here.new()).pick("mp1", "absent");
  here.around.today = () => "2026-11-26";
  const next = await here.new();
  assert.doesNotMatch(next.text(), GOES_ON);
  assert.match(next.text(), /everybody here/);
  assert.equal(here.drafts.size, 0);
});

test("what was begun to be put right goes on, over the record as it was changed meanwhile", async () => {
  const here = tablet();
  here.rows.lesson_record = [record({ register: [late("p1")] })];
  await (await here.right()).pick("mp1", "absent");
  // A new lesson is another form.
  assert.doesNotMatch((await here.new()).text(), GOES_ON);
  const same = await here.right();
  assert.match(same.text(), GOES_ON);
  assert.match(same.text(), /1 away/);
  here.rows.lesson_record = [record({ v: "5", register: [late("p1"), late("p2")], taught_by: "ben" })];
  const other = await here.right();
  assert.match(other.text(), /This goes on where you left it, over the record as it was changed meanwhile\. Begin again/);
  await other.press("Save the change");
  const [, set, as_of] = here.sent[0];
  assert.deepEqual([set.register, set.taught_by, as_of], [[absent("p1"), late("p2")], "ben", "5"]);
  assert.equal(here.drafts.size, 0);
  await (await here.right()).pick("mp2", "present");
  const again = await here.right();
  await again.press("Begin again");
  assert.match(again.text(), /2 late/);
});

test("a record that changes under its form says so before Save, and what was marked is laid over it", async () => {
  const here = tablet();
  here.rows.lesson_record = [record()];
  const screen = await here.right();
  await screen.pick("mp1", "absent");
  here.rows.lesson_record = [record({ v: "5", outcome: "part", items: ["i1"], register: [late("p2"), absent("gone")], taught_by: "ben" })];
  await screen.draw();
  assert.match(screen.text(), /It was changed meanwhile\. Look at it as it stands nowSave the change/);
  await screen.press("Look at it as it stands now");
  assert.doesNotMatch(screen.text(), /meanwhile/);
  assert.match(screen.text(), /Taught by Ben\..*2 away, 1 late/);
  // It was not saved yet, and is not lost by a lock now.
  assert.match((await here.right()).text(), /2 away, 1 late/);
  await screen.press("Save the change");
  const [, set, as_of] = here.sent[0];
  assert.deepEqual([set.outcome, set.items, set.register, set.taught_by, as_of],
    ["part", ["i1"], [late("p2"), absent("gone"), absent("p1")], "ben", "5"]);
});

test("that a record was sent, or is saved from here, is no change under its form", async () => {
  const here = tablet();
  here.rows.lesson_record = [record({ v: null, items: [], waiting: true })];
  const screen = await here.right();
  here.rows.lesson_record = [record({ waiting: false })];
  await screen.draw();
  assert.doesNotMatch(screen.text(), /meanwhile/);
  const said = [];
  here.around.act = async (_type, set, as_of) => {
    here.rows.lesson_record = [record({ v: "5", ...set })];
    await open.draw();
    said.push(as_of, /meanwhile/.test(open.text()));
  };
  const open = await here.right();
  here.rows.lesson_record = [record({ v: "4.5" })];
  await open.pick("mp1", "absent");
  await open.press("Save the change");
  assert.deepEqual(said, ["4.5", false]);
});

test("a record of a group that is only looked at is changed as the server had it, whichever of the two lists have by now", async () => {
  const here = tablet({ holds: () => false, latest: async (row) => ({ ...row, v: "7", register: [late("p2")] }) });
  here.rows.lesson_record = [record({ v: "0" })];
  const screen = await here.right();
  assert.doesNotMatch(screen.text(), /meanwhile/);
  here.rows.lesson_record = [record({ v: "0", register: [late("p2")] })];
  await screen.draw();
  assert.doesNotMatch(screen.text(), /meanwhile/);
  here.rows.lesson_record = [record({ v: "0", register: [late("p1")] })];
  await screen.draw();
  assert.match(screen.text(), /It was changed meanwhile/);
  here.rows.lesson_record = [record({ v: "0" })];
  await screen.press("Save the change");
  assert.deepEqual([here.sent[0][1].register, here.sent[0][2]], [[late("p2")], "7"]);
});

test("where saving fails, what changes meanwhile is said still, and what was filled in is kept", async () => {
  const here = tablet({ act: async () => { throw new Error("This tablet has no room left."); } });
  here.rows.lesson_record = [record()];
  const screen = await here.right();
  await screen.pick("mp1", "absent");
  await screen.press("Save the change");
  assert.match(screen.text(), /no room left/);
  here.rows.lesson_record = [record({ v: "5", register: [absent("p2")] })];
  await screen.draw();
  assert.match(screen.text(), /It was changed meanwhile/);
  assert.equal(here.drafts.size, 1);
});

test("a lesson that another tablet logs under its form is looked at and put right, and one that was deleted is gone", async () => {
  const here = tablet();
  const screen = await here.new();
  await screen.pick("mp1", "absent");
  here.rows.lesson_record = [record({ register: [late("p2")], taught_by: "ben" })];
  await screen.draw();
  assert.match(screen.text(), /This lesson was logged meanwhile\. Look at it as it stands nowSave/);
  // Opened again it goes on, and says the same.
  const again = await here.new();
  assert.match(again.text(), GOES_ON);
  await again.press("Look at it as it stands now");
  assert.match(again.text(), /Put a lesson right: Blue.*1 away, 1 late/);
  await again.press("Save the change");
  assert.deepEqual(here.sent.map(([, set, as_of]) => [set.register, set.taught_by, as_of]), [[[late("p2"), absent("p1")], "ben", "4"]]);
  assert.equal(here.drafts.size, 0);
  const right = await here.right();
  here.rows.lesson_record = [];
  await right.draw();
  assert.match(right.text(), /It was deleted meanwhile/);
  await right.press("Look at it as it stands now");
  assert.match(right.text(), /This record is not on this tablet any more\./);
});

test("a form of a group that is only looked at leaves nothing on the tablet, and says so", async () => {
  const here = tablet({ holds: () => false });
  const screen = await here.new();
  assert.doesNotMatch(screen.text(), /save it before/);
  await screen.pick("mp1", "absent");
  assert.match(screen.text(), /not kept on this tablet until it is saved: save it before you leave or lock/);
  assert.equal(here.drafts.size, 0);
  here.rows.lesson_record = [record({ register: [late("p2")] })];
  await screen.draw();
  await screen.press("Look at it as it stands now");
  assert.match(screen.text(), /save it before you leave or lock\..*1 away, 1 late/);
  await screen.press("Save the change");
  assert.deepEqual([here.drafts.size, here.sent[0][2]], [0, "4"]);
});

test("a form that cannot be kept says so", async () => {
  const here = tablet({ draft: async (_name, value) => {
    if (value) {
      throw new Error("full");
    }
  } });
  const screen = await here.new();
  await screen.pick("mp1", "absent");
  assert.match(screen.text(), /not kept on this tablet until it is saved: save it before you leave or lock/);
  await screen.press("Save");
  assert.equal(here.sent.length, 1);
});
