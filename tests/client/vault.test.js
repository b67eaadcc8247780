// The keys of a store: what opens it, and what is left when part of it is thrown away.

import assert from "node:assert/strict";
import { test } from "node:test";

import * as vault from "../../api/client/lib/vault.js";

test("the PIN opens what it closed, and no other does", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  const box = await vault.encrypt(keys, { name: "Zo Bell" });
  assert.ok(!new TextDecoder("latin1").decode(box.bytes).includes("Zo Bell"));
  const opened = await vault.open(sealed, "carpet-27");
  assert.deepEqual(await vault.decrypt(opened.keys, box), { name: "Zo Bell" });
  assert.equal(await vault.open(sealed, "carpet-28"), null);
  assert.deepEqual(opened.sealed, sealed, "nothing to write down anew");
});

test("what was sealed outlives the data key", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  const box = await vault.encrypt(keys, { name: "Zo Bell" });
  const letter = await vault.seal(keys.open, { pupil_id: "p" });
  const after = await vault.open({ ...sealed, data: null }, "carpet-27");
  assert.deepEqual(await vault.unseal(after.keys, letter), { pupil_id: "p" });
  await assert.rejects(vault.decrypt(after.keys, box));
  const again = await vault.open(after.sealed, "carpet-27");
  assert.deepEqual(await vault.decrypt(again.keys, await vault.encrypt(after.keys, 1)), 1);
});

test("a changed PIN opens the same, and the old one nothing", async () => {
  const { keys, sealed } = await vault.make("carpet-27");
  const box = await vault.encrypt(keys, "kept");
  const letter = await vault.seal(keys.open, "done");
  assert.equal(await vault.changed(sealed, "wrong-27", "corridor-3"), null);
  const now = await vault.changed(sealed, "carpet-27", "corridor-3");
  assert.equal(await vault.open(now, "carpet-27"), null);
  const opened = await vault.open(now, "corridor-3");
  assert.deepEqual([await vault.decrypt(opened.keys, box), await vault.unseal(opened.keys, letter)], ["kept", "done"]);
});

test("short PINs and runs of digits are refused", () => {
  for (const pin of ["12345", "123456", "987654", "777777"]) {
    assert.ok(vault.weakness(pin), pin);
  }
  for (const pin of ["271828", "carpet", "112233"]) {
    assert.equal(vault.weakness(pin), null, pin);
  }
});
