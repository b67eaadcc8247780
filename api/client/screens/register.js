// The register of a lesson: everybody is here until somebody says otherwise, one touch a child.

import { choice, fill, h, name, tick } from "./dom.js";
import { called, members, recordsOf } from "./facts.js";
import { awayBefore } from "./order.js";
import { nth, say } from "./words.js";

/**
 * What is said of one pupil: `missed` counts for who is late, and says that what was taught was over.
 * @typedef {{mark: "present" | "late" | "absent", missed: boolean}} Mark
 */

/** @type {[Mark["mark"], string][]} */
const MARKS = [
  ["present", say("present")],
  ["late", say("late")],
  ["absent", say("absent")],
];

/**
 * The marks a register begins with: everybody is here, but for who was away in the lesson before on the same day.
 * @param {string} group_id
 * @param {string} on
 * @param {number} slot
 * @param {string | undefined} half  of the day, by the timetable
 * @returns {Map<string, Mark>}
 */
export function begun(group_id, on, slot, half) {
  const due = new Set(members(group_id, on, half).map((one) => one.id));
  const away = awayBefore(recordsOf(group_id, on), slot).filter((id) => due.has(id));
  return new Map(away.map((id) => [id, { mark: "absent", missed: false }]));
}

/**
 * The marks of those who are drawn: what nobody sees is not sent.
 * @param {Map<string, Mark>} marks
 * @param {{id: string}[]} pupils
 * @returns {Map<string, Mark>}
 */
export function drawn(marks, pupils) {
  const there = new Set(pupils.map((one) => one.id));
  return new Map([...marks].filter(([id]) => there.has(id)));
}

/**
 * That a register did not begin with everybody here.
 * @param {number} slot
 * @param {number} away
 */
export const begunWith = (slot, away) =>
  away > 0 &&
  h("p", { class: "quiet" }, `Who was away in the ${nth(slot - 1)} lesson of the day is marked away here too. Change it where they came.`);

/**
 * The register's list.
 * @param {{id: string, name: string, apart: string | null}[]} pupils
 * @param {Map<string, Mark>} marks   of those who are not simply here; it is changed as the list is
 * @param {() => void} changed
 */
export function registerList(pupils, marks, changed) {
  if (!pupils.length) {
    return h("p", {}, "No pupil is in this group on that day.");
  }
  return h(
    "ul",
    { class: "register" },
    pupils.map((pupil) => line(pupil, marks, changed)),
  );
}

/**
 * @param {{id: string, name: string, apart: string | null}} pupil
 * @param {Map<string, Mark>} marks
 * @param {() => void} changed
 */
function line(pupil, marks, changed) {
  const late = h("div", { class: "late" });
  const now = marks.get(pupil.id)?.mark ?? "present";
  const choose = (/** @type {Mark["mark"]} */ mark) => {
    if (mark === "present") {
      marks.delete(pupil.id);
    } else {
      marks.set(pupil.id, { mark, missed: mark === "late" && Boolean(marks.get(pupil.id)?.missed) });
    }
    fill(late, mark === "late" && lateness(pupil, marks));
    changed();
  };
  fill(late, now === "late" && lateness(pupil, marks));
  return h(
    "li",
    {},
    choice("m" + pupil.id, name(called(pupil)), MARKS, now, choose, { class: "choice marks" }),
    late,
  );
}

/**
 * @param {{id: string}} pupil
 * @param {Map<string, Mark>} marks
 */
function lateness(pupil, marks) {
  const missed = marks.get(pupil.id)?.missed ?? false;
  const changed = (/** @type {boolean} */ on) => void marks.set(pupil.id, { mark: "late", missed: on });
  return tick("Came after the new part, so missed it", missed, changed);
}

/**
 * The register as a record of a lesson holds it: those who were absent or late.
 * @param {Map<string, Mark>} marks
 */
export const entries = (marks) =>
  [...marks].map(([pupil_id, { mark, missed }]) => ({ pupil_id, mark, ...(mark === "late" ? { missed } : {}) }));
