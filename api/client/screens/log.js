// Logging a lesson, and changing what was logged. All is filled in as it mostly is: the next lesson, taught whole, by me,
// everybody here. One touch on Save is enough; then it is on this tablet for good.

import { app } from "../lib/app.js";
import { button, choice, fill, h, renew } from "./dom.js";
import { lessonsAside } from "./aside.js";
import { backFrom, halfOf, mayRecord, members, recordOf, staff, titled } from "./facts.js";
import { frame, looking, note, presence, trying, watching } from "./frame.js";
import { drop, goOn, keep } from "./log_draft.js";
import { again as formOf, changed, fresh, merged, sameForm, taken, written } from "./log_form.js";
import { fewer, more, which } from "./log_more.js";
import { begun, begunWith, drawn, entries, registerList } from "./register.js";
import { lost } from "./refused.js";
import { lessonOf, nth, say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** @typedef {import("./log_form.js").Form} Form */

/**
 * @param {HTMLElement} root
 * @param {Form | null} form
 */
function draw(root, form) {
  const group = form && app.store.get("group", form.group_id);
  const mine = form && mayRecord(form.group_id);
  root.onchange = null;
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
  const gone = h("p", {});
  const meanwhile = h("div", { role: "alert" });
  const aside = h("div", { role: "status" });
  const again = () => draw(root, form);
  const redraw = () => {
    fill(what, form.record && form.outcome !== "retaught" && which(form, again), fewer(form, redraw));
    fill(lesson, h("strong", {}, titled(form.lesson.title)), h("br"), when(form));
    drawRegister(form, who, total);
  };
  const title = `${form.record ? "Put a lesson right" : "Log a lesson"}: ${group?.name ?? ""}`;
  frame(
    root,
    { title, ...backFrom(form.group_id) },
    lesson,
    form.record && recordedBy(form.record),
    form.goesOn && left(root, form),
    aside,
    choice("outcome", "Was it taught?", outcomes(form), form.outcome, (code) => {
      form.outcome = code;
      redraw();
    }),
    whole(form),
    what,
    who,
    more(form, again),
    gone,
    h(
      "div",
      { class: "acts foot" },
      // Beside what was touched, and in sight however long the register is.
      meanwhile,
      said,
      button(() => save(form, said), { class: "button main", id: "save" }, form.record ? "Save the change" : "Save"),
      total,
    ),
  );
  const tell = () => {
    // Only what the server has can be deleted: it may come to have it while this is looked at.
    renew(gone, base(form) && button(() => ask(form, said), { class: "plain" }, "Delete this record"));
    renew(meanwhile, changed(form) && changedMeanwhile(form, () => look(root, form, said)), form.unkept && unkept());
  };
  watching(root, tell);
  redraw();
  root.onchange = () => void keep(form).then(() => root.isConnected && tell());
  const take = async (/** @type {any} */ record) => {
    const one = taken(form, record);
    await keep(one);
    draw(root, one);
  };
  void (form.record && lessonsAside(aside, form.record, take, () => (form.settles = true)));
}

const unkept = () =>
  h("p", { class: "notice" }, "What you change here is not kept on this tablet until it is saved: save it before you leave or lock.");

/**
 * That this was begun before, and how to begin again.
 * @param {HTMLElement} root
 * @param {Form} form
 */
function left(root, form) {
  const anew = async () => {
    await drop(form);
    const now = recordOf(form);
    draw(root, form.record ? now && formOf(await app.latest(now), now) : await fresh(form.group_id));
  };
  const words =
    form.goesOn === "changed"
      ? "This goes on where you left it, over the record as it was changed meanwhile. "
      : "This goes on where you left it. ";
  return h("p", { class: "notice" }, words, button(anew, { class: "button", id: "anew" }, "Begin again"));
}

/**
 * That the record is another than the one this was made from, before a change of it is saved.
 * @param {Form} form
 * @param {() => void} act  looks at it as it stands
 */
function changedMeanwhile(form, act) {
  const since = form.record ? "It was changed meanwhile. " : "This lesson was logged meanwhile. ";
  const words = recordOf(form) ? since : "It was deleted meanwhile. ";
  return h("p", { class: "notice" }, words, button(act, { class: "button", id: "look" }, "Look at it as it stands now"));
}

/**
 * The record as it stands, with what was changed here so far laid over it where it fits.
 * @param {HTMLElement} root
 * @param {Form} form
 * @param {Element} said
 */
const look = (root, form, said) =>
  trying(said, async () => {
    const now = recordOf(form);
    const next = now && merged(formOf(await app.latest(now), now), form.first, written(form));
    await drop(form);
    if (next && !sameForm(next.first, written(next))) {
      await keep(next);
    }
    draw(root, next);
  });

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
 * What was done on this tablet and sent since says the same under a later version.
 * @param {Form} form
 * @returns {string | null}
 */
function base(form) {
  const now = form.record && recordOf(form);
  return now && app.holds("lesson_record", now.id) && !changed(form) ? now.v : (form.record?.v ?? null);
}

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
    form.first = { ...form.first, marks: Object.fromEntries(form.marks) };
  } else if (!form.record) {
    // Marks that were made stay with who is there on that day and in that half of it.
    form.marks = drawn(form.marks, pupils);
  }
  const sum = () => fill(total, presence(entries(form.marks)));
  const touched = () => {
    form.marked = true;
    sum();
  };
  fill(
    who,
    h("h2", {}, "Who was here?"),
    !form.marked && begunWith(form.slot, form.carried),
    registerList(pupils, form.marks, touched),
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
    const op = await done(form, "lesson.record", set);
    note(`${form.record ? "Put right: " : ""}${say(outcome)}. It is saved on this tablet.`, op);
    leave(form);
  });
}

/**
 * Does what ends the form. What changes by it is no change under it.
 * @param {Form} form
 * @param {string} type
 * @param {any} set
 */
async function done(form, type, set) {
  const as_of = base(form);
  form.over = true;
  const op = await app.act(type, set, as_of).catch((error) => {
    form.over = false;
    throw error;
  });
  // It is saved: a draft that could not be taken away is found to say nothing new.
  await drop(form).catch(() => undefined);
  return op;
}

/**
 * Asks once more before a record goes.
 * @param {Form} form
 * @param {Element} said
 */
function ask(form, said) {
  const gone = () =>
    trying(said, async () => {
      const op = await done(form, "lesson.delete", { id: recordOf(form)?.id ?? form.record?.id });
      note("The record is deleted: the lesson counts as not taught.", op);
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
 * A form for what was recorded here and not taken, where no record is left: filled in with what it said, as far as
 * its lesson is in the sequence still. None where nothing was.
 * @param {{group_id: string, on: string, slot: number}} place
 */
async function entered(place) {
  const op = lost(place);
  const form = op && { ...(await fresh(place.group_id)), ...place };
  return form?.all.some((one) => one.id === op?.set.lesson_id) ? taken(form, op?.set) : (form ?? null);
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
    draw(root, await goOn(await fresh(group_id)));
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
    const record = recordOf({ group_id, on, slot: Number(slot) });
    fill(root, looking());
    const form = record
      ? await goOn(formOf(await app.latest(record), record))
      : await entered({ group_id, on, slot: Number(slot) });
    draw(root, form);
  },
};
