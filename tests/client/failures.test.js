// What can go wrong in a browser and between its tabs, each by its name; faults of the network and the server are in
// sync.test.js, of the clock in clock.test.js, of numbers and scopes in rows.test.js.

import assert from "node:assert/strict";
import { test } from "node:test";

import { fakes } from "./fake_idb.js";
import { portal, problem } from "./fake_server.js";
import { app, shown } from "./fake_dom.js";
import { done, granted, lesson, log, numbers, ready, server, tab } from "./sync_tab.js";

const none = () => undefined;
Object.assign(document, { addEventListener: none, removeEventListener: none });
Object.assign(globalThis, { addEventListener: none, removeEventListener: none });
const { openPerson, within } = await import("../../api/client/lib/db.js");
const { Open } = await import("../../api/client/lib/open.js");
const people = await import("../../api/client/lib/people.js");
const vault = await import("../../api/client/lib/vault.js");
const { default: groupScreen } = await import("../../api/client/screens/group.js");
const { find } = await import("../../api/client/screens/pupil.js");

const around = { draw: none, lock: none, cut: async () => undefined, wiped: none,
  inLine: ({ type }) => ({ what: type, about: "", says: "" }) };
const me = (staff_id) => ({ staff_id, name: staff_id, school_id: "s", school_name: "S", roles: ["teacher"] });

test("connection to the store lost while the page slept: it is opened again, and nothing is lost", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  fakes.lose(`plumbline-${one.person.staff_id}`);
  await log(one, "2026-11-25");
  fakes.lose(`plumbline-${one.person.staff_id}`);
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length, one.sync.trouble], [["2026-11-24", "2026-11-25"], 0, null]);
});

test("connection to the list of whose stores are here lost: it is opened again", async () => {
  await people.setTablet({ id: "t1", name: "Trolley 2" });
  fakes.lose("plumbline");
  assert.equal((await people.tablet()).name, "Trolley 2");
  fakes.lose("plumbline");
  await people.setTablet({ id: "t1", name: "Trolley 3" });
  assert.equal((await people.tablet()).name, "Trolley 3");
});

test("a store that was locked is not opened again by what was under way", async () => {
  const one = await ready();
  one.person.close();
  fakes.lose(`plumbline-${one.person.staff_id}`);
  await assert.rejects(one.person.put("draft first", {}), { name: "InvalidStateError" });
});

test("storage evicted while it is open: nothing passes for saved, and it is said", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  fakes.evict(`plumbline-${one.person.staff_id}`);
  await assert.rejects(log(one, "2026-11-25"));
  await one.sync.run();
  assert.match(one.sync.trouble, /cleared what was kept on this tablet.*what waited to be sent is lost/);
  assert.deepEqual([done(), fakes.has(`plumbline-${one.person.staff_id}`)], [[], false], "and no empty one is made in its place");
});

test("storage evicted while it was closed: who opens it reads so, and not that nothing is lost, until the next sign-in", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  await people.remember({ ...me("eve"), failures: 0, seen: new Date().toISOString(), vault: sealed });
  const before = await Open.with(me("eve"), keys, granted, around, false);
  assert.equal(before.trouble, null, "the first time there is nothing to miss");
  await before.person.append("lesson.record", lesson("2026-11-24"), null, null);
  before.close();
  fakes.evict("plumbline-eve");
  const open = await Open.with(me("eve"), keys, null, around, true);
  await open.sync.run();
  assert.match(open.trouble, /cleared what was kept on this tablet.*sign in again/);
  assert.doesNotMatch(open.trouble, /nothing is lost/);
  // What is at the server comes back, to another store than the one that is gone. What is gone is not hidden by that.
  server.pages = [[{ scope: "group:a", kind: "pupil", id: "p", v: "1", is: "put", body: { name: "Cyrus" } }]];
  await open.renew(granted);
  await open.sync.run();
  assert.match(open.trouble, /what waited to be sent is lost\. Look whether the latest records are there\.$/);
  assert.deepEqual([open.person.view.list("pupil").length, server.replicas.size], [1, 1]);
  open.close();
  const later = await Open.with(me("eve"), keys, null, around, true);
  assert.equal(later.trouble, null);
  later.close();
});

