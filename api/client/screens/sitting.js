// A check of one child, one item at a time. Four outcomes that are never mixed up; no marks, no totals, no other child.
// Each answer is on the tablet before the next item shows.

import { app } from "../lib/app.js";
import { answersBy, usually } from "./answering.js";
import { last, open, standing } from "./answers.js";
import { button, fill, focus, h, link, name } from "./dom.js";
import { called, pupil, staff } from "./facts.js";
import { frame, trying, watching } from "./frame.js";
import { marking } from "./item.js";
import { spelled } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** @typedef {{round_id: string, pupil_id: string, check_id: string}} Place */
/** Does something about the sitting. @typedef {(type: string, more: object) => Promise<void>} Act */

/** @param {Place} place */
function look(place) {
  const check = app.store.get("check", place.check_id);
  const all = app.store.list("sitting", { ...place }).sort((a, b) => (a.id < b.id ? -1 : 1));
  const sitting = all.filter((one) => !one.finished_at).pop();
  const answers = standing(app.store.list("response", { ...place }));
  const items = check ? open(check, answers, sitting?.id) : [];
  const round = app.store.get("check_round", place.round_id);
  const days = { opens_on: round?.opens_on, closes_on: round?.closes_on, today: app.today() };
  return { check, sitting, answers, items, item: items[0] ?? null, finished: all.pop()?.finished_at ?? null, round, days };
}

export default {
  path: "/rounds/:round_id/pupils/:pupil_id/checks/:check_id",
  title: "Check",
  /**
   * @param {HTMLElement} root
   * @param {any} params
   */
  show(root, params) {
    const place = { round_id: params.round_id, pupil_id: params.pupil_id, check_id: params.check_id };
    const body = h("div", { class: "sitting" });
    const said = h("div", { role: "alert" });
    frame(
      root,
      { title: [called(pupil(place.pupil_id)), ", check"].join(""), back: "/checks", backTo: "My checks" },
      said,
      body,
    );
    const { round_id, pupil_id } = place;
    /** @type {Act} */
    const act = (type, more) =>
      trying(said, () => app.act(type, { round_id, pupil_id, on: app.today(), ...more }).then(() => undefined));
    let shown = "";
    watching(root, () => {
      const now = look(place);
      // Drawn again only when it is another item or stage, so that a pad that is open stays open.
      const key = JSON.stringify([
        now.check?.id,
        now.sitting?.id,
        now.sitting?.held_by,
        now.sitting?.paused_at,
        now.item?.id,
        now.finished,
        now.answers.length,
        last(now.answers, now.sitting?.id)?.id,
        now.days,
      ]);
      if (key !== shown) {
        shown = key;
        fill(body, stage(now, place, act));
        focus(body);
      }
    });
  },
};

/**
 * @param {ReturnType<typeof look>} now
 * @param {Place} place
 * @param {Act} act
 */
function stage(now, place, act) {
  const { check, sitting, item, round, days } = now;
  if (!app.holds("pupil", place.pupil_id)) {
    return h("p", { class: "notice" }, "This child is in none of your groups and classes on this tablet.");
  }
  if (!check) {
    return h("p", { class: "notice" }, "This check is not kept on this tablet. It comes with the next connection.");
  }
  if (round && !(days.opens_on <= days.today && days.today <= days.closes_on)) {
    return closed(now, place, act);
  }
  if (!sitting) {
    return now.finished || !item ? over(now, place, act) : beginning(place, check, act);
  }
  if (sitting.held_by !== app.me?.staff_id) {
    return other(sitting, act);
  }
  if (sitting.paused_at) {
    return [
      h("p", {}, "Paused. What was answered is kept."),
      button(
        () => act("sitting.resume", { sitting_id: sitting.id }),
        { class: "button main", "data-first": true },
        "Go on",
      ),
    ];
  }
  return item ? asking(now, act) : ending(now, act);
}

/**
 * @param {Place} place
 * @param {Row} check
 * @param {Act} act
 */
function beginning(place, check, act) {
  return [
    h("p", {}, `${check.name}: ${check.items.length} items. There is no hurry: pause whenever you like.`),
    usually(place.pupil_id),
    button(
      () => act("sitting.begin", { id: app.uuid(), check_id: check.id }),
      { class: "button main", "data-first": true },
      "Begin",
    ),
  ];
}

/**
 * On a day that is none of the round's: the server would take nothing of what was asked, so nothing is asked. What was begun
 * while it was open can be finished, as of the round's last day.
 * @param {ReturnType<typeof look>} now
 * @param {Place} place
 * @param {Act} act
 */
