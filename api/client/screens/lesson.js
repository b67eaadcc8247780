// The lesson as cards on the tablet: what to go back to, what is new, words to read and to spell, made-up words,
// sentences. Each word shows how it comes apart. It works without a connection as far as it was kept.

import { h, link, renew } from "./dom.js";
import { app } from "../lib/app.js";
import { backFrom, keyword, mayRecord, plan, titled } from "./facts.js";
import { frame, watching } from "./frame.js";
import { sounding } from "./sounds.js";
import { grapheme, lessonOf, say, spelled } from "./words.js";

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
    words && part("Go back to", words.review.length ? letters(words.review) : h("p", {}, "Nothing today.")),
    part(heading(lesson), newItems(lesson)),
    words ? parts(words) : h("p", { class: "notice" }, "Words for this lesson come with the next connection."),
  ];
}

/** @param {any} lesson */
function heading(lesson) {
  if (lesson.begun) {
    return "Still to teach";
  }
  return lesson.items.some((/** @type {any} */ item) => item.kind === "review") ? "In this lesson" : "New";
}

/** @param {any} words */
function parts(words) {
  return [
    part("Words to read", words.read.length ? cards(words.read) : h("p", {}, say(words.no_words))),
    part("Words to spell", words.spell.length ? cards(words.spell) : h("p", {}, say(words.no_spelling))),
    words.exception_words.length > 0 && part("Exception words", plain(words.exception_words)),
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

/**
 * @param {string} title
 * @param {import("./dom.js").Child} inside
 */
function part(title, inside) {
  return h("section", { class: "part" }, h("h2", {}, title), inside);
}

/** @param {any[]} review */
function letters(review) {
  return h(
    "ul",
    { class: "wordcards" },
    review.map((one) =>
      h(
        "li",
        {},
        h("span", { class: "read" }, grapheme(one.gpc)),
        h("span", { class: "apart" }, [keyword(one.gpc), say(one.why)].filter(Boolean).join(", ")),
      ),
    ),
  );
}

/** @param {any} lesson */
function newItems(lesson) {
  return h(
    "ul",
    { class: "wordcards new" },
    lesson.items.map((/** @type {any} */ item) =>
      h(
        "li",
        {},
        h(
          "span",
          { class: item.gpc || item.kind === "exception_word" ? "read" : "" },
          item.gpc ? spelled(item.gpc.grapheme) : titled(item.label),
        ),
        item.gpc && h("span", { class: "apart" }, item.keyword ? `as in ${item.keyword}` : sounding(item.gpc.phoneme)),
      ),
    ),
  );
}

/** @param {any[]} words */
function cards(words) {
  return h(
    "ul",
    { class: "wordcards" },
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
