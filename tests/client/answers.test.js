// Which answers of a child stand, and what is asked next.

import assert from "node:assert/strict";
import { test } from "node:test";

import { open, standing } from "../../api/client/screens/answers.js";

const answer = (id, item_id, outcome, corrects = null, sitting_id = "s") => ({ id, item_id, outcome, corrects, sitting_id });
const ids = (rows) => rows.map((one) => one.id);
const check = { items: [{ id: "11" }, { id: "12" }, { id: "13" }] };

test("an answer stands as it was corrected last, and one taken back not at all", () => {
  const all = [
    answer("1", "11", "wrong"),
    answer("2", "12", "not_offered"),
    answer("3", "13", "right"),
    answer("4", "11", "right", "1"),
    answer("5", "11", "no_response", "4"),
    answer("6", "13", "not_offered", "3"),
  ];
  assert.deepEqual(ids(standing(all)), ["2", "5"]);
  assert.deepEqual(ids(open(check, standing(all), "s")), ["13"]);
  // Asked again.
  assert.deepEqual(ids(standing([...all, answer("7", "13", "wrong")])), ["2", "5", "7"]);
});

test("a correction of a tablet whose clock is behind counts all the same", () => {
  const all = [answer("1", "11", "right", "9"), answer("9", "11", "wrong")];
  assert.deepEqual(ids(standing(all)), ["1"]);
});

test("what another sitting left out is asked again, what it answered is not", () => {
  const all = standing([answer("1", "11", "right", null, "before"), answer("2", "12", "not_offered", null, "before")]);
  assert.deepEqual(ids(open(check, all, "now")), ["12", "13"]);
  assert.deepEqual(ids(open(check, all, "before")), ["13"]);
});
