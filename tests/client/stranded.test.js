// A store that the server does not know, or does no more: after its database was replaced, or where another server answers
// at the address. What waits is never lost unseen.

import assert from "node:assert/strict";
import { test } from "node:test";

import { problem } from "./fake_server.js";
import { app, shown } from "./fake_dom.js";
import { done, granted, lesson, log, numbers, ready, server, tab } from "./sync_tab.js";

const none = () => undefined;
Object.assign(document, { addEventListener: none, removeEventListener: none });
Object.assign(globalThis, { addEventListener: none, removeEventListener: none });
const { pack, unpack } = await import("../../api/client/lib/parcel.js");
const people = await import("../../api/client/lib/people.js");
const { Person } = await import("../../api/client/lib/person.js");
const vault = await import("../../api/client/lib/vault.js");
const { default: cutOff } = await import("../../api/client/screens/cut_off.js");
const { default: groupScreen } = await import("../../api/client/screens/group.js");
const { default: savedFile } = await import("../../api/client/screens/saved_file.js");
const { default: settings } = await import("../../api/client/screens/settings.js");
const { default: waiting } = await import("../../api/client/screens/waiting.js");

const { lock, unlock } = app;
const NOT_KNOWN = () => problem(404, "not_found", { detail: "There is no such tablet." });

/** The server takes nothing of this tablet, whatever it is told of it. */
const strange = () => Object.assign(server.always, { "/sync/replicas": NOT_KNOWN, "/tablets": NOT_KNOWN, "/sync/push": NOT_KNOWN });

test("a store the server has forgotten is made known again, and what waits goes", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  server.replicas.clear();
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length, one.sync.stranded, one.sync.trouble], [["2026-11-24"], 0, false, null]);
});

test("a database that was replaced gets what it never had, also where older work is not kept any more", async () => {
  const one = await ready();
  for (const on of ["2026-11-23", "2026-11-24"]) {
    await log(one, on);
    await one.sync.run();
  }
  // What is in a verified backup is not kept: the numbers begin at 3.
  await one.person.note({ safe: 2 });
  await one.person.take({ epoch: "one", drop: [], reset: [], rows: [], cursors: {}, more: false, last_n: 2, safe_n: 2 });
  await log(one, "2026-11-25");
  const before = one.person.sync.replica;
  server.replicas.clear();
  server.log.length = 0;
  server.epoch = "another";
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length, one.sync.stranded], [["2026-11-25"], 0, false]);
  assert.notEqual(one.person.sync.replica, before);
  assert.deepEqual(numbers(server.pushes().at(-1)), [1]);
});

test("what a server takes nothing of waits, in words, and goes once it is the old one again", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  server.replicas.clear();
  strange();
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.sync.online, one.person.unsent.length, done()], [true, true, 1, []]);
  assert.match(one.sync.trouble, /takes nothing of what waits here.*It says: There is no such tablet\./);
  // A network that is gone for a while does not make it another story.
  server.next("/sync/replicas", "cut");
  Object.keys(server.always).forEach((path) => delete server.always[path]);
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.sync.online], [true, false]);
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.sync.trouble, done()], [false, null, ["2026-11-24"]]);
});

test("once what waits is set aside nothing is said to be refused any more, whatever the server goes on to say", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  server.replicas.clear();
  strange();
  await one.sync.run();
  assert.equal(one.sync.stranded, true);
  await one.person.setAside(one.person.due);
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.sync.trouble], [false, "There is no such tablet."]);
});

test("an ended sign-in, a page that is too old and a server that is busy are not what strands it", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  for (const [status, code] of [[426, "schema_too_old"], [503, "busy"], [429, "too_many"], [401, "signed_out"]]) {
    server.next("/sync/push", () => problem(status, code));
    server.next("/sessions/refresh", () => problem(401, "bad_refresh_token"));
    await one.sync.run();
    assert.deepEqual([one.sync.stranded, one.person.due.length, one.session.ended], [false, 1, status === 401], code);
  }
  assert.match(one.sync.trouble, /Sign in again to send; nothing is lost/);
  // What was said of it before the sign-in ended does not hold on either: nobody knows until there is another.
  await one.session.begin(granted);
  server.instead.length = 0;
  strange();
  await one.sync.run();
  assert.equal(one.sync.stranded, true);
  Object.keys(server.always).forEach((path) => delete server.always[path]);
  server.always["/sync/replicas"] = () => problem(401, "signed_out");
  server.next("/sessions/refresh", () => problem(401, "bad_refresh_token"));
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.session.ended], [false, true]);
});

