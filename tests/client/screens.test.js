// What screens say and what they send, over a store of given rows.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shown } from "./fake_dom.js";

const { default: account } = await import("../../api/client/screens/account.js");
const { default: catchUp } = await import("../../api/client/screens/catchup.js");
const { default: groupScreen } = await import("../../api/client/screens/group.js");
const { default: homeScreen } = await import("../../api/client/screens/home.js");
const { change } = await import("../../api/client/screens/log.js");
const { default: sitting } = await import("../../api/client/screens/sitting.js");

const TODAY = "2026-11-25";
const group = { id: "g", name: "Blue", sequence_id: "q", adults: [{ staff_id: "ada", from: "2026-09-01", until: null }] };
const items = [{ id: "i1", label: "m" }, { id: "i2", label: "o" }];
const version = { id: "v", sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null,
  steps: [{ title: "One", lessons: [{ id: "l", title: "m and o", items }] }] };
const pupil = (id, name) => ({ id, name });
const member = (pupil_id) => ({ id: `g ${pupil_id}`, group_id: "g", pupil_id, from: "2026-09-01", until: null });
const school = { group: [group], sequence_version: [version], pupil: [pupil("p1", "Cyrus"), pupil("p2", "Mei")],
  group_member: [member("p1"), member("p2")] };

test("what was set aside of a lesson is filled in for the pupils who are drawn, and sent for no other", async () => {
  const record = { id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered",
    register: [], taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z` };
  const away = (pupil_id) => ({ pupil_id, mark: "absent" });
  // One left the group, or is kept under another record since.
  const aside = { at: `${TODAY}T09:01:00Z`, by: "ben", record: { ...record, register: [away("p2"), away("gone")] } };
  const screen = await shown(change, { group_id: "g", on: TODAY, slot: "1" }, { ...school, lesson_record: [record] },
    { ask: async () => ({ items: [aside] }) });
  assert.match(screen.text(), /Save that, or save this record as it stands: either settles it\./);
  await screen.press("Fill in what it says");
  assert.match(screen.text(), /1 away/);
  await screen.press("Save the change");
  assert.deepEqual(screen.acts.map(([type, set]) => [type, set.register]), [["lesson.record", [away("p2")]]]);
});

test("a record is deleted apart from Save, as what it is, once that was asked", async () => {
  const record = { id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered",
    register: [], taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z` };
  const screen = await shown(change, { group_id: "g", on: TODAY, slot: "1" }, { ...school, lesson_record: [record] });
  assert.match(screen.text(), /Delete this recordSave the change/);
  assert.doesNotMatch(screen.text(), /Delete this lesson/);
  await screen.press("Delete this record");
  assert.deepEqual(screen.acts, []);
  await screen.press("Keep it");
  await screen.press("Delete this record");
  await screen.press("Delete it");
  assert.deepEqual(screen.acts, [["lesson.delete", { id: "r" }]]);
});

test("a record of which another version is kept says so in words, and leads to where both are shown", async () => {
  const record = (id, on, more) => ({ id, v: "4", group_id: "g", on, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered",
    register: [], taught_by: "ada", entered_by: "ada", entered_at: `${on}T09:00:00Z`, ...more });
  const lesson_record = [record("r1", "2026-11-23", { set_aside: true }), record("r2", "2026-11-24", { set_aside: false }),
    record("r3", TODAY, {})];
  const all = { ...school, lesson_record };
  const screen = await shown(groupScreen, { group_id: "g" }, all);
  const marks = screen.links("Another version is kept");
  assert.deepEqual(marks, ["#/groups/g/log/2026-11-23/1"]);
  // Who only looks is told, and led nowhere.
  const looking = await shown(groupScreen, { group_id: "g" }, all, { me: { staff_id: "hal", roles: ["head"] } });
  assert.equal(looking.text().split("Another version is kept").length, 2);
  assert.deepEqual(looking.links("Another version is kept"), []);
  const home = await shown(homeScreen, {}, { ...all, lesson_record: [record("r3", TODAY, { set_aside: true })] },
    { kept: async () => { throw new Error("never asked"); } });
  assert.deepEqual(home.links("Another version is kept"), [`#/groups/g/log/${TODAY}/1`]);
});

