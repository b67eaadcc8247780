// What a lesson teaches and goes back to, as one list: each thing once, with all the reasons for which it is there.

import { keyword, titled } from "./facts.js";
import { h } from "./dom.js";
import { sounding } from "./sounds.js";
import { grapheme, say, spelled } from "./words.js";

/** Why one is in the lesson, in words; the others are said by the words of their own kind. */
const WHY = { new: "new", left: "still to teach", planned: "planned" };

/**
 * @typedef {object} Line
 * @property {any} [item]    of the sequence
 * @property {string} [gpc]  what to go back to that is no item of the lesson, `ai:eɪ`
 * @property {string[]} why  in words
 */

/** How a label of the sequence writes a correspondence: "sh /ʃ/" of `sh:ʃ`. */
const inLabel = (/** @type {string} */ gpc) => gpc.replace(":", " /").replaceAll(".", " ") + "/";

/**
 * Whether an item of the sequence is of a correspondence, or names it in its label.
 * @param {any} item
 * @param {{gpc: string}} one
 */
export function names({ gpc, label }, one) {
  const code = inLabel(one.gpc);
  const at = label.indexOf(code);
  const begins = at === 0 || (at > 0 && !/[\p{L}\p{M}_–]/u.test(label[at - 1] ?? ""));
  return begins || (gpc && code === `${gpc.grapheme} /${gpc.phoneme}/`);
}

/**
 * The lines in the order of a lesson: what to go back to, then what is new. What the sequence goes over and the answers
 * or the days call back as well is one line.
 * @param {any} lesson
 * @returns {Line[]}
 */
export function lines(lesson) {
  const back = lesson.items.filter((/** @type {any} */ item) => item.kind === "review");
  const rest = lesson.items.filter((/** @type {any} */ item) => item.kind !== "review");
  const called = lesson.words?.review ?? [];
  const withWhy = (/** @type {any} */ item, /** @type {string} */ first) => {
    // What is there anyway is not there to fill up.
    const more = called.filter((/** @type {any} */ one) => one.why !== "fill" && names(item, one));
    return { item, why: [first, ...new Set(more.map((/** @type {any} */ one) => say(one.why)))] };
  };
  const named = (/** @type {any} */ one) => lesson.items.some((/** @type {any} */ item) => names(item, one));
  return [
    ...back.map((/** @type {any} */ item) => withWhy(item, WHY.planned)),
    ...called
      .filter((/** @type {any} */ one) => !named(one))
      .map((/** @type {any} */ one) => ({ gpc: one.gpc, why: [say(one.why)] })),
    ...rest.map((/** @type {any} */ item) => withWhy(item, lesson.begun ? WHY.left : WHY.new)),
  ];
}

/** @param {any} lesson */
export const list = (lesson) => h("ul", { class: "wordcards" }, lines(lesson).map(card));

/** @param {Line} line */
function card({ item, gpc, why }) {
  const reason = h("span", { class: "why" }, why.join(", "));
  if (gpc) {
    return h("li", {}, h("span", { class: "read" }, grapheme(gpc)), h("span", { class: "apart" }, asIn(keyword(gpc))), reason);
  }
  const read = item.gpc || item.kind === "exception_word";
  return h(
    "li",
    { class: item.kind === "review" ? null : "new" },
    h("span", { class: read ? "read" : "named" }, item.gpc ? spelled(item.gpc.grapheme) : titled(item.label)),
    item.gpc && h("span", { class: "apart" }, asIn(item.keyword) ?? sounding(item.gpc.phoneme)),
    item.kind === "exception_word" && h("span", { class: "apart" }, "common exception word"),
    reason,
  );
}

/** @param {string | null | undefined} word */
const asIn = (word) => (word ? `as in ${word}` : null);