test("what is set aside is not sent, is kept until it was read, and holds back nothing that is done after it", async () => {
  const one = await ready();
  await log(one, "2026-11-23");
  await one.sync.run();
  await log(one, "2026-11-24");
  await one.person.setAside(one.person.due);
  const again = await tab();
  assert.deepEqual(again.person.aside.map((op) => [op.set.on, op.code]), [["2026-11-24", "set_aside"]]);
  assert.deepEqual([again.person.unsent.length, again.person.sync.next], [0, 2]);
  await again.session.begin(granted);
  await log(again, "2026-11-25");
  await again.sync.run();
  assert.deepEqual([done(), again.person.unsent.length], [["2026-11-23", "2026-11-25"], 0]);
});

/** What a pull brings of the group. */
const ROW = { scope: "group:a", kind: "pupil", id: "p", v: "1", is: "put", body: { name: "Cyrus" } };

test("what the server took and no backup has outlives the setting aside of the rest, and is sent once the backup is back", async () => {
  const one = await ready();
  server.pages = [[ROW]];
  for (const on of ["2026-11-23", "2026-11-24"]) {
    await log(one, on);
  }
  await one.sync.run();
  // Its disk dies, and an empty server answers: what is done now waits.
  const { replicas } = server;
  server.replicas = new Map();
  strange();
  await log(one, "2026-11-25");
  await one.sync.run();
  assert.deepEqual([one.sync.stranded, one.person.due.length], [true, 1]);
  const before = one.person.sync.replica;
  await one.person.setAside(one.person.due);
  assert.deepEqual([one.person.aside.length, one.person.unsent.length, one.person.view.list("pupil").length], [1, 0, 1]);
  // Last night's backup, from before both lessons.
  Object.keys(server.always).forEach((path) => delete server.always[path]);
  server.replicas = new Map([...replicas.keys()].map((id) => [id, { last: 0, outcomes: new Map() }]));
  server.log.length = 0;
  server.epoch = "two";
  const again = await tab();
  await again.session.begin(granted);
  await again.sync.run();
  await log(again, "2026-11-26");
  await again.sync.run();
  assert.deepEqual(done(), ["2026-11-23", "2026-11-24", "2026-11-26"]);
  assert.deepEqual([again.person.sync.replica, again.person.unsent.length, again.sync.trouble], [before, 0, null]);
});

/** A tab whose third op came in twice under one number, so that it begins anew as another store; the first two no backup has. */
const reminted = async () => {
  const one = await ready();
  for (const on of ["2026-11-23", "2026-11-24"]) {
    await log(one, on);
  }
  await one.sync.run();
  await log(one, "2026-11-25");
  server.next("/sync/push", () => problem(422, "op_reused"));
  await one.sync.run();
  assert.deepEqual([done(), numbers(server.pushes().at(-1))], [["2026-11-23", "2026-11-24", "2026-11-25"], [1]]);
  server.asked.length = 0;
  return one;
};

/** The server is brought back as it was before all that this tablet did. */
const before_all = (epoch) => {
  server.replicas.clear();
  server.log.length = 0;
  server.epoch = epoch;
};

test("a store that began anew goes on keeping what no backup has, and sends it where the server lost it", async () => {
  await reminted();
  before_all("two");
  const again = await tab();
  await again.session.begin(granted);
  await again.sync.run();
  assert.deepEqual([done(), again.person.unsent.length, again.person.sync.next], [["2026-11-23", "2026-11-24", "2026-11-25"], 0, 4]);
  assert.deepEqual(server.pushes().at(-1).ops.map((op) => op.n), [1, 2, 3]);
});

