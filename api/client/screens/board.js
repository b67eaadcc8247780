// Words for the whole class on a large screen: 1, 4 or 8 at a time, turned with arrow keys, space or a clicker, blank at
// once with B or a full stop. No pupil is named here, and it needs no connection for what was kept.

import { app } from "../lib/app.js";
import { button, choice, fill, h } from "./dom.js";
import { backFrom, plan } from "./facts.js";
import { looking, wayBack } from "./frame.js";
import { names } from "./in_lesson.js";
import { grapheme, spelled } from "./words.js";

/**
 * What stands on the screen.
 * @typedef {object} Board
 * @property {{[code: string]: {title: string, words: string[]}}} sets
 * @property {string} set   which of them
 * @property {number} at    the first word shown
 * @property {number} many  words at a time
 * @property {boolean} blank
 * @property {boolean} whole  whether nothing else is shown
 */

/**
 * The words of a lesson as sets to show; sets of nothing are left out.
 * @param {any} lesson
 * @returns {Board["sets"]}
 */
function sets(lesson) {
  const words = lesson?.words;
  /** @type {[string, string, string[]][]} */
  const all = [
    [
      "new",
      "New",
      (lesson?.items ?? [])
        .filter((/** @type {any} */ one) => one.gpc || one.kind === "exception_word")
        .map((/** @type {any} */ one) => (one.gpc ? spelled(one.gpc.grapheme) : one.label)),
    ],
    ["read", "Words to read", (words?.read ?? []).map((/** @type {any} */ one) => one.word)],
    ["review", "Go back to", (words?.review ?? []).map((/** @type {any} */ one) => grapheme(one.gpc))],
    ["exception", "Common exception words", words?.exception_words ?? []],
    ["pseudo", "Made-up words", words?.pseudo_words ?? []],
    ["spell", "Words to spell", (words?.spell ?? []).map((/** @type {any} */ one) => one.word)],
    ["sentences", "Sentences", words?.sentences ?? []],
  ];
  return Object.fromEntries(
    all.filter((one) => one[2].length).map(([code, title, list]) => [code, { title, words: list }]),
  );
}

/**
 * The set to open on: the words to read, where they begin with what is new, else what is new itself.
 * @param {Board["sets"]} all
 * @param {any} lesson
 */
function first(all, lesson) {
  const begins = lesson?.words?.read[0]?.reading.gpcs ?? [];
  const taught = (lesson?.items ?? []).filter((/** @type {any} */ one) => one.kind !== "review");
  const fresh = taught.some((/** @type {any} */ one) => begins.some((/** @type {string} */ gpc) => names(one, { gpc })));
  return all.read && (fresh || !all.new) ? "read" : (Object.keys(all)[0] ?? "");
}

/**
 * @param {Board} board
 * @param {number} by  pages on, or back where negative
 */
function turn(board, by) {
  const last = list(board).length - 1;
  const to = board.at + by * step(board);
  board.at = to > last ? board.at : Math.max(0, to);
  board.blank = false;
}

/** @param {Board} board */
const list = (board) => board.sets[board.set]?.words ?? [];

/**
 * Words at a time; a sentence stands alone, and so does the only word there is.
 * @param {Board} board
 */
const step = (board) => (board.set === "sentences" || list(board).length === 1 ? 1 : board.many);

/** @type {{[key: string]: (board: Board) => void}} */
const KEYS = {
  ArrowRight: (board) => turn(board, 1),
  ArrowDown: (board) => turn(board, 1),
  PageDown: (board) => turn(board, 1),
  " ": (board) => turn(board, 1),
  ArrowLeft: (board) => turn(board, -1),
  ArrowUp: (board) => turn(board, -1),
  PageUp: (board) => turn(board, -1),
  Home: (board) => turn(board, -Infinity),
  b: (board) => void (board.blank = !board.blank),
  B: (board) => void (board.blank = !board.blank),
  ".": (board) => void (board.blank = !board.blank),
};

/**
 * @param {Element} screen
 * @param {Board} board
 */
function draw(screen, board) {
  const shown = list(board).slice(board.at, board.at + step(board));
  // One size for the whole set, so that letters do not grow and shrink as it is turned.
  const longest = Math.max(1, ...list(board).map((word) => word.length));
  screen.className = `screen of${step(board)}${board.blank ? " blank" : ""}${board.whole ? " whole" : ""}`;
  screen.setAttribute("data-long", longest <= 6 ? "short" : longest <= 9 ? "middle" : longest <= 16 ? "long" : "line");
  fill(
    /** @type {Element} */ (screen.querySelector(".words")),
    board.blank
      ? h("span", { class: "unseen" }, "Blank")
      : h(
          "ul",
          { class: board.set === "pseudo" ? "made-up" : null },
          shown.map((word) => h("li", {}, h("span", { class: "read" }, word))),
        ),
  );
}

