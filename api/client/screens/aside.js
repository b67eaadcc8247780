// What somebody recorded where another record or answer was there first. It is kept, counts for nothing, and is shown with
// what stands, so that two adults can put right what is to be put right. The server has all of them; what was done on this
// tablet is known here too.

import { app } from "../lib/app.js";
import { button, fill, h, link, name } from "./dom.js";
import { called, pupil, reason, staff, titled } from "./facts.js";
import { presence } from "./frame.js";
import { lessons } from "./order.js";
import { heardAs } from "./sounds.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** A lesson as it was recorded and set aside. @typedef {{at: string, by: string | null, record: any}} Aside */
/** An answer as it was taken down and set aside. @typedef {{by: string | null, item_id: string, outcome: string, heard: string | null}} AnswerAside */

/** @param {string} type */
const superseded = (type) => app.state.refused.filter((op) => op.type === type && op.outcome === "superseded");

/**
 * What was recorded of a lesson on this tablet and set aside.
 * @param {Row} record  what stands
 * @returns {Aside[]}
 */
const lessonsHere = ({ group_id, on, slot }) =>
  superseded("lesson.record")
    .filter(({ set }) => set.group_id === group_id && set.on === on && (set.slot ?? 1) === (slot ?? 1))
    .map(({ at, set }) => ({ at, by: app.me?.staff_id ?? null, record: set }));

/**
 * Whether another version of a record is kept that lost to it and is not settled yet: as the server says, else as it
 * answered what was recorded on this tablet.
 * @param {Row} record
 */
const anotherKept = (record) => record.set_aside ?? lessonsHere(record).some((one) => !sameLesson(one.record, record));

/**
 * A mark that another version of a record is kept, which leads to where that is shown for who may put it right.
 * @param {Row} record
 * @param {boolean} change  whether I may
 * @returns {import("./dom.js").Child}
 */
export function asideMark(record, change) {
  if (!anotherKept(record)) {
    return null;
  }
  const path = `/groups/${record.group_id}/log/${record.on}/${record.slot ?? 1}`;
  return change
    ? link(path, { class: "mark refused", id: `k${record.group_id}-${record.on}-${record.slot}` }, "Another version is kept")
    : h("span", { class: "mark refused" }, "Another version is kept");
}

/**
 * Whether two records say the same of a lesson.
 * @param {any} one
 * @param {any} other
 */
export function sameLesson(one, other) {
  const marks = (/** @type {any} */ of) =>
    (of.register ?? [])
      .filter((/** @type {any} */ line) => line.mark !== "present")
      .map((/** @type {any} */ line) => `${line.pupil_id} ${line.mark} ${line.missed ?? false}`)
      .sort()
      .join();
  return (
    ["outcome", "lesson_id"].every((field) => one[field] === other[field]) &&
    (one.reason ?? null) === (other.reason ?? null) &&
    marks(one) === marks(other)
  );
}

/**
 * Fills a place with what was set aside of a lesson and says something else than what stands. It is taken over by the
 * form it is shown in: nothing changes before that is saved.
 * @param {Element} place
 * @param {Row} record  what stands
 * @param {(record: any) => void} take
 * @param {() => void} seen  called where all that was set aside is shown
 */
export async function lessonsAside(place, record, take, seen) {
  const had = await asked(`/lesson-records/${record.id}/set-aside`);
  if (had?.length) {
    seen();
  }
  const all = /** @type {Aside[]} */ (had ?? lessonsHere(record)).filter((one) => !sameLesson(one.record, record));
  const elsewhere = !had && !all.length && record.set_aside === true;
  fill(
    place,
    elsewhere && h("p", { class: "notice" }, "Another version of this record is kept at the school’s server. To read it needs a connection."),
    all.map((one) =>
      h(
        "div",
        { class: "notice" },
        h(
          "p",
          {},
          h("strong", {}, "Another record of this lesson was set aside"),
          ", because this one came in first. ",
          whose(one.by),
          ` recorded, ${app.day(one.record.on)}: `,
          inWords(one.record),
        ),
        button(() => take(one.record), { class: "button" }, "Fill in what it says"),
        h("p", { class: "quiet" }, "Save that, or save this record as it stands: either settles it."),
      ),
    ),
  );
}

/**
 * What a record says.
 * @param {any} record
 */
export function inWords(record) {
  const group = app.store.get("sequence_version", record.version_id ?? "");
  const lesson = lessons(group).find((one) => one.id === record.lesson_id);
  const title = lesson ? `${titled(lesson.title)}: ` : "";
  if (record.outcome === "not_delivered") {
    return `${title}${say(record.outcome).toLowerCase()}, ${reason(record.reason)}.`;
  }
  const marked = (record.register ?? []).filter((/** @type {any} */ line) => line.mark !== "present");
  const who = marked.map((/** @type {any} */ line) => `${called(pupil(line.pupil_id))} ${say(line.mark).toLowerCase()}`);
  return `${title}${say(record.outcome).toLowerCase()}, ${who.length ? who.join(", ") : presence([])}.`;
}

/** @param {string | null} by */
const whose = (by) => (by === app.me?.staff_id ? "You" : name(by ? staff(by) : "Somebody who has left"));

/**
 * What was taken down of a check and set aside, by item.
 * @param {{round_id: string, pupil_id: string, check_id: string}} place
 * @returns {Promise<AnswerAside[]>}
 */
export async function answersAside({ round_id, pupil_id, check_id }) {
  const had = await asked(`/check-rounds/${round_id}/pupils/${pupil_id}/set-aside`);
  return had ? had.filter((/** @type {any} */ one) => one.check_id === check_id) : answersHere(round_id, pupil_id);
}

/**
 * @param {string} round_id
 * @param {string} pupil_id
 * @returns {AnswerAside[]}
 */
const answersHere = (round_id, pupil_id) =>
  superseded("sitting.answer")
    .filter(({ set }) => set.round_id === round_id && set.pupil_id === pupil_id)
    .flatMap(({ set }) => set.answers)
    .map((/** @type {any} */ one) => ({ ...one, heard: one.heard ?? null, by: app.me?.staff_id ?? null }));

/**
 * An answer that was set aside, where it says something else than what stands, and the touch that takes it over.
 * @param {AnswerAside} one
 * @param {Row} stands
 * @param {() => void} take
 */
export const answerAside = (one, stands, take) =>
  (one.outcome !== stands.outcome || one.heard !== (stands.heard ?? null)) &&
  h(
    "p",
    { class: "notice whole" },
    whose(one.by),
    ` also asked this, and heard it otherwise: ${say(one.outcome).toLowerCase()}`,
    one.heard && ` (${heardAs(one.heard)})`,
    ". It was set aside, because the other answer came in first. ",
    button(take, { class: "button" }, `Let “${say(one.outcome).toLowerCase()}” stand`),
  );

/**
 * What the server has; null without a connection, or where it is not mine to see.
 * @param {string} path
 * @returns {Promise<any[] | null>}
 */
const asked = (path) =>
  app.ask(path).then(
    (answer) => answer.items,
    () => null,
  );
