// What the carpet needs to know, out of what is kept on the tablet: groups and pupils of a day, what was recorded,
// what comes next. Nothing here asks the server, but for `plan`, which has the next lesson as it was kept.

import { app } from "../lib/app.js";
import { byName, following, holds, left, lessons, sessionsOf, weekday } from "./order.js";
import { withoutSigns } from "./sound_words.js";
import { nth, say, spelled } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

/**
 * My groups of today.
 * @returns {Row[]}
 */
export function myGroups() {
  const today = app.today();
  const mine = (/** @type {Row} */ group) =>
    (group.adults ?? []).some((/** @type {any} */ one) => one.staff_id === app.me?.staff_id && holds(one, today));
  return app.store
    .list("group")
    .filter((group) => (!group.closed_on || group.closed_on >= today) && mine(group))
    .sort((a, b) => byName(/** @type {any} */ (a), /** @type {any} */ (b)));
}

/** Whether I may see every group of the school. */
export const seesAll = () => Boolean(app.me?.roles.some((role) => role === "lead" || role === "head"));

/** Whether I am one of those who are brought files of what could not be sent, and open them. */
export const enters = () => Boolean(app.me?.roles.some((role) => role === "lead" || role === "office"));

/**
 * Whether I may record lessons and catch-up of a group: the lead everywhere, others where they are assigned today.
 * @param {string} group_id
 */
export const mayRecord = (group_id) =>
  Boolean(app.me?.roles.includes("lead")) || myGroups().some((group) => group.id === group_id);

/**
 * Where one came from to a group's lesson: Home has one's own groups, and the others have their own screen.
 * @param {string} group_id
 */
export const backFrom = (group_id) =>
  myGroups().some((one) => one.id === group_id)
    ? { back: "/", backTo: "Home" }
    : { back: `/groups/${group_id}`, backTo: "Group" };

/**
 * The pupils of a group who are due on a day, in a half of it where one is given, by name, each with what tells
 * namesakes apart.
 * @param {string} group_id
 * @param {string} on
 * @param {string} [part]
 * @returns {{id: string, name: string, apart: string | null}[]}
 */
export function members(group_id, on, part) {
  const day = weekday(on);
  const other = (/** @type {Row} */ one) =>
    (part === "afternoon" && one.mornings_only?.includes(day)) || (part === "morning" && one.afternoons_only?.includes(day));
  return app.store
    .list("group_member", { group_id })
    .filter((one) => holds(one, on) && (!one.weekdays || one.weekdays.includes(day)) && !other(one))
    .map((one) => pupil(one.pupil_id))
    .sort(byName);
}

/**
 * A pupil as shown: by the name it is called by, and where another here has the same, by what tells them apart.
 * @param {string} id
 * @returns {{id: string, name: string, apart: string | null}}
 */
export function pupil(id) {
  const row = app.store.get("pupil", id);
  const namesakes = row ? app.store.list("pupil", { name: row.name }) : [];
  return { id, name: row?.name ?? "A pupil not kept on this tablet", apart: row && namesakes.length > 1 ? apart(row, namesakes) : null };
}

/** Of one name and class, with no label: only the office can tell them apart. */
const UNLABELLED = "no label yet";

/** What may tell namesakes apart, what staff chose first. Never a day of birth or a number. */
const TELLING = [
  (/** @type {Row} */ row) => row.label,
  (/** @type {Row} */ row) =>
    (row.class_ids ?? []).map((/** @type {string} */ id) => app.store.get("class", id)?.name).filter(Boolean).join(", "),
  (/** @type {Row} */ row) => {
    const years = app.store.list("school")[0]?.year_groups ?? [];
    return years.find((/** @type {any} */ one) => one.code === row.year_group)?.label ?? row.year_group;
  },
];

/**
 * The first of these that no namesake has too.
 * @param {Row} row
 * @param {Row[]} namesakes  itself among them
 * @returns {string}
 */
function apart(row, namesakes) {
  const tells = (/** @type {(row: Row) => any} */ of) => of(row) && namesakes.every((one) => one.id === row.id || of(one) !== of(row));
  return TELLING.find(tells)?.(row) ?? UNLABELLED;
}

