// The form of a lesson, as it is made of what comes next or of a record, and what of one still fits when the record it was
// made from is another by now.

import { app } from "../lib/app.js";
import { sameLesson } from "./aside.js";
import { halfOf, members, plan, recordOf, recordsOf, version } from "./facts.js";
import { freeSlot, lessons } from "./order.js";
import { drawn } from "./register.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** @typedef {import("./register.js").Mark} Mark */

/**
 * What the form says. `lesson` is the planned one with its items; `items` those taken as taught in a part.
 * @typedef {object} Form
 * @property {string} group_id
 * @property {Row | null} record   what is changed; null for a new one
 * @property {Row | null} seen     the same as it was kept here when the form was made
 * @property {Written} first       what the form said when it was made
 * @property {string} on
 * @property {number} slot
 * @property {string} outcome
 * @property {any} lesson
 * @property {any} planned         the lesson that is next by the sequence, or was chosen in its place
 * @property {any} next            the same as it was when the form was made, with what is left of it
 * @property {any[]} all           every lesson of the version
 * @property {Set<string>} items
 * @property {string | null} reason
 * @property {Map<string, Mark>} marks
 * @property {number} carried      how many were marked away from the lesson before, until a mark is changed
 * @property {boolean} marked      whether a mark was changed
 * @property {boolean} [settles]   whether all that was set aside of the record was shown
 * @property {string} taught_by
 * @property {string | undefined} version_id
 * @property {"left" | "changed"} [goesOn]  that it was left and goes on, over a record that was changed meanwhile or not
 * @property {boolean} [over]      whether what it says is being saved
 * @property {Promise<any>} [kept] the last writing of it as a draft
 * @property {boolean} [unkept]    whether it could not be kept as a draft
 */

/**
 * What a form says, in ids and codes alone. `lesson` and `planned` are ids; `marks` by pupil.
 * @typedef {object} Written
 * @property {string} on
 * @property {number} slot
 * @property {string} outcome
 * @property {string | null} planned
 * @property {string | null} lesson
 * @property {string[]} items
 * @property {string | null} reason
 * @property {{[pupil_id: string]: Mark}} marks
 * @property {boolean} marked
 * @property {string} taught_by
 */

/**
 * @param {Omit<Form, "first">} form
 * @returns {Form}
 */
const made = (form) => ({ ...form, first: written(form) });

/**
 * @param {Omit<Form, "first">} form
 * @returns {Written}
 */
export const written = ({ on, slot, outcome, planned, lesson, items, reason, marks, marked, taught_by }) => ({
  on,
  slot,
  outcome,
  planned: planned?.id ?? null,
  lesson: lesson?.id ?? null,
  items: [...items].sort(),
  reason,
  marks: Object.fromEntries(marks),
  marked,
  taught_by,
});

/**
 * A form that says what was written of it.
 * @param {Form} form
 * @param {Written} said
 * @returns {Form}
 */
export function filled(form, said) {
  const of = (/** @type {string | null} */ id) => form.all.find((one) => one.id === id);
  // Of the lesson that is next, only what is left of it.
  const planned = (form.next?.id === said.planned ? form.next : of(said.planned)) ?? form.planned;
  const lesson = said.lesson === said.planned ? planned : (of(said.lesson) ?? planned);
  return { ...form, ...said, planned, lesson, items: new Set(said.items), marks: new Map(Object.entries(said.marks)) };
}

/** What can be said of a record beside the marks. @type {(keyof Written)[]} */
const FIELDS = ["outcome", "planned", "lesson", "items", "reason", "taught_by"];

const same = (/** @type {any} */ one, /** @type {any} */ other) => JSON.stringify(one) === JSON.stringify(other);

/**
 * A form with what was changed in another one: of what was not, and of pupils who are not drawn, it says what it said.
 * @param {Form} form
 * @param {Written} first  what the other said when it was made
 * @param {Written} mine   what it says now
 * @returns {Form}
 */