test("a store that begins anew at a server that was brought back still hears that it was, and sends what that lost", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  await one.sync.run();
  before_all("two");
  await one.session.begin(granted);
  server.next("/sync/replicas", () => problem(409, "conflict", { errors: [{ field: "id", message: "It is another's." }] }));
  await one.sync.run();
  assert.deepEqual([done(), one.person.sync.epoch, one.person.unsent.length], [["2026-11-24"], "two", 0]);
});

test("of a store that began anew nothing is sent again that the server still has, nor kept once a backup has what came after", async () => {
  const one = await reminted();
  server.epoch = "two";
  await one.sync.run();
  assert.deepEqual([server.pushes(), one.person.sync.epoch], [[], "two"]);
  await one.person.take({ epoch: "two", drop: [], reset: [], rows: [], cursors: {}, more: false, last_n: 1, safe_n: 1 });
  before_all("three");
  await one.sync.run();
  assert.deepEqual([done(), one.person.sync.epoch], [[], "three"]);
});

test("nothing is set aside that was done meanwhile, in another window, and was not seen", async () => {
  const one = await ready();
  const other = await tab();
  await log(one, "2026-11-24");
  await log(other, "2026-11-25");
  await assert.rejects(one.person.setAside(one.person.due), /Look at what waits again/);
  const again = await tab();
  assert.deepEqual([again.person.aside, again.person.unsent.length], [[], 2]);
});

test("a sealed file opens with its code, however that is typed, and with no other", async () => {
  const { code, file } = await pack({ lines: [{ about: "Zoë" }] });
  assert.match(code, /^([0-9A-HJKMNP-TV-Z]{5} ){3}[0-9A-HJKMNP-TV-Z]{5}$/);
  assert.ok(!file.includes("Zoë"), file);
  assert.deepEqual(await unpack(file, code), { lines: [{ about: "Zoë" }] });
  const typed = code.toLowerCase().replaceAll("0", "o").replaceAll("1", "l").replaceAll(" ", "-");
  assert.deepEqual(await unpack(file, typed), { lines: [{ about: "Zoë" }] });
  const other = code.startsWith("2") ? `3${code.slice(1)}` : `2${code.slice(1)}`;
  await assert.rejects(unpack(file, other), /does not open this file/);
  await assert.rejects(unpack(JSON.stringify({ ...JSON.parse(file), bytes: "AAAA" }), code), /does not open this file/);
  for (const not of ["a,b\n1,2", "{}", "null"]) {
    await assert.rejects(unpack(not, code), /not a file that was saved/);
  }
});

const GROUP = { id: "g", name: "Blue", sequence_id: "q", adults: [] };
const OP = { op_id: "o1", type: "lesson.record", at: "2026-11-24T09:10:00Z", set: { group_id: "g", on: "2026-11-24", slot: 1,
  outcome: "delivered", lesson_id: "l", version_id: "v", register: [{ pupil_id: "p", mark: "absent" }] } };
const ROWS = { group: [GROUP], pupil: [{ id: "p", name: "Zephyrine" }],
  sequence_version: [{ id: "v", sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null,
    steps: [{ title: "One", lessons: [{ id: "l", title: "m and o", items: [] }] }] }] };
const STATE = { online: true, trouble: null, unsent: 1, oldest: OP.at, refused: [], kept: true, signed_in: true, update: false, stranded: true };
const around = { waiting: () => [OP], ago: () => "1 day", time: () => "09:10", on: () => "2026-11-24" };

