// A form of a lesson that was begun and is not saved: kept on this tablet, encrypted, from the first change on, so that a
// lock or a look elsewhere loses nothing. It is gone on with on the same day, and on no other.

import { app } from "../lib/app.js";
import { filled, merged, sameForm, written } from "./log_form.js";

/** @typedef {import("./log_form.js").Form} Form */
/** A form as it is kept. @typedef {{day: string, first: import("./log_form.js").Written, mine: import("./log_form.js").Written}} Draft */

/**
 * One of what is logged next in a group, whichever day and lesson it comes to be of; one of each record.
 * @param {Form} form
 */
const nameOf = ({ group_id, record, on, slot }) => (record ? `lesson ${group_id} ${on} ${slot}` : `lesson ${group_id}`);

/**
 * Writes in the order in which things were changed.
 * @param {Form} form
 * @param {Draft | null} draft
 * @returns {Promise<void>}
 */
function write(form, draft) {
  const before = form.kept ?? Promise.resolve();
  const writing = before.catch(() => undefined).then(() => app.draft(nameOf(form), draft));
  form.kept = writing;
  return writing;
}

/**
 * Keeps what a form says; `unkept` says whether that failed. Nothing stays here of a group that is only looked at.
 * @param {Form} form
 */
export async function keep(form) {
  const held = app.holds("group", form.group_id);
  const draft = { day: app.today(), first: form.first, mine: written(form) };
  form.unkept = !(held && (await write(form, draft).then(() => true, () => false)));
}

/** @param {Form} form */
export const drop = (form) => write(form, null);

/**
 * The form as it was left, if it was.
 * @param {Form} form  as it is made now
 * @returns {Promise<Form>}
 */
export async function goOn(form) {
  // Where drafts cannot be read, a lesson is logged all the same.
  /** @type {Draft | null | undefined} */
  const draft = await app.draft(nameOf(form)).catch(() => null);
  if (!draft || !form.lesson) {
    return form;
  }
  if (draft.day !== app.today()) {
    await drop(form);
    return form;
  }
  const { first, mine } = draft;
  return form.record
    ? { ...merged(form, first, mine), goesOn: sameForm(first, form.first) ? "left" : "changed" }
    : { ...filled(form, mine), first, goesOn: "left" };
}