export function merged(form, first, mine) {
  const theirs = written(form);
  const fields = FIELDS.filter((field) => !same(first[field], mine[field])).map((field) => [field, mine[field]]);
  const marks = new Map(form.marks);
  for (const { id } of members(form.group_id, form.on, halfOf(form.group_id, form.on, form.slot))) {
    const mark = mine.marks[id];
    if (!same(first.marks[id], mark)) {
      mark ? marks.set(id, mark) : marks.delete(id);
    }
  }
  return filled(form, { ...theirs, ...Object.fromEntries(fields), marks: Object.fromEntries(marks) });
}

/**
 * Whether two say the same of a lesson, in whatever order they name the pupils.
 * @param {Written} one
 * @param {Written} other
 */
export function sameForm(one, other) {
  const ids = Object.keys({ ...one.marks, ...other.marks });
  return FIELDS.every((field) => same(one[field], other[field])) && ids.every((id) => same(one.marks[id], other.marks[id]));
}

/**
 * Whether two records say the same of a lesson, who taught it and what of it.
 * @param {Row | null} one
 * @param {Row | null} other
 */
function alike(one, other) {
  const part = (/** @type {Row} */ of) => (of.outcome === "part" ? [...(of.items ?? [])].sort() : []);
  return one && other
    ? sameLesson(one, other) && one.taught_by === other.taught_by && same(part(one), part(other))
    : one === other;
}

/**
 * Whether the record is another than the one the form was made from, as it was kept here or as the server had it. That the
 * server has it by now makes it no other.
 * @param {Form} form
 */
export function changed(form) {
  const now = recordOf(form);
  return !form.over && !alike(form.seen, now) && !(now && alike(form.record, now));
}

/**
 * A form for what comes next.
 * @param {string} group_id
 * @returns {Promise<Form>}
 */
export async function fresh(group_id) {
  const next = await plan(group_id);
  const on = app.today();
  return made({
    group_id,
    record: null,
    seen: null,
    on,
    slot: freeSlot(recordsOf(group_id, on), next.due),
    outcome: "delivered",
    lesson: next.lesson,
    planned: next.lesson,
    next: next.lesson,
    all: lessons(version(group_id, next.version_id)),
    items: new Set(),
    reason: null,
    marks: new Map(),
    carried: 0,
    marked: false,
    taught_by: app.me?.staff_id ?? "",
    version_id: next.version_id,
  });
}

/**
 * A form for a record there is.
 * @param {Row} record  with the version to change it by
 * @param {Row} seen    as it is kept here
 * @returns {Form}
 */
export function again(record, seen) {
  const all = lessons(version(record.group_id, record.version_id));
  const form = { group_id: record.group_id, record, seen, on: record.on, slot: record.slot ?? 1, all };
  return made({ ...form, ...said(all, record), taught_by: record.taught_by, version_id: record.version_id });
}

/**
 * What a record says of a lesson, as a form says it.
 * @param {any[]} all  every lesson of its version
 * @param {any} record
 */
function said(all, record) {
  const lesson = all.find((one) => one.id === record.lesson_id) ?? null;
  const marked = (record.register ?? []).filter((/** @type {any} */ line) => line.mark !== "present");
  return {
    outcome: record.outcome,
    lesson,
    planned: lesson,
    next: lesson,
    items: new Set(record.items ?? []),
    reason: record.reason ?? null,
    marks: new Map(
      marked.map((/** @type {any} */ line) => [line.pupil_id, { mark: line.mark, missed: line.missed ?? false }]),
    ),
    carried: 0,
    marked: true,
  };
}

/**
 * The form filled in with what was set aside; it stands once it is saved.
 * @param {Form} form
 * @param {any} record
 * @returns {Form}
 */
export function taken(form, record) {
  const lesson = form.all.find((one) => one.id === record.lesson_id) ?? form.lesson;
  const filled = { ...form, ...said(form.all, { ...record, lesson_id: lesson.id }) };
  const pupils = members(form.group_id, form.on, halfOf(form.group_id, form.on, form.slot));
  return { ...filled, marks: drawn(filled.marks, pupils), taught_by: record.taught_by ?? form.taught_by };
}
