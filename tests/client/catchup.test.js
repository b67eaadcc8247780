// What of a catch-up set is left once some of it was taught, and how many minutes it was made for.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shown } from "./fake_dom.js";

const { default: catchUp } = await import("../../api/client/screens/catchup.js");

const TODAY = "2026-11-25";
const group = { id: "g", name: "Blue", sequence_id: "q", adults: [{ staff_id: "ada", from: "2026-09-01", until: null }] };
const made = (items, pupils, minutes) => ({ minutes, items: items.map((item_id) => ({ item_id, label: item_id })),
  pupils: pupils.map((id) => ({ id, name: `Child ${id}`, apart: null })) });

/** The screen for which the server makes these sets; what is done is done. */
const over = async (sets, asked = []) => {
  const rows = { group: [group], sequence_version: [], catch_up: [] };
  const screen = await shown(catchUp, { group_id: "g" }, rows, {
    kept: async () => ({ body: { items: [], pupils: [] }, at: `${TODAY}T10:00:00Z`, fresh: true }),
    ask: async (_path, { body }) => asked.push(body.adults[0].minutes) && { sets },
    act: async (_type, set) => void rows.catch_up.push({ entered_by: "ada", waiting: true, ...set }),
  });
  const press = async (words) => {
    await screen.press(words);
    await screen.draw();
  };
  return { ...screen, press, rows };
};

test("of a set only those are left who were not taught it, and with them what they were not taught", async () => {
  const screen = await over([made(["m"], ["p1", "p2", "p3"], 4), made(["o", "t"], ["p1", "p2"], 6)]);
  await screen.submit();
  await screen.tick("Child p2", false);
  await screen.press("Taught now to those ticked: m");
  assert.deepEqual(screen.acts.at(-1)[1].pupil_ids, ["p1", "p3"]);
  assert.match(screen.text(), /For these minutesm \(4 minutes\)1 pupilChild p2Taught now to those ticked: m \(4 minutes\)o, t \(6 minutes\)2 pupilsChild p1Child p2/);
  // Who was not ticked on the first is ticked on the second.
  await screen.tick("Child p2", true);
  await screen.press("Taught now to those ticked: m");
  assert.deepEqual(screen.acts.at(-1)[1].pupil_ids, ["p2"]);
  assert.match(screen.text(), /For these minuteso, t \(6 minutes\)2 pupils/);
  // One of the two was taught on its own: the other is left, and for the second child both.
  const record = { id: "c9", group_id: "g", on: TODAY, items: ["o"], pupil_ids: ["p1"], entered_by: "ada", waiting: false };
  screen.rows.catch_up.push(record);
  await screen.draw();
  assert.match(screen.text(), /For these minuteso, t \(6 minutes\)2 pupils/);
  record.pupil_ids = ["p1", "p2"];
  screen.rows.catch_up = [...screen.rows.catch_up.slice(0, -1), { ...record, id: "d9" }];
  await screen.draw();
  assert.match(screen.text(), /For these minutest \(6 minutes\)2 pupils/);
  await screen.press("Taught now to those ticked: t");
  assert.deepEqual(screen.acts.at(-1)[1].items, ["t"]);
  assert.match(screen.text(), /Nothing is left to teach in them\./);
});

test("the minutes that were entered stay", async () => {
  const asked = [];
  const screen = await over([made(["m"], ["p1"], 4)], asked);
  assert.equal(screen.one("minutes").value, 10);
  await screen.type("minutes", "8");
  await screen.submit();
  assert.deepEqual(asked, [8]);
  assert.equal(Number(screen.one("minutes").value), 8);
  await screen.press("Taught now to those ticked: m");
  assert.equal(Number(screen.one("minutes").value), 8);
});
