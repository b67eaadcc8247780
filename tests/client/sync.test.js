// Sending what was done and bringing what is new, against a server that answers as it should, late, wrongly or not at all.

import assert from "node:assert/strict";
import { test } from "node:test";

import { fakes } from "./fake_idb.js";
import { portal, problem, waits } from "./fake_server.js";
import { done, granted, log, numbers, ready, server, tab } from "./sync_tab.js";

const people = await import("../../api/client/lib/people.js");
const PUSH = "/sync/push";

test("what was done is sent in order, numbered without a gap, and is gone once answered", async () => {
  const one = await ready();
  for (const on of ["2026-11-23", "2026-11-24", "2026-11-25"]) {
    await log(one, on);
  }
  await one.sync.run();
  assert.deepEqual(done(), ["2026-11-23", "2026-11-24", "2026-11-25"]);
  assert.deepEqual(server.pushes().map(numbers), [[1, 2, 3]]);
  assert.deepEqual([one.person.unsent.length, one.sync.online, one.sync.trouble], [0, true, null]);
  await one.sync.run();
  assert.equal(server.pushes().length, 1, "nothing is sent twice");
});

test("an answer that is lost makes the same op once", async () => {
  const one = await ready();
  await log(one, "2026-11-25");
  server.next(PUSH, "lost");
  await one.sync.run();
  assert.deepEqual([done().length, one.person.unsent.length, one.sync.online], [1, 1, false]);
  // Opened anew, as after a crash: the store says the same.
  const again = await tab();
  await again.session.begin(granted);
  await again.sync.run();
  const [first, second] = server.pushes();
  assert.deepEqual([first.ops[0].op_id, first.ops[0].n], [second.ops[0].op_id, second.ops[0].n]);
  assert.deepEqual([done().length, again.person.unsent.length], [1, 0]);
});

test("refused for now, everything stays and is tried again: when the server says, else later each time", async () => {
  const one = await ready();
  await log(one, "2026-11-25");
  server.next(PUSH, () => problem(429, "too_many", {}, { "Retry-After": "30" }));
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, one.sync.online], [1, true]);
  assert.ok(waits[0] >= 24_000 && waits[0] <= 36_000, String(waits[0]));
  for (const status of [500, 503, 502]) {
    server.next(PUSH, () => new Response("", { status }));
    await one.sync.run();
    assert.equal(one.person.unsent.length, 1);
  }
  const [, second, , last] = waits;
  assert.ok(last > second, waits.join(" "));
  assert.ok(one.sync.trouble);
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, done().length, one.sync.trouble], [0, 1, null]);
});

test("a page of the network is no answer, whatever its status", async () => {
  const one = await ready();
  await log(one, "2026-11-25");
  for (const answer of [portal, () => new Response("<p>Sign in", { status: 403, headers: { "Content-Type": "text/html" } })]) {
    server.next(PUSH, answer);
    await one.sync.run();
    assert.deepEqual([one.person.unsent.length, one.person.sync.acked, one.sync.online], [1, 0, false]);
    assert.match(one.sync.trouble, /Something else answered/);
  }
  // JSON that breaks off is none either.
  const broken = () => new Response("{\"outcomes\": [", { status: 200, headers: { "Content-Type": "application/json" } });
  server.next(PUSH, broken);
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, done().length], [1, 0]);
});

test("where nothing answers, that is a mark in the bar and no words that push what is touched", async () => {
  const one = await ready();
  server.next(PUSH, "cut");
  await log(one, "2026-11-25");
  await one.sync.run();
  assert.deepEqual([one.sync.online, one.sync.trouble], [false, null]);
});

test("what is refused is set aside with its reason, and holds back nothing", async () => {
  const one = await ready();
  server.decide = ({ n }) => [undefined, { outcome: "rejected", v: null, code: "forbidden", detail: "Not yours." },
    { outcome: "superseded", current: { outcome: "part" } }][n - 1];
  for (const on of ["2026-11-23", "2026-11-24", "2026-11-25"]) {
    await log(one, on);
  }
  await log(one, "2026-11-26");
  await one.sync.run();
  assert.equal(one.person.unsent.length, 0);
  const again = await tab();
  const [rejected, superseded, ...more] = again.person.aside.sort((a, b) => a.n - b.n);
  assert.deepEqual([rejected.set.on, rejected.code, rejected.detail], ["2026-11-24", "forbidden", "Not yours."]);
  assert.deepEqual([superseded.outcome, superseded.current, more.length], ["superseded", { outcome: "part" }, 0]);
  await again.person.dismiss(rejected.op_id);
  assert.equal((await tab()).person.aside.length, 1);
});