function closed({ days: { opens_on, closes_on, today }, answers, sitting, finished }, place, act) {
  const open = today > closes_on && sitting?.held_by === app.me?.staff_id ? sitting : null;
  const done = finished && !sitting ? "This check is finished. " : "";
  return [
    h("p", { class: "notice" }, `${done}This round is from ${app.day(opens_on)} to ${app.day(closes_on)}. Nothing can be asked in it today.`),
    open && h("p", {}, "The check was begun and not finished. What was answered stands, and what was not asked is noted as not asked."),
    h(
      "p",
      { class: "acts" },
      open &&
        button(() => act("sitting.finish", { sitting_id: open.id }), { class: "button main", "data-first": true }, "Finish it as it is"),
      link("/checks", { class: open ? "button" : "button main", "data-first": !open }, "My checks"),
      answers.length > 0 && toAnswers(place),
    ),
  ];
}

/** @param {Place} place */
const toAnswers = (place) =>
  link(
    `/rounds/${place.round_id}/pupils/${place.pupil_id}/checks/${place.check_id}/answers`,
    { class: "button" },
    "Put an answer right",
  );

/**
 * After the end: what was not asked can still be asked, in another sitting.
 * @param {ReturnType<typeof look>} now
 * @param {Place} place
 * @param {Act} act
 */
function over({ item }, place, act) {
  return [
    h(
      "p",
      {},
      item
        ? "This check is finished. Some items were not asked."
        : "This check is finished. Every item was asked in this round.",
    ),
    h(
      "p",
      { class: "acts" },
      link("/checks", { class: "button main", "data-first": true }, "My checks"),
      item &&
        button(
          () => act("sitting.begin", { id: app.uuid(), check_id: place.check_id }),
          { class: "button" },
          "Ask what was not asked",
        ),
      toAnswers(place),
    ),
  ];
}

/**
 * @param {Row} sitting
 * @param {Act} act
 */
function other(sitting, act) {
  const who = staff(sitting.held_by);
  return [
    h(
      "p",
      {},
      name(who),
      sitting.paused_at
        ? " began this check and paused it."
        : " is at this check, on another tablet. What was taken down there is kept.",
    ),
    button(
      () => act("sitting.resume", { sitting_id: sitting.id, take_over: !sitting.paused_at }),
      { class: "button main", "data-first": true },
      sitting.paused_at ? "Go on with it" : "Take it over",
    ),
  ];
}

/**
 * @param {ReturnType<typeof look>} now
 * @param {Act} act
 */
function asking(now, act) {
  const { check, sitting, items, item } = now;
  const place = check?.items.indexOf(item) + 1;
  const how = answersBy(sitting);
  const answer = (/** @type {string} */ outcome, /** @type {string | null} */ heard = null) =>
    act("sitting.answer", {
      sitting_id: sitting?.id,
      answers: [{ id: app.uuid(), item_id: item.id, outcome, mode: how.mode(), ...(heard ? { heard } : {}) }],
    });
  return [
    h(
      "p",
      { class: "quiet" },
      `Item ${place} of ${check?.items.length}`,
      h("span", { class: "keyhint" }, ". With a keyboard: 1 right, 2 wrong, 3 no response, 4 not asked."),
    ),
    marking(check, item, answer),
    h(
      "p",
      { class: "acts" },
      undoing(now, act),
      button(() => act("sitting.pause", { sitting_id: sitting?.id }), { class: "button" }, "Pause"),
      items.length > 0 &&
        button(() => act("sitting.finish", { sitting_id: sitting?.id }), { class: "button" }, "Stop here"),
    ),
    how.shown,
  ];
}

/**
 * The touch that takes the last answer back. It names the answer by the id that was made here: where the server set that
 * one aside meanwhile, another's is not meant.
 * @param {ReturnType<typeof look>} now
 * @param {Act} act
 */
function undoing({ check, sitting, answers }, act) {
  const given = last(answers, sitting?.id);
  const undo = () => act("sitting.undo", { sitting_id: sitting?.id, id: app.uuid(), of: given?.id });
  const item = check?.items.find((/** @type {any} */ one) => one.id === given?.item_id);
  // The item and not its mark: a child may look on.
  return given && button(undo, { class: "button" }, `Undo the answer to “${spelled(item?.prompt ?? "the item before")}”`);
}

/**
 * @param {ReturnType<typeof look>} now
 * @param {Act} act
 */
function ending(now, act) {
  return [
    h("p", {}, "Every item was asked."),
    h(
      "p",
      { class: "acts" },
      button(
        () => act("sitting.finish", { sitting_id: now.sitting?.id }),
        { class: "button main", "data-first": true },
        "Finish",
      ),
      undoing(now, act),
      link("/checks", { class: "button" }, "My checks"),
    ),
  ];
}