test("storage evicted while it was closed: who comes in by the password reads so too, beside what else is wrong", async () => {
  await people.setTablet({ id: "t1", name: "Trolley 2" });
  server.always["/sessions"] = () => Response.json({ ...granted, staff_id: "fay" });
  server.always["/me"] = () => Response.json({ ...me("fay"), today: "2026-11-25", roles_today: [] });
  const comesIn = async () => {
    await app.signIn("fay@farholt.example", "a long password");
    await app.choosePin("carpet-27");
    return app.state.trouble;
  };
  assert.equal(await comesIn(), null);
  app.lock();
  assert.equal(await comesIn(), null, "the store is there");
  app.lock();
  fakes.evict("plumbline-fay");
  assert.match(await comesIn(), /cleared what was kept on this tablet.*what waited to be sent is lost/);
  assert.doesNotMatch(app.state.trouble, /sign in again/);
  app.lock();
});

test("transaction closed during fetch: what waits for anything else in one is refused, and nothing of it is kept", async () => {
  const db = await openPerson("tx");
  const late = within(db, ["meta"], "readwrite", async (tx) => {
    tx.objectStore("meta").put("half", "first");
    for (let turn = 0; turn < 5; turn += 1) {
      await new Promise((resolve) => setImmediate(resolve));
    }
    tx.objectStore("meta").put("whole", "second");
  });
  await assert.rejects(late, { name: "TransactionInactiveError" });
  const [first, second] = await within(db, ["meta"], "readonly", (tx) =>
    Promise.all(["first", "second"].map((key) => new Promise((resolve) => {
      const request = tx.objectStore("meta").get(key);
      request.onsuccess = () => resolve(request.result);
    }))));
  assert.deepEqual([first, second], ["half", undefined]);
});

test("transaction closed during fetch: no answer of the server is waited for with one open", async () => {
  const one = await ready();
  let open = 0;
  const { transaction } = one.person.db.constructor.prototype;
  one.person.db.constructor.prototype.transaction = function counted(...given) {
    const tx = transaction.apply(this, given);
    open += 1;
    const end = tx.done;
    tx.done = () => {
      open -= 1;
      end();
    };
    return tx;
  };
  const seen = [];
  const { fetch } = server;
  globalThis.fetch = (...given) => {
    seen.push(open);
    return fetch(...given);
  };
  server.pages = [[{ scope: "group:a", kind: "pupil", id: "p", v: "1", is: "put", body: { name: "Cyrus" } }]];
  await log(one, "2026-11-25");
  await one.sync.run();
  one.person.db.constructor.prototype.transaction = transaction;
  assert.ok(seen.length >= 2 && seen.every((many) => many === 0), seen.join(" "));
});

test("refresh race across tabs: each refresh token is used once, whichever tab needs a new one", async () => {
  const one = await ready();
  const other = await tab();
  let turn = 1;
  const used = [];
  server.always["/sessions/refresh"] = ({ refresh_token }) => {
    used.push(refresh_token);
    if (refresh_token !== (turn === 1 ? "r" : `r${turn}`)) {
      return problem(401, "bad_refresh_token");
    }
    turn += 1;
    return Response.json({ access_token: `a${turn}`, refresh_token: `r${turn}`, expires_in: 600 });
  };
  // The first tab's token is refused; the other has none yet, and both ask at once.
  server.next("/groups/a", () => problem(401, "token_expired"));
  server.next("/groups/a", () => Response.json({}));
  server.next("/groups/b", () => Response.json({}));
  await Promise.all([one.session.send("/groups/a"), other.session.send("/groups/b")]);
  assert.deepEqual([used, one.session.ended, other.session.ended], [["r", "r2"], false, false]);
});

test("set aside while another tab sends: what the server takes meanwhile is not said to be unsent", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  await people.remember({ ...me("flo"), failures: 0, seen: new Date().toISOString(), vault: sealed });
  const one = await Open.with(me("flo"), keys, granted, around, true);
  await one.sync.run();
  await one.person.append("lesson.record", lesson("2026-11-24"), null, null);
  const other = await Open.with(me("flo"), keys, granted, around, true);
  assert.equal(other.person.due.length, 1);
  let aside;
  server.next("/sync/push", () => {
    aside = assert.rejects(other.setAside(), /done or sent meanwhile, in another window\. Look at what waits again/);
  });
  await one.sync.run();
  await aside;
  assert.deepEqual([done(), other.person.aside, other.person.due, other.person.sync.acked], [["2026-11-24"], [], [], 1]);
  // As little as the other way about: of what was shown one is sent, and another is there.
  await one.person.append("lesson.record", lesson("2026-11-25"), null, null);
  await other.person.reload();
  await one.sync.run();
  await one.person.append("lesson.record", lesson("2026-11-26"), null, null);
  await assert.rejects(other.setAside(), /Look at what waits again/);
  assert.deepEqual([other.person.aside, other.person.due.map((op) => op.set.on)], [[], ["2026-11-26"]], "and it is shown as it is");
  await other.setAside();
  assert.deepEqual([other.person.aside.map((op) => op.set.on), other.person.due], [["2026-11-26"], []]);
  [one, other].forEach((open) => open.close());
});

