// An item of a check and what can come of it: four outcomes that are never mixed up, and what was heard. Whoever asks, marks
// a second time or puts an answer right has the same before them.

import { button, fill, h } from "./dom.js";
import { accepted, heardAs, pad } from "./sounds.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** Takes an outcome, with the sounds that were heard instead. @typedef {(outcome: string, heard?: string | null) => void} Answer */

/** Outcomes with their marks. @type {[string, string][]} */
export const OUTCOMES = [
  ["right", "✓"],
  ["wrong", "✗"],
  ["no_response", "…"],
  ["not_offered", "–"],
];

/**
 * The item and below it the outcomes, or the pad of sounds while it is asked for.
 * @param {Row | undefined} check
 * @param {any} item
 * @param {Answer} answer
 */
export function marking(check, item, answer) {
  const paper = shown(check, item);
  // Only while the item has the focus, so that a key touched elsewhere says nothing about a child.
  paper.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    const outcome = event.target === paper ? OUTCOMES[Number(event.key) - 1] : undefined;
    if (outcome) {
      answer(outcome[0]);
    }
  });
  return [paper, chosen(answer)];
}

/**
 * The outcomes, or the pad of sounds while it is asked for.
 * @param {Answer} answer
 */
export function chosen(answer) {
  const below = h("div", {});
  const keys = () =>
    fill(
      below,
      outcomes(answer, () =>
        fill(
          below,
          pad((heard) => answer("wrong", heard), keys),
        ),
      ),
    );
  keys();
  return below;
}

/**
 * What the child is shown, or what the adult says.
 * @param {Row | undefined} check
 * @param {any} item
 */
function shown(check, item) {
  const said = check?.kind === "oral_blending" || check?.kind === "spelling";
  return h(
    "div",
    {
      class: "item",
      "data-first": true,
      tabindex: "0",
      role: "group",
      "aria-label": "The item. 1 right, 2 wrong, 3 no response, 4 not asked.",
    },
    said &&
      h(
        "p",
        { class: "quiet" },
        check?.kind === "spelling"
          ? "Say the word. The child does not see it."
          : "Say the sounds. The child says the word.",
      ),
    h(
      "p",
      {
        class:
          check?.kind === "sentence_reading"
            ? "read sentence"
            : item.pseudo || check?.kind === "pseudo_word_reading"
              ? "read made-up"
              : "read",
      },
      check?.kind === "oral_blending" && item.sounds ? heardAs(item.sounds) : item.prompt,
    ),
    item.accept?.length > 0 &&
      h(
        "details",
        {},
        h("summary", {}, "What to accept"),
        h(
          "ul",
          { class: "accept" },
          item.accept.map((/** @type {string} */ one) => accepted(one, item.keyword)),
        ),
      ),
  );
}

/**
 * @param {(outcome: string) => void} answer
 * @param {() => void} heard
 */
function outcomes(answer, heard) {
  return [
    h(
      "div",
      { class: "four", role: "group", "aria-label": "What came of it?" },
      OUTCOMES.map(([code, mark]) =>
        button(
          () => answer(code),
          { class: `outcome ${code}`, id: code },
          h("span", { "aria-hidden": "true" }, mark),
          " ",
          say(code),
        ),
      ),
    ),
    h("p", { class: "acts" }, button(heard, { class: "button", id: "heard" }, "Wrong: say what was heard")),
  ];
}
