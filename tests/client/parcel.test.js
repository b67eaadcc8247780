// The file of what cannot be sent says in words what was done, also where what these name is not kept any more.

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

import { problem } from "./fake_server.js";
import { app, shown } from "./fake_dom.js";
import { granted, server } from "./sync_tab.js";

const none = () => undefined;
Object.assign(document, { addEventListener: none, removeEventListener: none });
Object.assign(globalThis, { addEventListener: none, removeEventListener: none });
const { Open } = await import("../../api/client/lib/open.js");
const { unpack } = await import("../../api/client/lib/parcel.js");
const people = await import("../../api/client/lib/people.js");
const vault = await import("../../api/client/lib/vault.js");
const { inLine } = await import("../../api/client/screens/done.js");
const { default: waiting } = await import("../../api/client/screens/waiting.js");

const me = (staff_id) => ({ staff_id, name: "Ada", school_id: "s", school_name: "S", roles: ["teacher"] });
const around = { draw: none, lock: none, cut: async () => undefined, wiped: none, inLine };
const row = (scope, kind, id, body) => ({ scope, kind, id, v: "1", is: "put", body });
const VERSION = { sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null,
  steps: [{ title: "One", lessons: [{ id: "l", title: "m and o", items: [
    { id: "i", label: "m /m/", gpc: { grapheme: "m", phoneme: "m" }, keyword: "mop" }, { id: "e", label: "one" }] }] }] };