test("what stands on an op goes after its answer, with the version that was answered", async () => {
  const one = await ready();
  const first = await log(one, "2026-11-25");
  await log(one, "2026-11-25", null, first.op_id);
  await one.sync.run();
  assert.deepEqual(server.pushes().map(numbers), [[1], [2]]);
  assert.deepEqual(server.log.map((op) => op.base_v), [null, "1"]);
});

test("what stands on an op that was refused is sent all the same, and is the server's to judge", async () => {
  const one = await ready();
  server.decide = ({ n }) => (n === 1 ? { outcome: "rejected", v: null, code: "forbidden" } : undefined);
  const first = await log(one, "2026-11-25");
  await log(one, "2026-11-25", null, first.op_id);
  await one.sync.run();
  assert.deepEqual([server.log[1].base_v, one.person.unsent.length, one.person.aside.length], [null, 0, 1]);
});

test("done while a push is under way, it goes with the next", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  server.next(PUSH, async () => {
    await log(one, "2026-11-25");
    void one.sync.run();
  });
  await one.sync.run();
  assert.deepEqual(done(), ["2026-11-24", "2026-11-25"]);
  assert.equal(one.person.unsent.length, 0);
});

test("two tabs send once", async () => {
  const one = await ready();
  const other = await tab();
  await other.session.begin(granted);
  await other.sync.run();
  await log(one, "2026-11-25");
  // The first answer takes a while, in which the other tab would send too.
  server.next(PUSH, async () => {
    for (let turn = 0; turn < 100; turn += 1) {
      await new Promise((resolve) => setImmediate(resolve));
    }
  });
  await Promise.all([one.sync.run(), other.sync.run()]);
  assert.deepEqual([server.pushes().length, done().length], [1, 1]);
  await other.person.reload();
  assert.deepEqual([one.person.unsent.length, other.person.unsent.length], [0, 0]);
});

test("rows that another tab brought are shown once they are read again", async () => {
  const one = await ready();
  const other = await tab();
  const names = ({ person }) => person.view.list("pupil").map((pupil) => pupil.name);
  server.pages = [[{ scope: "group:a", kind: "pupil", id: "p", v: "1", is: "put", body: { name: "Zoe" } }]];
  await one.sync.run();
  assert.deepEqual([names(one), names(other)], [["Zoe"], []]);
  // What is noted meanwhile does not pass for having read them.
  await other.person.note({ registered: false });
  await other.person.reload();
  assert.deepEqual(names(other), ["Zoe"]);
  // Nothing changed since: they stay.
  await other.person.reload();
  assert.deepEqual(names(other), ["Zoe"]);
});

test("a gap is closed by sending from where the server is; nothing was lost", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  await one.sync.run();
  // The server forgot the last op, and says so.
  const [replica] = server.replicas.values();
  replica.last = 0;
  replica.outcomes.clear();
  server.log.length = 0;
  await log(one, "2026-11-25");
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length], [["2026-11-24", "2026-11-25"], 0]);
});

test("a store that was copied becomes another, and sends what was not answered under new numbers", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  await one.sync.run();
  const before = one.person.sync.replica;
  await log(one, "2026-11-25");
  server.next(PUSH, () => problem(422, "op_reused"));
  await one.sync.run();
  assert.notEqual(one.person.sync.replica, before);
  assert.deepEqual([done(), numbers(server.pushes().at(-1))], [["2026-11-24", "2026-11-25"], [1]]);
});

test("a push that is too large is halved until it fits", async () => {
  const one = await ready();
  for (let n = 1; n < 6; n += 1) {
    await log(one, `2026-11-0${n}`);
  }
  server.next(PUSH, () => problem(413, "too_large"));
  server.next(PUSH, () => problem(413, "too_large"));
  await one.sync.run();
  assert.deepEqual(server.pushes().map((push) => push.ops.length), [5, 3, 2, 3]);
  assert.equal(done().length, 5);
});

test("a server brought back from a backup is sent again what it lost", async () => {
  const one = await ready();
  for (const on of ["2026-11-24", "2026-11-25"]) {
    await log(one, on);
    await one.sync.run();
  }
  const [replica] = server.replicas.values();
  replica.last = 1;
  replica.outcomes.delete(2);
  server.log.pop();
  server.epoch = "two";
  await one.sync.run();
  assert.deepEqual([done(), one.person.unsent.length, one.person.sync.epoch], [["2026-11-24", "2026-11-25"], 0, "two"]);
});