/**
 * @param {{name: string, apart?: string | null}} who
 */
export const called = (who) => (who.apart ? `${who.name} (${who.apart})` : who.name);

/**
 * The name of a member of staff.
 * @param {string} id
 */
export const staff = (id) =>
  id === app.me?.staff_id ? app.me.name : (app.store.get("staff_name", id)?.name ?? "a colleague");

/**
 * The reasons for which a lesson is not taught, as the school's rules have them.
 * @returns {[string, string][]} codes with words
 */
export const reasons = () =>
  (app.store.list("school")[0]?.not_taught_reasons ?? []).map((/** @type {any} */ one) => [one.code, one.label]);

/**
 * @param {string | null | undefined} code
 * @returns {string}
 */
export const reason = (code) => reasons().find((one) => one[0] === code)?.[1] ?? say(code);

/**
 * The lesson records of a group on a day, in the order of its lessons.
 * @param {string} group_id
 * @param {string} on
 * @returns {Row[]}
 */
export const recordsOf = (group_id, on) =>
  app.store.list("lesson_record", { group_id, on }).sort((a, b) => (a.slot ?? 1) - (b.slot ?? 1));

/**
 * The record of a group, day and lesson of the day, as it is now.
 * @param {{group_id: string, on: string, slot: number}} place
 */
export const recordOf = ({ group_id, on, slot }) =>
  recordsOf(group_id, on).find((one) => (one.slot ?? 1) === slot) ?? null;

/**
 * The lessons due for a group on a day by its timetable alone, closures not looked at.
 * @param {string} group_id
 * @param {string} on
 */
function sessions(group_id, on) {
  return sessionsOf(app.store.get("timetable", group_id)?.lines ?? [], on);
}

/**
 * The half of the day in which a lesson of a group is by its timetable, where that says so.
 * @param {string} group_id
 * @param {string} on
 * @param {number} slot
 */
export const halfOf = (group_id, on, slot) => sessions(group_id, on).find((one) => one.slot === slot)?.part;

/**
 * The sequence version a group is taught from: as the server said last, else the one in force by its dates.
 * @param {string} group_id
 * @param {string} [version_id]
 * @returns {Row | undefined}
 */
export function version(group_id, version_id) {
  const group = app.store.get("group", group_id);
  const today = app.today();
  const kept = (group?.kept_versions ?? []).find((/** @type {any} */ one) => holds(one, today))?.version_id;
  const inForce = app.store
    .list("sequence_version", { sequence_id: group?.sequence_id })
    .filter((one) => one.effective_on <= today && (!one.withdrawn_on || one.withdrawn_on > today))
    .sort((a, b) => (a.effective_on < b.effective_on ? -1 : 1))
    .pop();
  return (
    app.store.get("sequence_version", version_id ?? "") ?? app.store.get("sequence_version", kept ?? "") ?? inForce
  );
}

/**
 * The title of the lesson a record is of, by the version it was taught from.
 * @param {Row} record
 * @returns {string | null}
 */
export function titleOf(record) {
  const all = lessons(version(record.group_id, record.version_id));
  const title = all.find((one) => one.id === record.lesson_id)?.title;
  return title ? titled(title) : null;
}

/**
 * Which lesson of its day a record is of, where there were several.
 * @param {Row} record
 * @param {number} [due]  how many were due
 */
export function whichOfDay({ group_id, on, slot }, due = 1) {
  const several = due > 1 || (slot ?? 1) > 1 || recordsOf(group_id, on).length > 1;
  return several ? `${nth(slot ?? 1)} lesson of the day` : null;
}

/**
 * What a group does next.
 * @typedef {object} Plan
 * @property {any} lesson        id, title, step_title, place, items still to teach, words or null; null: none is left
 * @property {string | undefined} version_id
 * @property {any[]} due         the lessons due today
 * @property {any} next_due      the next one after that, if known
 * @property {string} day        what today is to the group
 * @property {string | null} at  when that was asked of the server; null: it is from what is kept of the sequence
 * @property {boolean} fresh     whether it was asked just now
 */