test("reset answer: what was held of the scope goes with its cursor, and what waits stays", async () => {
  const one = await ready();
  const row = (id) => ({ scope: "group:a", kind: "pupil", id, v: "1", is: "put", body: { name: id } });
  server.pages = [[row("Zoe"), { ...row("Max"), scope: "group:b" }]];
  await one.sync.run();
  assert.deepEqual(one.person.sync.cursors, { "group:a": "c0" });
  await log(one, "2026-11-25");
  server.next("/sync/push", "cut");
  await one.sync.run();
  const page = { epoch: "one", drop: [], rows: [row("Ann")], cursors: {}, more: false, last_n: 0, safe_n: 0 };
  server.next("/sync/push", () => problem(503, "busy"));
  await one.person.take({ ...page, reset: ["group:a"] });
  assert.deepEqual(one.person.view.list("pupil").map((pupil) => pupil.name).sort(), ["Ann", "Max"]);
  assert.deepEqual([one.person.sync.cursors, one.person.unsent.length], [{}, 1]);
  const again = await tab();
  assert.deepEqual(again.person.view.list("pupil").map((pupil) => pupil.name).sort(), ["Ann", "Max"]);
});

test("no answer is ever taken from a cache", async () => {
  const asked = [];
  const { fetch } = server;
  const one = await ready();
  globalThis.fetch = (url, how) => asked.push(how.cache) && fetch(url, how);
  await one.sync.run();
  assert.deepEqual([...new Set(asked)], ["no-store"]);
});

test("numbers over 2^53: a version goes back as it came, to the last digit", async () => {
  const one = await ready();
  // The next even number is the nearest that a script's own numbers hold.
  server.decide = ({ n }) => ({ v: n === 1 ? "9007199254740993" : "9007199254740995" });
  const first = await log(one, "2026-11-25");
  await log(one, "2026-11-25", null, first.op_id);
  await one.sync.run();
  assert.equal(server.log[1].base_v, "9007199254740993");
  server.pages = [[{ scope: "group:a", kind: "lesson_record", id: "r", v: "9007199254740997", is: "put", body: lesson("2026-11-24") }]];
  await one.sync.run();
  const { v } = (await tab()).person.view.get("lesson_record", "r");
  await log(one, "2026-11-24", v);
  await one.sync.run();
  assert.equal(server.log[2].base_v, "9007199254740997");
});

test("429 with Retry-After, 5xx and a 200 that is HTML, one after another: the queue is kept, and goes once, in order", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  for (const answer of [() => problem(429, "too_many", {}, { "Retry-After": "2" }), () => new Response("", { status: 502 }), portal]) {
    server.next("/sync/push", answer);
    await one.sync.run();
    assert.deepEqual([one.person.unsent.length, one.sync.stranded], [1, false]);
  }
  await log(one, "2026-11-25");
  await one.sync.run();
  assert.deepEqual([done(), numbers(server.pushes().at(-1))], [["2026-11-24", "2026-11-25"], [1, 2]]);
});

const NFC = "Zo\u00eb";
const NFD = "Zoe\u0308";

test("NFC and NFD: a name is found however its accent is typed, and without it", async () => {
  const rows = { pupil: [{ id: "p1", name: NFC }, { id: "p2", name: "Max" }], class: [], school: [{ year_groups: [] }] };
  for (const typed of [NFC, NFD, "zoe", "ZOË"]) {
    const screen = await shown(find, {}, rows, {});
    screen.one("find").value = typed;
    await screen.submit();
    assert.match(screen.text(), new RegExp(`Find${NFC}$`), typed);
  }
  const screen = await shown(find, {}, rows, {});
  screen.one("find").value = "zoa";
  await screen.submit();
  assert.match(screen.text(), /Nobody whom you may see has that name\./);
});

test("NFC and NFD: names stand in one order, however their accents are written", async () => {
  const member = (pupil_id) => ({ id: pupil_id, group_id: "g", pupil_id, from: "2026-09-01", until: null });
  const rows = { group: [{ id: "g", name: "Blue", adults: [] }], group_member: ["p1", "p2", "p3"].map(member),
    pupil: [{ id: "p1", name: "Zora" }, { id: "p2", name: NFD }, { id: "p3", name: "Zoa" }], lesson_record: [] };
  const text = (await shown(groupScreen, { group_id: "g" }, rows, {})).text();
  assert.match(text, new RegExp(`Zoa${NFD}Zora`));
});