test("what the server says is settled is settled, though the list of what was not taken was not read yet", async () => {
  const record = { id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered", register: [],
    taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z` };
  const refused = [{ op_id: "o", type: "lesson.record", at: `${TODAY}T09:01:00Z`, outcome: "superseded",
    set: { group_id: "g", on: TODAY, slot: 1, lesson_id: "l", outcome: "not_delivered", reason: "fire_drill" } }];
  const state = { online: true, trouble: null, unsent: 0, oldest: null, refused, signed_in: true, update: false };
  const marks = async (more) => (await shown(groupScreen, { group_id: "g" }, { ...school, lesson_record: [{ ...record, ...more }] }, { state }))
    .links("Another version is kept").length;
  assert.deepEqual([await marks({}), await marks({ set_aside: true }), await marks({ set_aside: false })], [1, 1, 0]);
});

test("without a connection a version that another tablet sent is said to be kept at the server", async () => {
  const record = { id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered",
    register: [], taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z` };
  const says = async (more) => (await shown(change, { group_id: "g", on: TODAY, slot: "1" }, { ...school, lesson_record: [{ ...record, ...more }] },
    { ask: async () => { throw new Error("no connection"); } })).text();
  assert.match(await says({ set_aside: true }), /Another version of this record is kept at the school’s server\. To read it needs a connection\./);
  assert.doesNotMatch(await says({}), /Another version/);
});

test("catch-up whose undo was not kept is taught still, says so and can be undone", async () => {
  const need = { item_id: "i1", stage: "to_teach", missed_on: "2026-11-20", again: false };
  const list = { items: [{ item_id: "i1", label: "m" }],
    pupils: [{ pupil_id: "p1", name: "Cyrus", apart: null, items: [need] }, { pupil_id: "p2", name: "Mei", apart: null, items: [need] }] };
  const record = { id: "c", group_id: "g", on: TODAY, items: ["i1"], pupil_ids: ["p1"], entered_by: "ada", waiting: false };
  // To the list the server made after it, what was taught to Cyrus is to be checked.
  list.pupils[0].items = [{ ...need, stage: "to_check" }];
  const rows = { ...school, catch_up: [record] };
  let fails = true;
  const screen = await shown(catchUp, { group_id: "g" }, rows, {
    kept: async () => ({ body: list, at: `${TODAY}T10:00:00Z`, fresh: true }),
    act: async () => {
      if (fails) {
        throw new Error("This tablet has no room left.");
      }
      rows.catch_up = [];
    },
  });
  assert.match(screen.text(), /be taught.*1 pupilMei.*Done today/);
  await screen.press("Undo “m”");
  assert.match(screen.text(), /This tablet has no room left/);
  // It was not taken back: without the record there is nothing open of it but what the list says.
  rows.catch_up = [];
  await screen.draw();
  assert.match(screen.text(), /1 pupilMei.*Taught since, to be checkedmCyrus/);
  rows.catch_up = [record];
  await screen.draw();
  fails = false;
  await screen.press("Undo “m”");
  assert.match(screen.text(), /2 pupilsCyrus.*Mei/);
  assert.doesNotMatch(screen.text(), /no room|Undo/);
});

test("an undo in a check names the answer it takes back", async () => {
  const place = { round_id: "r", pupil_id: "p1", check_id: "k" };
  const check = { id: "k", kind: "check", items: [{ id: "1", prompt: "m" }, { id: "2", prompt: "o" }] };
  const answer = (id, item_id, more) => ({ id, ...place, sitting_id: "s", item_id, outcome: "right", corrects: null, ...more });
  const sat = { id: "s", ...place, held_by: "ada", paused_at: null, finished_at: null };
  const undo = async (response, prompt) => {
    const screen = await shown(sitting, place, { ...school, check: [check], sitting: [sat], response });
    await screen.press(`Undo the answer to “${prompt}”`);
    return screen.acts;
  };
  const act = (of) => [["sitting.undo", { round_id: "r", pupil_id: "p1", on: TODAY, sitting_id: "s", id: "new-1", of }]];
  const both = [answer("a1", "1"), answer("a2", "2")];
  assert.deepEqual(await undo(both, "o"), act("a2"));
  assert.deepEqual(await undo([...both, answer("a3", "2", { outcome: "not_offered", corrects: "a2" })], "m"), act("a1"));
});

test("on a day that is none of its round's nothing is asked, as the server would take nothing of it", async () => {
  const place = { round_id: "r", pupil_id: "p1", check_id: "k" };
  const check = { id: "k", kind: "word_reading", items: [{ id: "1", prompt: "mop" }] };
  const says = async (opens_on, closes_on, more = {}) => (await shown(sitting, place,
    { ...school, check: [check], check_round: [{ id: "r", opens_on, closes_on }], ...more })).text();
  assert.match(await says("2026-11-25", "2026-11-27"), /There is no hurry.*Begin/);
  assert.match(await says("2026-11-16", "2026-11-25"), /There is no hurry.*Begin/);
  assert.match(await says("2026-11-16", "2026-11-24"), /This round is from Monday 16 November to Tuesday 24 November\. Nothing can be asked in it today\./);
  assert.doesNotMatch(await says("2026-11-26", "2026-11-27"), /Begin/);
  // One that was begun while it was open is not gone on with; what was answered can be put right.
  const begun = { sitting: [{ id: "s", ...place, held_by: "ada", paused_at: null, finished_at: null }],
    response: [{ id: "a", ...place, sitting_id: "s", item_id: "1", outcome: "right", corrects: null }] };
  assert.match(await says("2026-11-16", "2026-11-24", begun), /Nothing can be asked.*Put an answer right/);
});

