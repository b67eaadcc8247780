// The lesson as cards on the tablet: what it teaches and goes back to, words to read and to spell, made-up words, sentences. Each word shows how it comes apart. It works without a connection as far as it was kept.

import { h, link, renew } from "./dom.js";
import { app } from "../lib/app.js";
import { backFrom, mayRecord, plan, titled } from "./facts.js";
import { frame, watching } from "./frame.js";
import { list } from "./in_lesson.js";
import { lessonOf, say, spelled } from "./words.js";

export default {
  path: "/groups/:group_id/lesson",
  title: "Lesson",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  show(root, { group_id }) {
    const body = h("div", {});
    const group = app.store.get("group", group_id);
    frame(
      root,
      { title: ["Lesson of ", group?.name ?? "a group"].join(""), ...backFrom(group_id) },
      body,
      h(
        "p",
        { class: "acts foot" },
        mayRecord(group_id) && link(`/groups/${group_id}/log`, { class: "button main" }, "Log this lesson"),
        link(`/groups/${group_id}/board`, { class: "button" }, "Screen words"),
      ),
    );
    watching(root, async () => {
      const next = await plan(group_id);
      renew(body, next.lesson ? content(next) : h("p", {}, "The whole sequence is taught."));
    });
  },
};

/** @param {import("./facts.js").Plan} next */
function content(next) {
  const { lesson } = next;
  const words = lesson.words;
  const old = next.at && !next.fresh ? `As it was ${app.ago(next.at)} ago: there is no connection now.` : "";
  return [
    h(
      "p",
      { class: "quiet" },
      `${titled(lesson.title)}, ${lessonOf(lesson.place)}. ${old}`,
    ),
    part("In this lesson", list(lesson)),
    words ? parts(words) : h("p", { class: "notice" }, "Words for this lesson come with the next connection."),
  ];
}

/** @param {any} words */
function parts(words) {
  return [
    toReadAndSpell(words),
    words.exception_words.length > 0 &&
      part("Common exception words", [
        h("p", { class: "quiet" }, "Each has a part that is not spelled as taught so far: say which, and read the rest."),
        plain(words.exception_words),
      ]),
    words.pseudo_words.length > 0 &&
      part("Made-up words", [
        h("p", { class: "quiet" }, "Say that they are made up."),
        plain(words.pseudo_words, "made-up"),
      ]),
    words.sentences.length > 0 &&
      part(
        "Sentences",
        h(
          "ul",
          { class: "sentences" },
          words.sentences.map((/** @type {string} */ one) => h("li", { class: "read" }, one)),
        ),
      ),
    words.handwriting.length > 0 &&
      part("Letters to write", h("p", { class: "read big" }, words.handwriting.map(spelled).join("   "))),
  ];
}

/** @param {any} words */
function toReadAndSpell({ read, spell, no_words, no_spelling }) {
  if (!read.length && !spell.length && no_words === no_spelling) {
    return part("Words to read and to spell", h("p", {}, say(no_words)));
  }
  return [
    part("Words to read", read.length ? cards(read) : h("p", {}, say(no_words))),
    part("Words to spell", spell.length ? cards(spell) : h("p", {}, say(no_spelling))),
  ];
}

/**
 * @param {string} title
 * @param {import("./dom.js").Child} inside
 */
function part(title, inside) {
  return h("section", { class: "part" }, h("h2", {}, title), inside);
}

/** @param {any[]} words */
function cards(words) {
  return h(
    "ul",
    { class: "wordcards words" },
    words.map((one) =>
      h(
        "li",
        {},
        h("span", { class: "read" }, one.word),
        h(
          "span",
          { class: "apart" },
          h("span", { class: "unseen" }, "comes apart as "),
          one.reading.graphemes.map(spelled).join(" · "),
        ),
      ),
    ),
  );
}

/**
 * @param {string[]} words
 * @param {string} [kind]
 */
function plain(words, kind = "") {
  return h(
    "ul",
    { class: "wordcards " + kind },
    words.map((word) => h("li", {}, h("span", { class: "read" }, word))),
  );
}
