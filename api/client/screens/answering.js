// How a child answers, for whoever marks: the usual sounds that are no mistakes, and the way of answering that is written
// down with each answer.

import { app } from "../lib/app.js";
import { h } from "./dom.js";
import { sounding } from "./sounds.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

const MODES = ["spoken", "choosing", "communication_aid", "sign", "eye_gaze", "written"];

/** Ways of answering chosen in a sitting, by its id, until the page is left. @type {Map<string, string>} */
const chosen = new Map();

/**
 * @param {string | undefined} pupil_id
 * @returns {Row | undefined}
 */
const noteOf = (pupil_id) => app.store.get("pupil_answering", pupil_id ?? "");

/**
 * What is usual for this child, where there is something to know.
 * @param {string} pupil_id
 */
export function usually(pupil_id) {
  const note = noteOf(pupil_id);
  const speech = note?.speech ?? [];
  const sound = (/** @type {any} */ one) =>
    h("li", {}, one.said ? `says ${sounding(one.said)} for ${sounding(one.sound)}` : `leaves out ${sounding(one.sound)}`);
  return (
    note &&
    (speech.length > 0 || note.mode !== "spoken") &&
    h(
      "div",
      { class: "notice" },
      h("p", {}, `Usually ${say(note.mode)}. Usual sounds are no mistakes.`),
      speech.length > 0 && h("ul", {}, speech.map(sound)),
    )
  );
}

/**
 * The way of answering in a sitting: the child's usual one until another is chosen.
 * @param {Row | undefined} sitting
 * @returns {{mode: () => string, shown: HTMLElement}}
 */
export function answersBy(sitting) {
  const id = sitting?.id ?? "";
  const mode = () => chosen.get(id) ?? noteOf(sitting?.pupil_id)?.mode ?? "spoken";
  const choose = (/** @type {any} */ event) => void chosen.set(id, event.target.value);
  const field = h(
    "select",
    { id: "mode", value: mode(), onchange: choose },
    MODES.map((code) => h("option", { value: code }, say(code))),
  );
  return { mode, shown: h("p", { class: "field" }, h("label", { for: "mode" }, "The child"), field) };
}
