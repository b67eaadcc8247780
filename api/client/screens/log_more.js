// The parts of logging a lesson that are seldom needed: which items of a part, which lesson was taught again, why one was
// not taught; and another day, another place in the day, another adult.

import { app } from "../lib/app.js";
import { choice, h, tick } from "./dom.js";
import { itemName, myGroups, reasons, recordsOf, staff, titled } from "./facts.js";
import { byName, freeSlot } from "./order.js";
import { lessonOf, nth } from "./words.js";

/** @typedef {import("./log_form.js").Form} Form */

/**
 * What has to be said of an outcome, and nothing for a lesson that was taught.
 * @param {Form} form
 * @param {() => void} redraw
 */
export function fewer(form, redraw) {
  switch (form.outcome) {
    case "part":
      form.lesson = form.planned;
      return items(form);
    case "retaught":
      return taughtAgain(form, redraw);
    case "not_delivered":
      form.lesson = form.planned;
      return why(form);
    default:
      form.lesson = form.planned;
      return null;
  }
}

/** @param {Form} form */
function items(form) {
  const toggle = (/** @type {string} */ id, /** @type {boolean} */ on) =>
    on ? form.items.add(id) : form.items.delete(id);
  return h(
    "fieldset",
    { class: "ticks" },
    h("legend", {}, "What was taught of it?"),
    form.lesson.items.map((/** @type {any} */ item) =>
      tick(itemName(item), form.items.has(item.id), (on) => toggle(item.id, on)),
    ),
    h("p", { class: "quiet" }, "The rest stays next."),
  );
}

/**
 * Which lesson a record is of, where another was put down than was taught.
 * @param {Form} form
 * @param {() => void} again  draws the whole form: what can become of a lesson is its own
 */
export function which(form, again) {
  const choose = (/** @type {string} */ id) => {
    // Of the lesson that is next, only what is left of it.
    form.planned = form.next?.id === id ? form.next : form.all.find((one) => one.id === id);
    form.lesson = form.planned;
    form.items.clear();
    form.outcome = form.outcome === "part" && form.planned.items.length < 2 ? "delivered" : form.outcome;
    again();
  };
  return h(
    "p",
    { class: "field" },
    h("label", { for: "lesson" }, "Which lesson was it?"),
    h(
      "select",
      { id: "lesson", class: "wide", value: form.planned.id, onchange: (/** @type {any} */ event) => choose(event.target.value) },
      form.all.map(option),
    ),
  );
}

/** @param {any} lesson */
const option = (lesson) =>
  h("option", { value: lesson.id }, `${titled(lesson.title)} (${lessonOf(lesson.place)})`);

/**
 * @param {Form} form
 * @param {() => void} redraw
 */
function taughtAgain(form, redraw) {
  const until = form.all.findIndex((one) => one.id === form.planned.id);
  const before = form.all.slice(0, until < 0 ? undefined : until).reverse();
  if (form.lesson === form.planned && !form.record && before[0]) {
    form.lesson = before[0];
  }
  return h(
    "p",
    { class: "field" },
    h("label", { for: "which" }, "Which lesson was taught again?"),
    h(
      "select",
      {
        id: "which",
        class: "wide",
        value: form.lesson.id,
        onchange: (/** @type {any} */ event) => {
          form.lesson = form.all.find((one) => one.id === event.target.value);
          redraw();
        },
      },
      [...(form.record || form.planned.begun ? [form.planned] : []), ...before].map(option),
    ),
  );
}

/** @param {Form} form */
function why(form) {
  return choice("reason", "Why was it not taught?", reasons(), form.reason, (code) => {
    form.reason = code;
  });
}

/**
 * Another lesson, day, lesson of the day, adult.
 * @param {Form} form
 * @param {() => void} again  draws the whole form
 */
export function more(form, again) {
  return h(
    "details",
    { class: "part", open: !form.record && (form.on !== app.today() || form.planned !== form.next) },
    h("summary", {}, form.record ? "Another adult taught it" : "Another lesson, day or adult"),
    form.record && h("p", {}, "Recorded on the wrong day? Delete this record, and log the lesson on the right one."),
    !form.record && which(form, again),
    !form.record && day(form, again),
    !form.record && slot(form, again),
    adult(form),
  );
}

/**
 * @param {Form} form
 * @param {() => void} redraw
 */
function day(form, redraw) {
  const choose = (/** @type {string} */ on) => {
    if (on && on <= app.today()) {
      form.on = on;
      form.slot = freeSlot(recordsOf(form.group_id, on), []);
      redraw();
    }
  };
  return h(
    "p",
    { class: "field" },
    h("label", { for: "on" }, "Day"),
    h("input", {
      type: "date",
      id: "on",
      value: form.on,
      max: app.today(),
      onchange: (/** @type {any} */ event) => choose(event.target.value),
    }),
  );
}

/**
 * @param {Form} form
 * @param {() => void} redraw
 */
function slot(form, redraw) {
  const taken = new Set(recordsOf(form.group_id, form.on).map((one) => one.slot ?? 1));
  return h(
    "p",
    { class: "field" },
    h("label", { for: "slot" }, "Which lesson of that day"),
    h(
      "select",
      {
        id: "slot",
        value: String(form.slot),
        onchange: (/** @type {any} */ event) => {
          form.slot = Number(event.target.value);
          redraw();
        },
      },
      Array.from({ length: Math.max(3, form.slot) }, (_, n) =>
        h("option", { value: n + 1, disabled: taken.has(n + 1) }, `the ${nth(n + 1)}${taken.has(n + 1) ? ", logged" : ""}`),
      ),
    ),
  );
}

/** @param {Form} form */
function adult(form) {
  const adults = app.store.get("group", form.group_id)?.adults ?? myGroups().flatMap((group) => group.adults);
  const others = app.store
    .list("staff_name")
    .sort((a, b) => byName(/** @type {any} */ (a), /** @type {any} */ (b)))
    .map((one) => one.id);
  const ids = [
    ...new Set([
      app.me?.staff_id ?? "",
      ...adults.map((/** @type {any} */ one) => one.staff_id),
      ...others,
      form.taught_by,
    ]),
  ];
  return h(
    "p",
    { class: "field" },
    h("label", { for: "by" }, "Who taught it?"),
    h(
      "select",
      {
        id: "by",
        value: form.taught_by,
        onchange: (/** @type {any} */ event) => {
          form.taught_by = event.target.value;
        },
      },
      ids.map((id) => h("option", { value: id }, id === app.me?.staff_id ? `I did (${staff(id)})` : staff(id))),
    ),
  );
}
