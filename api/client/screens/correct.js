// What was taken down in a check that is over, to be put right where it was taken down wrongly. The first answer stays on
// record; the later one counts. No marks and no totals here either.

import { app } from "../lib/app.js";
import { answerAside, answersAside } from "./aside.js";
import { standing } from "./answers.js";
import { button, fill, h } from "./dom.js";
import { called, pupil, staff } from "./facts.js";
import { frame, trying, watching } from "./frame.js";
import { OUTCOMES, chosen } from "./item.js";
import { heardAs } from "./sounds.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** @typedef {{round_id: string, pupil_id: string, check_id: string}} Place */

export default {
  path: "/rounds/:round_id/pupils/:pupil_id/checks/:check_id/answers",
  title: "Answers",
  /**
   * @param {HTMLElement} root
   * @param {any} params
   */
  show(root, params) {
    const place = { round_id: params.round_id, pupil_id: params.pupil_id, check_id: params.check_id };
    const check = app.store.get("check", place.check_id);
    const said = h("div", { role: "alert" });
    const body = h("div", {});
    const back = `/rounds/${place.round_id}/pupils/${place.pupil_id}/checks/${place.check_id}`;
    frame(
      root,
      { title: `${called(pupil(place.pupil_id))}, answers`, back, backTo: "Check" },
      h("p", {}, "If an answer was taken down wrongly, put it right here. What was there first stays on record."),
      said,
      body,
    );
    /** The item that is being put right. @type {string | null} */
    let open = null;
    let shown = "";
    /** What was set aside, once it is known. @type {import("./aside.js").AnswerAside[]} */
    let aside = [];
    const draw = (/** @type {boolean} */ anyway) => {
      const all = app.store.list("response", { ...place });
      // A choice that is open stays open while nothing else changed.
      const key = JSON.stringify([open, all.map((one) => [one.id, one.waiting])]);
      if (key !== shown || anyway) {
        shown = key;
        fill(body, list(check, all, { open, aside }, pick, put));
      }
    };
    const pick = (/** @type {string | null} */ id) => {
      open = id;
      draw(true);
      document.getElementById(id ? "right" : "i" + shownLast)?.focus();
      shownLast = id ?? "";
    };
    let shownLast = "";
    const put = (/** @type {Row} */ answer, /** @type {string} */ outcome, /** @type {string | null} */ heard) =>
      trying(said, async () => {
        const { round_id, pupil_id } = place;
        const set = { round_id, pupil_id, id: app.uuid(), response_id: answer.id, outcome, heard, mode: answer.mode };
        await app.act("response.correct", set);
        pick(null);
      });
    watching(root, () => draw(false));
    void answersAside(place).then((all) => {
      aside = all;
      if (root.isConnected && all.length) {
        draw(true);
      }
    });
  },
};

/**
 * @param {Row | undefined} check
 * @param {Row[]} all   every answer of the check, corrected ones too
 * @param {{open: string | null, aside: import("./aside.js").AnswerAside[]}} now
 * @param {(item: string | null) => void} pick
 * @param {(answer: Row, outcome: string, heard: string | null) => void} put
 */
function list(check, all, { open, aside }, pick, put) {
  const now = standing(all);
  if (!check || !now.length) {
    return h("p", {}, "No answer of this check is kept on this tablet.");
  }
  return h(
    "ol",
    { class: "rows" },
    check.items.map((/** @type {any} */ item) => {
      const answer = now.find((one) => one.item_id === item.id);
      return h(
        "li",
        {},
        h("span", { class: "read asked" }, item.prompt),
        h("span", { class: "stands" }, answer ? words(answer, all) : say("not_offered")),
        answer &&
          (open === item.id
            ? button(() => pick(null), { class: "button", id: "i" + item.id }, "Leave it as it is")
            : button(
                () => pick(item.id),
                { class: "button", id: "i" + item.id },
                "Put right",
                h("span", { class: "unseen" }, ": ", item.prompt),
              )),
        answer &&
          open === item.id &&
          h(
            "div",
            { class: "whole" },
            chosen((outcome, heard = null) => put(answer, outcome, heard)),
          ),
        answer &&
          aside
            .filter((one) => one.item_id === item.id)
            .map((one) => answerAside(one, answer, () => put(answer, one.outcome, one.heard))),
      );
    }),
  );
}

/**
 * What stands of an item, and what stood before.
 * @param {Row} answer
 * @param {Row[]} all
 */
function words(answer, all) {
  const before = all.find((one) => one.id === answer.corrects);
  const [, mark] = OUTCOMES.find((one) => one[0] === answer.outcome) ?? ["", ""];
  return [
    h("span", { "aria-hidden": "true" }, mark + " "),
    h("strong", {}, say(answer.outcome)),
    answer.heard && `, heard ${heardAs(answer.heard)}`,
    answer.taken_by !== app.me?.staff_id && `, asked by ${staff(answer.taken_by)}`,
    before && `. At first: ${say(before.outcome).toLowerCase()}`,
    answer.waiting && h("span", { class: "mark waiting" }, "Waiting to be sent"),
  ];
}
