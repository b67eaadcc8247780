// What the server did not take: each thing once, why, and where it can be put right or entered again. The reasons are in
// words of our own, by the problem's code: what the server says of it is for programs, and names records by their ids.

import { app } from "../lib/app.js";
import { recordOf, staff } from "./facts.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Op} Op */

/**
 * Reasons by a code with the field it is about, by what was done with a code, and by a code alone.
 * @type {{[key: string]: string}}
 */
const REASONS = {
  "conflict again": "The same catch-up is recorded for that day already.",
  "conflict slot": "Another lesson is recorded in its place on that day already.",
  "conflict on": "The group was closed before that day.",
  "conflict outcome": "A later lesson teaches again what this one taught: delete that one first.",
  "conflict answers": "This was answered already.",
  "lesson conflict": "A later lesson record stands on this one: put that one right or delete it first.",
  "sitting conflict": "This check is over, is asked by somebody else, or is yours to mark a second time.",
  conflict: "Something else that is recorded stands in its way.",
  gone: "The record was deleted meanwhile.",
  stale: "The record was changed meanwhile.",
  "invalid on": "It cannot be recorded for that day.",
  "invalid lesson_id": "The sequence of that day has no such lesson.",
  "invalid items": "The items do not fit what was taught of the lesson before.",
  "invalid outcome": "It does not fit what was taught of the lesson before, such as taught again what was not taught yet.",
  "invalid reason": "The reason is none of the school’s.",
  "invalid register": "Somebody in the register was not in the group on that day.",
  "invalid pupil_ids": "Some of the children were not in the group on that day, or had not missed it.",
  "invalid answers": "The answer does not fit what the check asks.",
  invalid: "Something in it cannot be so.",
};

/** What names a record for programs. */
const ID = /[0-9a-f]{8}-[0-9a-f]{4}-/i;

/** @param {Op} op */
function reason({ type, code = "", field, detail }) {
  const own = [`${code} ${(field ?? "").split(/[.[]/)[0]}`, `${type.split(".")[0]} ${code}`, code].find((key) => REASONS[key]);
  return own ? REASONS[own] : detail && !ID.test(detail) ? detail : "The school’s server did not take it.";
}

/**
 * Why the server did not take it, where it is, and what stands instead.
 * @param {Op} op
 */
export function why(op) {
  if (op.code === "set_aside") {
    return say(op.code);
  }
  if (op.outcome !== "superseded") {
    const known = ["not_found", "forbidden"].includes(op.code ?? "");
    return `${known ? say(op.code) : reason(op)} This one is not at the school’s server.`;
  }
  const now = op.current;
  const by = now?.entered_by ?? now?.taken_by;
  const who = by ? `Somebody else, ${staff(by)}, had recorded it first.` : "Somebody else had recorded it first.";
  const first = by && by === app.me?.staff_id ? "You had recorded it on another tablet first." : who;
  const taught = now?.taught_by ? `, by ${staff(now.taught_by)}` : "";
  const stands = now?.outcome ? ` What stands: ${say(now.outcome).toLowerCase()}${taught}.` : "";
  return `${first}${stands} Yours is kept, and is shown with what stands.`;
}

/**
 * What was not taken, one entry for what came second to one and the same lesson however often: the last stands for all.
 * @returns {{op: Op, all: Op[]}[]}
 */
export function entries() {
  /** @type {Map<string, Op[]>} */
  const of = new Map();
  for (const op of app.state.refused) {
    const { group_id, on, slot } = op.set;
    const lesson = op.type === "lesson.record" && op.outcome === "superseded";
    const key = lesson ? `${group_id} ${on} ${slot ?? 1}` : op.op_id;
    of.set(key, [...(of.get(key) ?? []), op]);
  }
  return [...of.values()].map((all) => ({ op: /** @type {Op} */ (all.at(-1)), all }));
}

/**
 * What was recorded here of a lesson and not taken, where no record of that lesson is here any more.
 * @param {{group_id: string, on: string, slot: number}} place
 * @returns {Op | undefined}
 */
export const lost = ({ group_id, on, slot }) =>
  app.state.refused.findLast(({ type, set }) =>
    type === "lesson.record" && set.group_id === group_id && set.on === on && (set.slot ?? 1) === slot);

/**
 * The screen where it can be put right, or entered again where nothing is kept of it.
 * @param {Op} op
 * @returns {{path: string, words: string} | null}
 */
export function place({ type, set, code, outcome }) {
  if (type === "lesson.record") {
    const { group_id, on, slot = 1 } = set;
    return { path: `/groups/${group_id}/log/${on}/${slot}`, words: recordOf({ group_id, on, slot }) ? "Look" : "Enter it again" };
  }
  if (type === "catch_up.record") {
    return { path: `/groups/${set.group_id}/catch-up`, words: code === "conflict" ? "Look" : "Enter it again" };
  }
  const check_id = set.check_id ?? app.store.get("sitting", set.sitting_id ?? "")?.check_id;
  const answers = type === "sitting.answer" && outcome === "superseded" ? "/answers" : "";
  return type.startsWith("sitting.") && check_id
    ? { path: `/rounds/${set.round_id}/pupils/${set.pupil_id}/checks/${check_id}${answers}`, words: "Look" }
    : null;
}