/**
 * The next lesson of a group. Where something recorded on this tablet has overtaken what the server said, or the
 * server was never asked, it is the lesson after it in the sequence, without words.
 * @param {string} group_id
 * @returns {Promise<Plan>}
 */
export async function plan(group_id) {
  const today = app.today();
  const had = await app.kept(`/groups/${group_id}/next-lesson`).catch(() => null);
  const said = had?.body;
  const due = said?.on === today ? said.due : sessions(group_id, today);
  const rest = {
    version_id: said?.version_id,
    due,
    next_due: said?.next_due ?? null,
    day: said?.on === today ? said.day : "teaching",
  };
  const records = app.store.list("lesson_record", { group_id });
  const remaining = said?.lesson ? left(records, said.lesson) : [];
  if (said && (!said.lesson || remaining.length > 0)) {
    const lesson = said.lesson && { ...said.lesson, items: remaining };
    return { ...rest, lesson, at: had?.at ?? null, fresh: had?.fresh ?? false };
  }
  const row = version(group_id, said?.version_id);
  const lesson = following(lessons(row), records, said?.lesson.id);
  return { ...rest, version_id: row?.id, lesson, at: null, fresh: false };
}

/**
 * When a lesson is due, in words: "09:10", "in the morning", "the second of 2 lessons today, in the afternoon".
 * @param {any} session
 * @param {number} of  how many there are that day
 */
export function when(session, of) {
  const order = of > 1 ? `the ${nth(session.slot)} of ${of} lessons today` : "";
  const time = session.starts_at ? session.starts_at.slice(0, 5) : session.part ? `in the ${session.part}` : "";
  return [order, time].filter(Boolean).join(", ");
}

/**
 * The items of each version, which never changes: by id, and correspondences by the code the API writes them in.
 * @type {Map<string, Map<string, any>>}
 */
const known = new Map();

/**
 * An item of the sequences kept here: as the lesson that teaches it first has it.
 * @param {string} key  its id, or its correspondence as the API writes it, `ai:eɪ`
 * @returns {any}
 */
function item(key) {
  const versions = app.store.list("sequence_version");
  for (const row of versions.filter((one) => !known.has(one.id))) {
    const all = lessons(row).flatMap((lesson) => lesson.items);
    const keyed = all.filter((one) => one.gpc && one.keyword).map((one) => [code(one.gpc), one]);
    const pairs = [...all.map((one) => [one.id, one]), ...keyed].reverse();
    known.set(row.id, new Map(/** @type {[string, any][]} */ (pairs)));
  }
  return versions.map((row) => known.get(row.id)?.get(key)).find(Boolean);
}

/**
 * The word a correspondence is known by in the sequences kept here.
 * @param {string} gpc  as the API writes it, `ai:eɪ`
 * @returns {string | null}
 */
export const keyword = (gpc) => item(gpc)?.keyword ?? null;

/**
 * A title of the sequence, or a label, as people read it.
 * @param {string} text
 */
export const titled = (text) => spelled(withoutSigns(text, keyword));

/**
 * What an item is called, in letters: "aw as in paw", where the sequence has a word for it. Few read phonetic signs.
 * @param {{id?: string, item_id?: string, label: string}} one
 * @returns {string}
 */
export function itemName(one) {
  const { grapheme, word } = letters(one);
  return word ? `${grapheme} as in ${word}` : grapheme;
}

/**
 * The letters of an item and the word they are known by, or what it is called.
 * @param {{id?: string, item_id?: string, label: string}} one
 */
export function letters(one) {
  const found = item(one.item_id ?? one.id ?? "");
  return found?.gpc && found.keyword
    ? { grapheme: spelled(found.gpc.grapheme), word: found.keyword }
    : { grapheme: titled(one.label || (found?.label ?? "")), word: null };
}

/**
 * A correspondence as the API writes it in lists of words.
 * @param {{grapheme: string, phoneme: string}} gpc
 */
const code = ({ grapheme, phoneme }) => `${grapheme}:${phoneme.replaceAll(" ", ".")}`;