test("what cannot be sent is named with its days, and is saved under a code", async () => {
  const saved = [];
  URL.createObjectURL = (blob) => saved.push(blob) && "blob:1";
  const parcel = async () => ({ code: "AAAAA BBBBB CCCCC DDDDD", file: "{}" });
  const screen = await shown(waiting, {}, ROWS, { ...around, state: STATE, parcel });
  assert.match(screen.text(), /If it cannot be sent.*1 thing, of Tuesday 24 November.*What waits.*Lesson record, Blue, Tuesday 24 November.*done 1 day ago/);
  assert.match(screen.text(), /Tuesday 24 Novemberm and o: taught, Zephyrine away\.done/, "all that is needed to enter it by hand");
  await screen.press("Save it as a sealed file");
  assert.match(screen.text(), /plumbline-unsent-2026-11-25\.json.*AAAAA BBBBB CCCCC DDDDD.*until you set it aside/);
  assert.equal(await saved[0].text(), "{}");
  // It is not drawn away by what happens meanwhile, as that the sign-in ends or the server is the old one again.
  for (const more of [{}, { stranded: false, signed_in: false }, { stranded: true, signed_in: false }, { stranded: false, signed_in: true }, {}]) {
    app.state = { ...STATE, ...more };
    await screen.draw();
    assert.match(screen.text(), /AAAAA BBBBB/, JSON.stringify(more));
  }
  // What waits is something else by now: the file is not of that.
  app.waiting = () => [{ ...OP, op_id: "o2" }];
  await screen.draw();
  assert.doesNotMatch(screen.text(), /AAAAA BBBBB/);
  assert.match(screen.text(), /Save it as a sealed file/);
});

test("the address of a file that was saved is given back once the browser has had time to take it over", async () => {
  const [given, back, later] = [[], [], []];
  URL.createObjectURL = () => given.push("blob:2") && "blob:2";
  URL.revokeObjectURL = (address) => back.push(address);
  const { setTimeout: before } = globalThis;
  globalThis.setTimeout = (work, ms) => later.push([work, ms]);
  const screen = await shown(waiting, {}, ROWS, { ...around, state: STATE, parcel: async () => ({ code: "A", file: "{}" }) });
  await screen.press("Save it as a sealed file");
  globalThis.setTimeout = before;
  assert.deepEqual([given, back, later.map(([, ms]) => ms)], [["blob:2"], [], [60_000]]);
  later.forEach(([work]) => work());
  assert.deepEqual(back, ["blob:2"]);
});

test("wherever one is, it is said that the server takes nothing, and there is a way to what can be done", async () => {
  const state = { ...STATE, trouble: "The school’s server takes nothing." };
  const all = { ...ROWS, group: [{ ...GROUP, adults: [] }], group_member: [], lesson_record: [] };
  const group = await shown(groupScreen, { group_id: "g" }, all, { ...around, state });
  assert.deepEqual(group.links("See what can be done"), ["#/waiting"]);
  assert.deepEqual((await shown(groupScreen, { group_id: "g" }, all, { ...around, state: { ...state, stranded: false } })).links("See what"), []);
  const here = await shown(waiting, {}, ROWS, { ...around, state });
  assert.deepEqual([here.links("See what"), /takes nothing\./.test(here.text())], [[], true]);
});

test("setting it aside takes two touches, and the second says of what", async () => {
  let times = 0;
  const setAside = async () => void (times += 1);
  const screen = await shown(waiting, {}, ROWS, { ...around, state: STATE, setAside });
  await screen.press("Set it aside");
  assert.match(screen.text(), /Set aside 1 thing of Tuesday 24 November\? It is then never sent\./);
  await screen.press("Keep it waiting");
  assert.doesNotMatch(screen.text(), /then never sent/);
  await screen.press("Set it aside");
  assert.equal(times, 0);
  await screen.press("Yes, set it aside");
  assert.equal(times, 1);
});

test("nothing of it is offered while it is only a matter of time, and all of it where the sign-in has ended", async () => {
  const text = async (more) => (await shown(waiting, {}, ROWS, { ...around, state: { ...STATE, ...more } })).text();
  assert.doesNotMatch(await text({ stranded: false, online: false }), /If it cannot be sent/);
  assert.match(await text({ stranded: false, signed_in: false }), /If it cannot be sent.*Sign in with your password, and it goes/);
  assert.match((await shown(cutOff, {}, {}, { ...around, phase: "cut_off", state: STATE })).text(), /refuses all of it.*Save it as a sealed file/);
  app.phase = "open";
});

