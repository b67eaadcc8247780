// What was done on this tablet, in words: for the list of what waits, of what was not taken, and for a file that is carried.

import { app } from "../lib/app.js";
import { inWords } from "./aside.js";
import { called, itemName, pupil } from "./facts.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Op} Op */
/** One thing that was done: what, of whom and which day, what it says. @typedef {{what: string, about: string, says: string, at: string}} Line */

/**
 * @param {Op} op
 * @returns {Line}
 */
export const inLine = (op) => ({ what: say(op.type), about: about(op), says: says(op), at: op.at });

/**
 * Which group, child and day it is of.
 * @param {Op} op
 */
function about({ set }) {
  const group = set.group_id && (app.store.get("group", set.group_id)?.name ?? "a group not kept on this tablet");
  return [group, set.pupil_id && called(pupil(set.pupil_id)), set.on && app.day(set.on)].filter(Boolean).join(", ");
}

/** @param {Op} op */
function says({ type, set }) {
  switch (type) {
    case "lesson.record":
      return inWords({ ...set, version_id: set.version_id ?? null });
    case "catch_up.record":
      return `${set.items.map(itemOf).join(", ")}: ${set.pupil_ids.map((/** @type {string} */ id) => called(pupil(id))).join(", ")}`;
    case "sitting.answer":
      return set.answers.map((/** @type {any} */ one) => answer(set, one)).join("; ");
    default:
      return "";
  }
}

/** @param {string} id */
const itemOf = (id) => {
  const label = app.store.list("sequence_version").length ? itemName({ id, label: "" }) : "";
  return label || "an item not kept on this tablet";
};

/**
 * @param {any} set
 * @param {any} one
 */
function answer(set, one) {
  const check_id = set.check_id ?? app.store.get("sitting", set.sitting_id ?? "")?.check_id;
  const items = app.store.get("check", check_id ?? "")?.items ?? [];
  const prompt = items.find((/** @type {any} */ item) => item.id === one.item_id)?.prompt ?? "an item";
  return `${prompt}: ${say(one.outcome).toLowerCase()}`;
}

/**
 * The days that some of it is of, each once, in words.
 * @param {Op[]} ops
 */
export const days = (ops) =>
  [...new Set(ops.map((op) => op.set.on).filter(Boolean))].sort().map((on) => app.day(on)).join(", ");
