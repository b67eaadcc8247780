// Two children of one name are told apart by what differs, or it is said that nothing does.

import assert from "node:assert/strict";
import { test } from "node:test";

import { app } from "./fake_dom.js";

const { called, pupil } = await import("../../api/client/screens/facts.js");

/** What `called` says of each of these. */
const names = (pupils) => {
  const rows = { class: [{ id: "l", name: "Linden" }, { id: "h", name: "Hazel" }],
    school: [{ year_groups: [{ code: "1", label: "Year 1" }, { code: "2", label: "Year 2" }] }],
    pupil: pupils.map((one, at) => ({ id: `p${at}`, name: "Max Fox", class_ids: ["l"], year_group: "1", ...one })) };
  const list = (kind, where = {}) => rows[kind].filter((row) => Object.entries(where).every(([key, value]) => row[key] === value));
  app.store = { list, get: (kind, id) => list(kind, { id })[0] };
  return rows.pupil.map((one) => called(pupil(one.id)));
};

test("one alone needs nothing beside the name", () => {
  assert.deepEqual(names([{}, { name: "Mei Fox" }]), ["Max Fox", "Mei Fox"]);
});

test("what differs is said: the label staff chose, else the class, else the year group", () => {
  assert.deepEqual(names([{}, { class_ids: ["h"] }]), ["Max Fox (Linden)", "Max Fox (Hazel)"]);
  assert.deepEqual(names([{}, { year_group: "2" }]), ["Max Fox (Year 1)", "Max Fox (Year 2)"]);
  assert.deepEqual(names([{ label: "blue glasses" }, { label: "M" }]), ["Max Fox (blue glasses)", "Max Fox (M)"]);
  assert.deepEqual(names([{ label: "M" }, { label: "M", class_ids: ["h"] }]), ["Max Fox (Linden)", "Max Fox (Hazel)"]);
});

test("a class that both are in tells nothing, and that is said", () => {
  assert.deepEqual(names([{}, {}]), ["Max Fox (no label yet)", "Max Fox (no label yet)"]);
  assert.deepEqual(names([{ label: "M" }, {}]), ["Max Fox (M)", "Max Fox (no label yet)"]);
});