test("what was set aside is said to be in the list of what was not taken", async () => {
  const refused = [{ ...OP, outcome: "rejected", code: "set_aside" }];
  const screen = await shown(waiting, {}, ROWS, { ...around, waiting: () => [], state: { ...STATE, unsent: 0, oldest: null, stranded: false, refused } });
  assert.match(screen.text(), /Not taken.*Lesson record, Blue, Tuesday 24 November.*You set it aside: it was not sent/);
});

test("whoever opens a saved file reads in words what is to be entered", async () => {
  const inside = { made_at: OP.at, by: { name: "Ada" }, school: "S",
    lines: [{ what: "Lesson record", about: "Blue, Tuesday 24 November", says: "m and o: taught, Zephyrine away.", at: OP.at }] };
  const opened = async (file, code) => {
    assert.equal(file, "{}");
    return code === "BBBBB" ? inside : Promise.reject(new Error("This code does not open this file."));
  };
  const office = { staff_id: "oli", name: "Oli", roles: ["office"] };
  const screen = await shown(savedFile, {}, {}, { ...around, unpack: opened, me: office });
  screen.one("file").files = [{ text: async () => "{}" }];
  screen.one("code").value = "AAAAA";
  await screen.submit();
  assert.match(screen.text(), /does not open this file/);
  screen.one("code").value = "BBBBB";
  await screen.submit();
  assert.match(screen.text(), /1 thing done by Ada.*Lesson record, Blue, Tuesday 24 Novemberm and o: taught, Zephyrine away\.Done Tuesday 24 November, 09:10/);
  assert.doesNotMatch(screen.text(), /does not open/);
});

test("a saved file is opened for whom its link is shown, and everybody else is told who can", async () => {
  for (const [roles, opens] of [[["lead"], true], [["office"], true], [["teacher", "lead"], true], [["teacher"], false], [["assistant"], false],
    [["cover"], false], [["head"], false], [["administrator"], false], [[], false]]) {
    const me = { staff_id: "ada", name: "Ada", school_name: "S", roles };
    const linked = (await shown(settings, {}, {}, { me })).links("Open a saved file");
    const screen = await shown(savedFile, {}, {}, { me });
    assert.deepEqual([linked.length > 0, Boolean(screen.one("file"))], [opens, opens], roles.join());
    assert.equal(/is opened by the office or the phonics lead.*Give it to one of them/.test(screen.text()), !opens, roles.join());
  }
});

test("too long without the server, the PIN alone opens what waits; not after too many wrong ones, nor where nothing waits", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  const entry = (staff_id, more) => people.remember({ staff_id, name: staff_id, school_id: "s", school_name: "S", roles: ["teacher"],
    failures: 0, seen: "2026-10-01T09:00:00Z", vault: sealed, ...more });
  for (const [staff_id, more] of [["ada", {}], ["ben", { failures: 10 }], ["cy", {}], ["dot", { revoked: "t" }]]) {
    await entry(staff_id, more);
    const person = await Person.open(staff_id, keys);
    await (staff_id === "cy" || person.append("lesson.record", lesson("2026-11-24"), null, null));
    await person.put("draft first", { of: "a child" });
    await people.discard(staff_id);
  }
  const here = async (staff_id) => {
    const one = await people.entry(staff_id);
    return people.opens(one, await people.unsentOf(staff_id));
  };
  assert.deepEqual([await here("ada"), await here("ben"), await here("cy"), await here("dot")], [true, false, false, false]);
  assert.deepEqual(await unlock("ben", "carpet-27"), { ok: false, left: 0 });
  assert.deepEqual(await unlock("ada", "not-the-pin"), { ok: false, left: 9 });
  assert.deepEqual(await unlock("ada", "carpet-27"), { ok: true, left: 10 });
  lock();
  const opened = await Person.open("ada", (await vault.open((await people.entry("ada")).vault, "carpet-27")).keys);
  assert.deepEqual([opened.unsent.map((op) => op.set.on), await opened.box("draft first")], [["2026-11-24"], undefined]);
});
