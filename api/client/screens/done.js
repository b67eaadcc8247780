// What was done on this tablet, in words: for the list of what waits, of what was not taken, and for a file that is carried.

import { app } from "../lib/app.js";
import { inWords } from "./aside.js";
import { h } from "./dom.js";
import { called, itemName, pupil } from "./facts.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Op} Op */
/** @typedef {import("../lib/app.js").Line} Line */
/** What is done, of what is kept here at that moment. @typedef {{type: string, set: any}} Deed */

/**
 * @param {Deed} deed
 * @returns {Line}
 */
export const inLine = (deed) => ({ what: say(deed.type), about: about(deed), says: says(deed) });

/**
 * The words of what was done: those of then, as what they name may not be kept here any more.
 * @param {Op} op
 */
export const lineOf = (op) => op.line ?? inLine(op);

/**
 * All of a line, as much as is needed to enter it by hand.
 * @param {Line} line
 */
export const inFull = ({ what, about, says }) => [h("strong", {}, what), about && `, ${about}`, says && [h("br"), says]];

/**
 * The record that is deleted, where it is kept here.
 * @param {Deed} deed
 */
const deleted = ({ type, set }) =>
  app.store.get(type === "lesson.delete" ? "lesson_record" : "catch_up", type.endsWith(".delete") ? set.id : "");

/**
 * Which group, child and day it is of.
 * @param {Deed} deed
 */
function about(deed) {
  const of = { ...deleted(deed), ...deed.set };
  const group = of.group_id && (app.store.get("group", of.group_id)?.name ?? "a group not kept on this tablet");
  return [group, of.pupil_id && called(pupil(of.pupil_id)), of.on && app.day(of.on)].filter(Boolean).join(", ");
}

/** @param {Deed} deed */
function says(deed) {
  const { type, set } = deed;
  const of = deleted(deed) ?? set;
  const before = app.store.get("response", set.response_id ?? set.of ?? "");
  switch (type) {
    case "lesson.record":
    case "lesson.delete":
      return of.outcome ? inWords({ ...of, version_id: of.version_id ?? null }) : "";
    case "catch_up.record":
    case "catch_up.delete":
      return of.items ? `${of.items.map(itemOf).join(", ")}: ${of.pupil_ids.map((/** @type {string} */ id) => called(pupil(id))).join(", ")}` : "";
    case "sitting.begin":
      return say(app.store.get("check", set.check_id)?.kind);
    case "sitting.answer":
      return set.answers.map((/** @type {any} */ one) => answer(set, one)).join("; ");
    case "sitting.undo":
      return before ? answer(before, before) : "";
    case "response.correct":
      return answer(before ?? set, { ...set, item_id: before?.item_id });
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