const ROWS = [row("group:a", "group", "a", { name: "Blue" }), row("group:a", "pupil", "p", { name: "Zephyrine" }),
  row("school:s", "sequence_version", "v", VERSION), row("school:s", "check", "k", { kind: "word_reading", items: [{ id: "w", prompt: "mop" }] }),
  row("group:a", "lesson_record", "r", { group_id: "a", on: "2026-11-20", slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered", register: [] }),
  row("group:a", "catch_up", "c", { group_id: "a", on: "2026-11-20", items: ["i", "e"], pupil_ids: ["p"] }),
  row("group:a", "sitting", "t", { round_id: "n", pupil_id: "p", check_id: "k", held_by: "ada", paused_at: null, finished_at: null }),
  row("group:a", "response", "o", { round_id: "n", pupil_id: "p", check_id: "k", sitting_id: "t", item_id: "w", outcome: "right", corrects: null })];
const lesson = (on) => ({ group_id: "a", on, slot: 1, lesson_id: "l", version_id: "v", outcome: "delivered",
  register: [{ pupil_id: "p", mark: "absent" }] });
const said = (on) => ({ what: "Lesson record", about: `Blue, ${on}`, says: "m and o: taught, Zephyrine away." });

/** The store that is open. @type {InstanceType<typeof Open>} */
let open;

beforeEach(() => {
  app.store = { get: (kind, id) => open.person.view.get(kind, id), list: (kind, where) => open.person.view.list(kind, where) };
});

/** Somebody at work on a tablet, whose server takes nothing for now. */
const atWork = async (staff_id) => {
  const { keys, sealed } = await vault.make("carpet-27");
  await people.remember({ ...me(staff_id), failures: 0, seen: new Date().toISOString(), vault: sealed });
  open = await Open.with(me(staff_id), keys, granted, around, false);
  server.pages = [ROWS];
  await open.sync.run();
  server.always["/sync/push"] = () => problem(503, "busy");
};

const opened = async () => {
  const { code, file } = await open.parcel();
  return unpack(file, code);
};

test("after too long without the server, when the PIN opens nothing but what waits, the file names group and child", async () => {
  await atWork("ada");
  const { at } = await open.act("lesson.record", lesson("2026-11-24"), null);
  open.close();
  await people.discard("ada");
  open = await Open.with(me("ada"), (await vault.open((await people.entry("ada")).vault, "carpet-27")).keys, null, around, true);
  assert.deepEqual([open.person.view.list("pupil"), open.person.view.list("group")], [[], []]);
  const file = await opened();
  assert.deepEqual(file.lines, [{ ...said("Tuesday 24 November"), at }]);
  assert.deepEqual([Object.keys(file).sort(), file.by, file.school], [["by", "lines", "made_at", "school"], { staff_id: "ada", name: "Ada" }, "S"]);
  // The list of what waits has the same words.
  const screen = await shown(waiting, {}, {}, { waiting: () => open.person.due, ago: () => "1 day" });
  assert.match(screen.text(), /Lesson record, Blue, Tuesday 24 November/);
  open.close();
});

test("on a tablet that was cut off the file names what its own adult did and nobody has, and nothing else", async () => {
  await people.setTablet({ id: "tablet-1", name: "Trolley 2" });
  await atWork("ben");
  await open.act("lesson.record", lesson("2026-11-23"), null);
  const { at } = await open.act("lesson.record", lesson("2026-11-24"), null);
  server.always["/sync/push"] = () => problem(409, "holds_no_more");
  await open.sync.run();
  assert.deepEqual([open.cut, open.person.view.list("pupil")], [true, []]);
  // The lead has the first.
  await open.person.note({ handed: 1 });
  assert.deepEqual((await opened()).lines, [{ ...said("Tuesday 24 November"), at }]);
  open.close();
});

test("the file holds what the server had refused too, marked as such, and not what came second and is kept there", async () => {
  await atWork("fay");
  delete server.always["/sync/push"];
  server.decide = ({ set }) => ({ "2026-11-23": { outcome: "rejected", code: "gone" }, "2026-11-24": { outcome: "superseded", current: {} } })[set.on];
  const { at } = await open.act("lesson.record", lesson("2026-11-23"), null);
  await open.act("lesson.record", lesson("2026-11-24"), null);
  await open.sync.run();
  server.always["/sync/push"] = () => problem(503, "busy");
  const waits = await open.act("lesson.record", lesson("2026-11-25"), null);
  assert.deepEqual((await opened()).lines,
    [{ ...said("Monday 23 November"), at, refused: true }, { ...said("Wednesday 25 November"), at: waits.at }]);
  open.close();
});

const PLACE = { round_id: "n", pupil_id: "p", on: "2026-11-25" };
/** What can be done, with the words of it. */
const DEEDS = [
  ["lesson.record", lesson("2026-11-25"), "Blue, Wednesday 25 November", "m and o: taught, Zephyrine away."],
  ["lesson.delete", { id: "r" }, "Blue, Friday 20 November", "m and o: taught, everybody here."],
  ["catch_up.record", { id: "d", group_id: "a", on: "2026-11-25", items: ["i", "e"], pupil_ids: ["p"] }, "Blue, Wednesday 25 November", "m as in mop, one: Zephyrine"],
  ["catch_up.delete", { id: "c" }, "Blue, Friday 20 November", "m as in mop, one: Zephyrine"],
  ["sitting.begin", { ...PLACE, id: "u", check_id: "k" }, "Zephyrine, Wednesday 25 November", "Reading words"],
  ["sitting.answer", { ...PLACE, sitting_id: "t", answers: [{ id: "x", item_id: "w", outcome: "wrong" }] }, "Zephyrine, Wednesday 25 November", "mop: wrong"],
  ["sitting.undo", { ...PLACE, sitting_id: "t", id: "y", of: "o" }, "Zephyrine, Wednesday 25 November", "mop: right"],
  ["sitting.pause", { ...PLACE, sitting_id: "t" }, "Zephyrine, Wednesday 25 November", ""],
  ["sitting.resume", { ...PLACE, sitting_id: "t" }, "Zephyrine, Wednesday 25 November", ""],
  ["sitting.finish", { ...PLACE, sitting_id: "t" }, "Zephyrine, Wednesday 25 November", ""],
  ["response.correct", { ...PLACE, id: "z", response_id: "o", outcome: "no_response" }, "Zephyrine, Wednesday 25 November", "mop: no response"],
];

test("each thing that can be done has its words, and is kept where nothing that it names is", async () => {
  await atWork("cy");
  assert.deepEqual(DEEDS.map(([type, set]) => inLine({ type, set })).map(({ about, says }) => [about, says]),
    DEEDS.map(([, , about, says]) => [about, says]));
  open.close();
  const bare = await vault.make("carpet-28");
  open = await Open.with(me("dot"), bare.keys, granted, around, false);
  for (const [type, set] of DEEDS) {
    await open.act(type, set, null);
  }
  assert.deepEqual(open.person.due.map((op) => op.type), DEEDS.map(([type]) => type));
  assert.ok(open.person.due.every(({ line }) => line && !/undefined|null/.test(JSON.stringify(line))));
  open.close();
});

test("what was done before there were any words is said of what is kept", async () => {
  await atWork("eve");
  const { at } = await open.person.append("lesson.record", lesson("2026-11-24"), null, null);
  assert.deepEqual((await opened()).lines, [{ ...said("Tuesday 24 November"), at }]);
  open.close();
});