test("a check that was begun and not ended while its round was open is finished on the tablet all the same, by whoever has it", async () => {
  const place = { round_id: "r", pupil_id: "p1", check_id: "k" };
  const check = { id: "k", kind: "word_reading", items: [{ id: "1", prompt: "mop" }, { id: "2", prompt: "top" }] };
  const begun = { id: "s", ...place, held_by: "ada", paused_at: null, finished_at: null };
  const rows = { ...school, check: [check], check_round: [{ id: "r", opens_on: "2026-11-16", closes_on: "2026-11-24" }],
    response: [{ id: "a", ...place, sitting_id: "s", item_id: "1", outcome: "right", corrects: null }] };
  for (const paused_at of [null, "2026-11-24T09:00:00Z"]) {
    const screen = await shown(sitting, place, { ...rows, sitting: [{ ...begun, paused_at }] });
    assert.match(screen.text(), /Nothing can be asked in it today\.The check was begun and not finished\./);
    await screen.press("Finish it as it is");
    assert.deepEqual(screen.acts, [["sitting.finish", { round_id: "r", pupil_id: "p1", on: TODAY, sitting_id: "s" }]]);
  }
  const others = await shown(sitting, place, { ...rows, sitting: [{ ...begun, held_by: "ben" }] });
  assert.doesNotMatch(others.text(), /Finish/);
  const over = await shown(sitting, place, { ...rows, sitting: [{ ...begun, finished_at: "2026-11-25T09:00:00Z" }] });
  assert.match(over.text(), /This check is finished\. This round is from/);
  assert.doesNotMatch(over.text(), /Finish it/);
});

test("a check is drawn again when its round is said to be on other days, and when the day turns", async () => {
  const place = { round_id: "r", pupil_id: "p1", check_id: "k" };
  const check = { id: "k", kind: "word_reading", items: [{ id: "1", prompt: "mop" }] };
  const round = { id: "r", opens_on: "2026-11-16", closes_on: "2026-11-24" };
  let today = TODAY;
  const screen = await shown(sitting, place, { ...school, check: [check], check_round: [round] }, { today: () => today });
  assert.match(screen.text(), /Nothing can be asked in it today/);
  round.closes_on = "2026-11-25";
  await screen.draw();
  assert.match(screen.text(), /Begin$/);
  today = "2026-11-26";
  await screen.draw();
  assert.match(screen.text(), /to Wednesday 25 November\. Nothing can be asked/);
  round.closes_on = "2026-11-27";
  await screen.draw();
  // What is done is of the day on which it is done, and not of the one on which the screen was opened.
  await screen.press("Begin");
  assert.deepEqual(screen.acts.map(([type, set]) => [type, set.on]), [["sitting.begin", "2026-11-26"]]);
});

test("in a check in which nothing was answered there is nothing to undo", async () => {
  const place = { round_id: "r", pupil_id: "p1", check_id: "k" };
  const rows = { ...school, check: [{ id: "k", kind: "check", items: [{ id: "1", prompt: "m" }] }],
    sitting: [{ id: "s", ...place, held_by: "ada", paused_at: null, finished_at: null }],
    response: [{ id: "a", ...place, sitting_id: "before", item_id: "1", outcome: "right", corrects: null }] };
  assert.doesNotMatch((await shown(sitting, place, rows)).text(), /Undo/);
});

test("a tablet that was cut off says what stays on it, and that it is locked", async () => {
  const locked = account.find((one) => one.path === "/locked");
  const says = async (unsent) => {
    const people = async () => [{ staff_id: "ben", name: "Ben", unsent, wiped: true }];
    const cut_off = { name: "Trolley 2", at: `${TODAY}T10:00:00Z`, handed: 0 };
    return (await shown(locked, {}, {}, { people, cut_off })).text();
  };
  assert.match(await says(1), /Nothing about any child can be read on it any more, except what somebody did here and nobody has yet: by that person, with their own PIN\..*registers and answers in checks, stays locked/);
  assert.match(await says(0), /Nothing about any child can be read on it any more\./);
  assert.doesNotMatch(await says(1), /Nothing was waiting|went to the phonics lead/);
  assert.doesNotMatch(await says(0), /stays locked/);
});