test("a sign-in that has ended keeps everything, and says what to do", async () => {
  const one = await ready();
  await log(one, "2026-11-25");
  server.next(PUSH, () => problem(401, "signed_out"));
  server.next("/sessions/refresh", () => problem(401, "bad_refresh_token"));
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, one.session.ended], [1, true]);
  assert.match(one.sync.trouble, /Sign in again/);
  await one.session.begin(granted);
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, done().length], [0, 1]);
});

test("a refresh token that is refused for good is not asked for again, until somebody signs in, in whatever tab", async () => {
  const one = await ready();
  await log(one, "2026-11-25");
  server.always[PUSH] = () => problem(401, "signed_out");
  server.always["/sessions/refresh"] = () => problem(401, "bad_refresh_token");
  const asked = () => server.asked.filter(([path]) => path === "/sessions/refresh").length;
  for (let n = 0; n < 5; n += 1) {
    await one.sync.run();
    await assert.rejects(one.session.stream("/sync/events", new AbortController().signal), { code: "bad_refresh_token" });
  }
  assert.deepEqual([asked(), one.session.ended, one.person.unsent.length], [1, true, 1]);
  Object.keys(server.always).forEach((path) => delete server.always[path]);
  server.always["/sessions/refresh"] = ({ refresh_token }) =>
    new Response(JSON.stringify({ ...granted, refresh_token: `${refresh_token}+` }), { status: 200, headers: { "Content-Type": "application/json" } });
  const other = await tab();
  await other.session.begin({ ...granted, refresh_token: "new" });
  await one.sync.run();
  assert.deepEqual([asked(), one.session.ended, one.person.unsent.length, done()], [2, false, 0, ["2026-11-25"]]);
});

test("once nothing says any more when to look, it is looked within the minute", async () => {
  const one = await ready();
  one.sync.told = true;
  await one.sync.run();
  assert.ok(waits.at(-1) >= 480_000, waits.join(" "));
  one.sync.told = false;
  assert.ok(waits.at(-1) >= 48_000 && waits.at(-1) <= 72_000, waits.join(" "));
});

test("rows and cursors are kept together or not at all", async () => {
  const one = await ready();
  const row = (id) => ({ scope: "group:a", kind: "pupil", id, v: "1", is: "put", body: { name: id } });
  const names = (person) => person.view.list("pupil").map((pupil) => pupil.name);
  server.pages = [[row("Zoe")], [row("Max")]];
  // No room left when the second page is put down.
  let boxes = 0;
  fakes.refuses = (store, key) => {
    if (store === "boxes" && String(key).startsWith("rows") && (boxes += 1) === 2) {
      throw new DOMException("full", "QuotaExceededError");
    }
  };
  const cursors = one.person.sync.cursors;
  await one.sync.run();
  assert.match(one.sync.trouble, /no room left/);
  const again = await tab();
  assert.deepEqual([names(one.person), names(again.person)], [["Zoe"], ["Zoe"]]);
  assert.deepEqual(again.person.sync.cursors, cursors);
  server.pages = [[row("Max")]];
  await one.sync.run();
  assert.deepEqual([names(one.person), one.sync.trouble], [["Zoe", "Max"], null]);
});

test("what could not be written down was not done", async () => {
  const one = await ready();
  fakes.refuses = (store) => {
    if (store === "ops") {
      throw new DOMException("full", "QuotaExceededError");
    }
  };
  await assert.rejects(log(one, "2026-11-25"));
  fakes.refuses = undefined;
  const again = await tab();
  assert.deepEqual([again.person.unsent.length, again.person.sync.next], [0, 1]);
  await log(again, "2026-11-25");
  assert.equal(await people.unsentOf(one.person.staff_id), 1);
});

test("an answer that leaves something out is no answer to that", async () => {
  const one = await ready();
  await log(one, "2026-11-24");
  await log(one, "2026-11-25");
  server.next(PUSH, async (said) => {
    const answer = await server.fetch("/api/v1/sync/push", { body: JSON.stringify(said) });
    const { outcomes } = await answer.json();
    return new Response(JSON.stringify({ outcomes: outcomes.slice(0, 1) }), { headers: { "Content-Type": "application/json" } });
  });
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, one.sync.trouble !== null], [1, true]);
  await one.sync.run();
  assert.deepEqual([one.person.unsent.length, done().length], [0, 2]);
});
