// What is sent of what waits, and what a revoked tablet still hands over, without a server.

import assert from "node:assert/strict";
import { test } from "node:test";

import { batch, handOver } from "../../api/client/lib/outbox.js";
import { Problem } from "../../api/client/lib/problem.js";

const op = (n, base_op = null, base_v = null) => ({ n, op_id: `op${n}`, type: "lesson.record", base_v, base_op, makes: null,
  at: "2026-11-25T09:00:00Z", tz: "UTC", set: { n } });
const bases = (ops) => ops.map((one) => [one.n, one.base_v]);

test("an op stands on the version that the one before made, and on nothing its author has not seen", () => {
  const standing = [op(2, "op1", "4")];
  assert.deepEqual(bases(batch(standing, { op1: { outcome: "applied", v: "7" } }, 100)), [[2, "7"]]);
  // What stands is another's record: to delete or change that, one has to have seen it.
  assert.deepEqual(bases(batch(standing, { op1: { outcome: "superseded", v: "9" } }, 100)), [[2, "4"]]);
  assert.deepEqual(bases(batch([op(2, "op1")], { op1: { outcome: "superseded", v: "9" } }, 100)), [[2, null]]);
  assert.deepEqual(bases(batch(standing, { op1: { outcome: "rejected", v: null } }, 100)), [[2, "4"]]);
  assert.deepEqual(bases(batch(standing, {}, 100)), [[2, "4"]]);
});

test("a batch ends before an op that stands on another of it, and holds nothing but what the server takes", () => {
  const ops = [op(1), op(2), op(3, "op1"), op(4)];
  assert.deepEqual(bases(batch(ops, {}, 100)), [[1, null], [2, null]]);
  assert.deepEqual(bases(batch(ops, {}, 1)), [[1, null]]);
  assert.deepEqual(Object.keys(batch(ops, {}, 1)[0]).sort(), ["at", "base_v", "n", "op_id", "set", "type", "tz"].sort());
});

/** Hands over what waits to a server that answers each push in turn; what it was sent. */
const handed = async (unsent, most, answers) => {
  const pushes = [];
  const push = (ops) => {
    pushes.push(ops.map((one) => one.n));
    return Promise.reject(new Problem(...answers(pushes.length, ops)));
  };
  const failed = await handOver(unsent, {}, most, push).then(() => null, (error) => error.status);
  return { pushes, failed };
};

test("a revoked tablet hands over everything, batch by batch", async () => {
  const held = () => [403, { code: "tablet_revoked" }];
  const unsent = [op(1), op(2, "op1"), op(3), op(4), op(5)];
  assert.deepEqual(await handed(unsent, 2, held), { pushes: [[1, 2], [3, 4], [5]], failed: null });
  const smaller = (_nth, ops) => (ops.length > 1 ? [413, { code: "too_large" }] : held());
  assert.deepEqual((await handed(unsent.slice(0, 2), 2, smaller)).pushes, [[1, 2], [1], [2]]);
});

test("what the server does not say that it holds is not handed over, and waits for later", async () => {
  const others = [[0, {}], [401, {}], [429, {}], [500, {}], [503, {}], [409, { code: "holds_no_more" }],
    [404, { code: "not_found" }], [422, { code: "invalid" }], [403, { code: "forbidden" }], [413, { code: "too_large" }]];
  for (const other of others) {
    const at_the_second = (nth) => (nth === 2 ? other : [403, { code: "tablet_revoked" }]);
    assert.deepEqual(await handed([op(1), op(2), op(3)], 1, at_the_second), { pushes: [[1], [2]], failed: other[0] });
  }
  // Nor is what it took as if nothing were wrong.
  await assert.rejects(handOver([op(1)], {}, 1, () => Promise.resolve({ outcomes: [] })), { status: 500 });
});
