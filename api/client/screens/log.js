// Logging a lesson, and changing what was logged. All is filled in as it mostly is: the next lesson, taught whole, by me,
// everybody here. One touch on Save is enough; then it is on this tablet for good.

import { app } from "../lib/app.js";
import { button, choice, fill, h, renew } from "./dom.js";
import { lessonsAside } from "./aside.js";
import { backFrom, halfOf, mayRecord, members, plan, recordsOf, staff, titled, version } from "./facts.js";
import { frame, looking, note, presence, trying, watching } from "./frame.js";
import { fewer, more, which } from "./log_more.js";
import { freeSlot, lessons } from "./order.js";
import { begun, begunWith, drawn, entries, registerList } from "./register.js";
import { lost } from "./refused.js";
import { lessonOf, nth, say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

/**
 * What the form says. `lesson` is the planned one with its items; `items` those taken as taught in a part.
 * @typedef {object} Form
 * @property {string} group_id
 * @property {Row | null} record   what is changed; null for a new one
 * @property {string} on
 * @property {number} slot
 * @property {string} outcome
 * @property {any} lesson
 * @property {any} planned         the lesson that is next by the sequence, or was chosen in its place
 * @property {any} next            the same as it was when the form was made, with what is left of it
 * @property {any[]} all           every lesson of the version
 * @property {Set<string>} items
 * @property {string | null} reason
 * @property {Map<string, import("./register.js").Mark>} marks
 * @property {number} carried      how many were marked away from the lesson before, until a mark is changed
 * @property {boolean} marked      whether a mark was changed
 * @property {boolean} [settles]   whether all that was set aside of the record was shown
 * @property {string} taught_by
 * @property {string | undefined} version_id
 */

/**
 * @param {HTMLElement} root
 * @param {Form | null} form
 */
function draw(root, form) {
  const group = form && app.store.get("group", form.group_id);
  const mine = form && mayRecord(form.group_id);
  if (!form?.lesson || !mine) {
    const taught = mine
      ? "The whole sequence is taught."
      : "What this group did is recorded by its adults and the lead.";
    const why = form ? taught : "This record is not on this tablet any more.";
    return frame(root, { title: form ? "Log a lesson" : "Put a lesson right" }, h("p", {}, why));
  }
  const what = h("div", { class: "what" });
  const who = h("section", { class: "part" });
  const said = h("div", { role: "alert" });
  const total = h("span", { class: "quiet first", role: "status" });
  const lesson = h("p", { class: "next" });
  const gone = h("span", {});
  const aside = h("div", { role: "status" });
  const again = () => draw(root, form);
  const redraw = () => {
    fill(what, form.record && form.outcome !== "retaught" && which(form, again), fewer(form, redraw));
    fill(lesson, h("strong", {}, titled(form.lesson.title)), h("br"), when(form));
    drawRegister(form, who, total);
  };
  frame(
    root,
    {
      title: `${form.record ? "Put a lesson right" : "Log a lesson"}: ${group?.name ?? ""}`,
      ...backFrom(form.group_id),
    },
    lesson,
    form.record && recordedBy(form.record),
    aside,
    choice("outcome", "Was it taught?", outcomes(form), form.outcome, (code) => {
      form.outcome = code;
      redraw();
    }),
    whole(form),
    what,
    who,
    more(form, again),
    h(
      "div",
      { class: "acts foot" },
      // Beside what was touched, and in sight however long the register is.
      said,
      button(() => save(form, said), { class: "button main", id: "save" }, form.record ? "Save the change" : "Save"),
      total,
      gone,
    ),
  );
  // Only what the server has can be deleted: it may come to have it while this is looked at.
  watching(root, () =>
    renew(gone, base(form) && button(() => ask(form, said), { class: "button" }, "Delete this lesson")),
  );
  redraw();
  if (form.record) {
    const seen = () => (form.settles = true);
    void lessonsAside(aside, form.record, (record) => draw(root, taken(form, record)), seen);
  }
}

/**
 * Who recorded it, and when.
 * @param {Row} record
 */
const recordedBy = ({ entered_by, entered_at, taught_by }) =>
  h(
    "p",
    { class: "quiet" },
    `Recorded by ${staff(entered_by)} ${app.ago(entered_at)} ago. `,
    taught_by !== entered_by && `Taught by ${staff(taught_by)}. `,
    "Change what is wrong and save it; what was there before stays in the school’s history.",
  );

const OUTCOMES = ["delivered", "part", "retaught", "not_delivered"];

/**
 * What can become of it: of one item nothing can be left for another day.
 * @param {Form} form
 * @returns {[string, string][]}
 */
const outcomes = (form) =>
  OUTCOMES
    .filter((code) => code !== "part" || form.planned.items.length > 1 || form.outcome === "part")
    .map((code) => [code, say(code)]);

/**
 * Why "Taught in part" is no choice, where it is none.
 * @param {Form} form
 */
const whole = (form) =>
  outcomes(form).length < OUTCOMES.length &&
  h("p", { class: "quiet" }, "This lesson is one part, so “Taught in part” is no choice: it was taught or it was not.");

/**
 * The version that is changed: as it was when the form was opened, so that another adult's change in between is noticed.
 * What had none then, as it was only on this tablet, may have been sent since.
 * @param {Form} form
 * @returns {string | null}
 */
const base = (form) =>
  form.record &&
  (form.record.v ?? recordsOf(form.group_id, form.on).find((one) => (one.slot ?? 1) === form.slot)?.v ?? null);

/**
 * To where it is to be seen what became of it: a change, where one saw that something was to be changed.
 * @param {Form} form
 */
const leave = ({ group_id, record }) => app.go((record && app.from()?.path) ?? backFrom(group_id).back);

/** @param {Form} form */
const when = (form) =>
  [
    form.on === app.today() ? "Today" : app.day(form.on),
    form.slot > 1 && `${nth(form.slot)} lesson of the day`,
    lessonOf(form.lesson.place),
  ]
    .filter(Boolean)
    .join(", ");

/**
 * The register, made once for a day: a choice above it does not lay thirty children out anew.
 * @param {Form} form
 * @param {HTMLElement} who
 * @param {HTMLElement} total
 */
function drawRegister(form, who, total) {
  const none = form.outcome === "not_delivered";
  who.classList.toggle("skipped", none);
  total.hidden = none;
  const half = halfOf(form.group_id, form.on, form.slot);
  const whose = `${form.on} ${form.slot} ${half ?? ""}`;
  if (who.dataset.whose === whose) {
    return;
  }
  who.dataset.whose = whose;
  const pupils = members(form.group_id, form.on, half);
  if (!form.record && !form.marked) {
    form.marks = begun(form.group_id, form.on, form.slot, half);
    form.carried = form.marks.size;
  } else if (!form.record) {
    // Marks that were made stay with who is there on that day and in that half of it.
    form.marks = drawn(form.marks, pupils);
  }
  const sum = () => fill(total, presence(entries(form.marks)));
  const changed = () => {
    form.marked = true;
    sum();
  };
  fill(
    who,
    h("h2", {}, "Who was here?"),
    !form.marked && begunWith(form.slot, form.carried),
    registerList(pupils, form.marks, changed),
  );
  sum();
}

/**
 * @param {Form} form
 * @param {Element} said
 */
async function save(form, said) {
  const { group_id, on, slot } = form;
  const items = form.lesson.items
    .map((/** @type {any} */ one) => one.id)
    .filter((/** @type {string} */ id) => form.items.has(id));
  if (form.outcome === "part" && !items.length) {
    return fill(said, h("p", { class: "notice" }, "Tick what was taught of it."));
  }
  // All of what was left is the lesson taught.
  const outcome = form.outcome === "part" && items.length === form.lesson.items.length ? "delivered" : form.outcome;
  if (outcome === "not_delivered" && !form.reason) {
    return fill(said, h("p", { class: "notice" }, "Say why it was not taught."));
  }
  const taught = outcome !== "not_delivered";
  const set = {
    group_id,
    on,
    slot,
    outcome,
    lesson_id: form.lesson.id,
    version_id: form.version_id,
    taught_by: form.taught_by,
    ...(outcome === "part" ? { items } : {}),
    ...(taught ? { register: entries(form.marks) } : { reason: form.reason }),
    ...(form.settles && { settles: true }),
  };
  return trying(said, async () => {
    const op = await app.act("lesson.record", set, base(form));
    note(`${form.record ? "Put right: " : ""}${say(outcome)}. It is saved on this tablet.`, op);
    leave(form);
  });
}

/**
 * Asks once more before a record goes.
 * @param {Form} form
 * @param {Element} said
 */
function ask(form, said) {
  const gone = () =>
    trying(said, async () => {
      const now = recordsOf(form.group_id, form.on).find((one) => (one.slot ?? 1) === form.slot);
      const op = await app.act("lesson.delete", { id: now?.id ?? form.record?.id }, base(form));
      note("The lesson is deleted: it counts as not taught.", op);
      leave(form);
    });
  fill(
    said,
    h(
      "p",
      { class: "notice" },
      "Delete it only if this lesson never was: it then counts as not taught to anybody, and comes next again. ",
      button(gone, { class: "button" }, "Delete it"),
      " ",
      button(() => fill(said), { class: "button" }, "Keep it"),
    ),
  );
}

/**
 * A form for what comes next.
 * @param {string} group_id
 * @returns {Promise<Form>}
 */
async function fresh(group_id) {
  const next = await plan(group_id);
  const on = app.today();
  return {
    group_id,
    record: null,
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
  };
}

/**
 * A form for what was recorded here and not taken, where no record is left: filled in with what it said, as far as
 * its lesson is in the sequence still. None where nothing was.
 * @param {{group_id: string, on: string, slot: number}} place
 */
async function entered(place) {
  const op = lost(place);
  const form = op && { ...(await fresh(place.group_id)), ...place };
  return form?.all.some((one) => one.id === op?.set.lesson_id) ? taken(form, op?.set) : (form ?? null);
}

/**
 * A form for a record there is.
 * @param {Row} record
 * @returns {Form}
 */
function again(record) {
  const all = lessons(version(record.group_id, record.version_id));
  const form = { group_id: record.group_id, record, on: record.on, slot: record.slot ?? 1, all };
  return { ...form, ...said(all, record), taught_by: record.taught_by, version_id: record.version_id };
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
function taken(form, record) {
  const lesson = form.all.find((one) => one.id === record.lesson_id) ?? form.lesson;
  const filled = { ...form, ...said(form.all, { ...record, lesson_id: lesson.id }) };
  const pupils = members(form.group_id, form.on, halfOf(form.group_id, form.on, form.slot));
  return { ...filled, marks: drawn(filled.marks, pupils), taught_by: record.taught_by ?? form.taught_by };
}

export default {
  path: "/groups/:group_id/log",
  title: "Log a lesson",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  async show(root, { group_id }) {
    fill(root, looking());
    draw(root, await fresh(group_id));
  },
};

export const change = {
  // By day and place: the id of a record is the server's, and is another while it waits to be sent.
  path: "/groups/:group_id/log/:on/:slot",
  title: "Put a lesson right",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string, on: string, slot: string}} params
   */
  async show(root, { group_id, on, slot }) {
    const record = recordsOf(group_id, on).find((one) => String(one.slot ?? 1) === slot);
    fill(root, looking());
    draw(root, record ? again(await app.latest(record)) : await entered({ group_id, on, slot: Number(slot) }));
  },
};