/**
 * @param {Board} board
 * @param {HTMLElement} screen
 * @param {() => void} redraw
 */
function controls(board, screen, redraw) {
  const full = () => {
    board.whole = true;
    redraw();
    // Where the browser cannot, or may not, the words fill its window.
    screen.requestFullscreen?.().catch(() => undefined);
  };
  const sizes = /** @type {[string, string][]} */ ([
    ["1", "1"],
    ["4", "4"],
    ["8", "8"],
  ]);
  const turned = (/** @type {() => void} */ act) => () => {
    act();
    redraw();
  };
  return h(
    "div",
    { class: "controls" },
    h(
      "p",
      { class: "field" },
      h("label", { for: "set" }, "Show"),
      h(
        "select",
        {
          id: "set",
          value: board.set,
          onchange: (/** @type {any} */ event) =>
            turned(() => Object.assign(board, { set: event.target.value, at: 0, blank: false }))(),
        },
        Object.entries(board.sets).map(([code, one]) => h("option", { value: code }, one.title)),
      ),
    ),
    choice(
      "many",
      "At a time",
      sizes,
      String(board.many),
      (many) => turned(() => Object.assign(board, { many: Number(many), at: 0 }))(),
      { class: "choice small" },
    ),
    h(
      "p",
      { class: "acts" },
      button(
        turned(() => turn(board, -1)),
        { class: "button" },
        "‹ Back",
      ),
      button(
        turned(() => turn(board, 1)),
        { class: "button main" },
        "Next ›",
      ),
      button(
        turned(() => void (board.blank = !board.blank)),
        { class: "button" },
        "Blank",
      ),
      button(full, { class: "button" }, "Whole screen"),
    ),
  );
}

/**
 * Turns the words at keys, clickers and touches, and leaves the whole screen at Escape or by the tablet's own way.
 * @param {HTMLElement} screen
 * @param {Board} board
 * @param {() => void} redraw
 * @param {() => void} leave
 */
function listening(screen, board, redraw, leave) {
  screen.addEventListener("fullscreenchange", () => document.fullscreenElement || !board.whole || leave());
  // Keys of one letter work only while the words have the focus.
  screen.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    const own = event.target instanceof HTMLButtonElement || event.ctrlKey || event.altKey || event.metaKey;
    const act = own ? undefined : KEYS[event.key];
    if (event.key === "Escape" && board.whole) {
      leave();
    } else if (act) {
      event.preventDefault();
      act(board);
      redraw();
    }
  });
  // A touch on the words turns them too, as on a large screen that can be touched.
  screen.addEventListener("click", (/** @type {Event} */ event) => {
    if (!(event.target instanceof Element && event.target.closest("button"))) {
      turn(board, 1);
      redraw();
    }
  });
}

export default {
  path: "/groups/:group_id/board",
  title: "Screen words",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  async show(root, { group_id }) {
    fill(root, looking());
    const next = await plan(group_id);
    fill(root);
    /** @type {Board} */
    const board = { sets: sets(next.lesson), set: "", at: 0, many: 4, blank: false, whole: false };
    board.set = first(board.sets, next.lesson);
    const from = backFrom(group_id);
    const back = wayBack(from.back, from.backTo);
    if (!board.set) {
      root.append(
        h("div", { class: "bar" }, back),
        h("h1", {}, "Screen words"),
        h("p", {}, "There are no words to show for the next lesson yet."),
      );
      return;
    }
    const screen = h(
      "div",
      {
        class: "screen",
        tabindex: "0",
        role: "region",
        "aria-label":
          "The words. Arrow keys turn them, B or a full stop makes the screen blank, Escape leaves the whole screen.",
      },
      // The heading gets the focus at first; inside, so that a clicker works at once.
      h("h1", { class: "unseen" }, "Screen words"),
      h("div", { class: "words", "aria-live": "polite" }),
      button(() => leave(), { class: "close", id: "close" }, h("span", { "aria-hidden": "true" }, "×"), " Close"),
    );
    const redraw = () => draw(screen, board);
    const leave = () => {
      board.whole = false;
      redraw();
      void (document.fullscreenElement && document.exitFullscreen());
      screen.focus();
    };
    listening(screen, board, redraw, leave);
    root.append(
      h(
        "div",
        { class: "bar" },
        back,
        button(() => app.lock(), { class: "plain", id: "lock" }, "Lock"),
      ),
      screen,
      controls(board, screen, () => {
        redraw();
        screen.focus();
      }),
    );
    redraw();
  },
};
