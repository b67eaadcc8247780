// What is printed: A4, 12 mm margins, black lines and no fills, so that a printer of two colours and a copier lose
// nothing. The cover page is the server's own sheet; the others are made here, the register without a connection.

import { app } from "../lib/app.js";
import { button, fill, h, link, name } from "./dom.js";
import { called, keyword, members, plan, titled } from "./facts.js";
import { frame, trying } from "./frame.js";
import { grapheme, say } from "./words.js";

/** Pupils on a page of the register. */
const ON_A_PAGE = 30;
/** Days on a register. */
const DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri"];

export const printing = {
  path: "/groups/:group_id/print",
  title: "Print",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  show(root, { group_id }) {
    const to = (/** @type {string} */ what) => `/groups/${group_id}/print/${what}`;
    frame(
      root,
      {
        title: `Print: ${app.store.get("group", group_id)?.name ?? "a group"}`,
        back: `/groups/${group_id}`,
        backTo: "Group",
      },
      h(
        "ul",
        { class: "rows" },
        h(
          "li",
          {},
          link(to("words"), { class: "row" }, "Words of the next lesson"),
          h("span", { class: "quiet" }, "No names on it."),
        ),
        h(
          "li",
          {},
          link(to("register"), { class: "row" }, "Register for a week"),
          h("span", { class: "quiet" }, "Names, to tick by hand."),
        ),
        h(
          "li",
          {},
          link(to("cover"), { class: "row" }, "Cover page for today"),
          h(
            "span",
            { class: "quiet" },
            "For who covers the group. Needs a connection; making it is in the school’s log.",
          ),
        ),
      ),
      h("p", {}, "A practice sheet for home is on each child’s page."),
    );
  },
};

/**
 * A screen with a sheet and the touch that prints it.
 * @param {HTMLElement} root
 * @param {string} title
 * @param {string} back
 * @param {string} backTo
 * @param {() => Promise<import("./dom.js").Child>} make
 */
async function sheet(root, title, back, backTo, make) {
  const said = h("div", { role: "alert" });
  const paper = h("div", { class: "paper" });
  const print = button(() => window.print(), { class: "button main" }, "Print");
  frame(root, { title, back, backTo }, h("p", { class: "acts" }, print), said, paper);
  await trying(said, async () => fill(paper, await make()));
}

/** @typedef {{group_id: string}} OfGroup */

export const words = {
  path: "/groups/:group_id/print/words",
  title: "Words to print",
  /**
   * @param {HTMLElement} root
   * @param {OfGroup} params
   */
  show: (root, { group_id }) =>
    sheet(root, "Words to print", `/groups/${group_id}/print`, "Print", async () => {
      const { lesson } = await plan(group_id);
      if (!lesson?.words) {
        return h("p", {}, lesson ? "Words come with the next connection." : "The whole sequence is taught.");
      }
      const { words: all } = lesson;
      return [
        page(
          1,
          1,
          h("h2", {}, titled(lesson.title)),
          columns(
            "Words to read",
            all.read.map((/** @type {any} */ one) => one.word),
          ),
          columns("Common exception words", all.exception_words),
          columns("Made-up words", all.pseudo_words, "columns made-up"),
          lines("Sentences", all.sentences),
          !all.read.length && h("p", {}, say(all.no_words)),
        ),
      ];
    }),
};

export const register = {
  path: "/groups/:group_id/print/register",
  title: "Register to print",
  /**
   * @param {HTMLElement} root
   * @param {OfGroup} params
   */
  show: (root, { group_id }) =>
    sheet(root, "Register to print", `/groups/${group_id}/print`, "Print", async () => {
      const all = members(group_id, app.today());
      const pages = Array.from({ length: Math.max(1, Math.ceil(all.length / ON_A_PAGE)) }, (_, n) =>
        all.slice(n * ON_A_PAGE, (n + 1) * ON_A_PAGE),
      );
      const group = app.store.get("group", group_id);
      return pages.map((some, n) =>
        page(
          n + 1,
          pages.length,
          h("h2", {}, name(group?.name ?? ""), ": register of the week of"),
          h("p", { class: "write" }, " "),
          h(
            "table",
            { class: "grid" },
            h(
              "thead",
              {},
              h(
                "tr",
                {},
                h("th", { scope: "col" }, "Name"),
                DAYS.map((day) => h("th", { scope: "col" }, day)),
              ),
            ),
            h(
              "tbody",
              {},
              some.map((one) =>
                h(
                  "tr",
                  {},
                  h("th", { scope: "row" }, name(called(one))),
                  DAYS.map(() => h("td", {})),
                ),
              ),
            ),
          ),
          h("p", {}, "/ here, O away, L late. Log each lesson afterwards, then destroy this page."),
        ),
      );
    }),
};

export const cover = {
  path: "/groups/:group_id/print/cover",
  title: "Cover page",
  /**
   * @param {HTMLElement} root
   * @param {OfGroup} params
   */
  show: (root, { group_id }) =>
    sheet(root, "Cover page", `/groups/${group_id}/print`, "Print", async () =>
      served(await app.ask(`/groups/${group_id}/cover-page?format=html`, { text: true })),
    ),
};

/** What a child reads in a check, or what the adult says; and the sheet to write on. */
export const checkSheet = {
  path: "/rounds/:round_id/print/:check_id/sheet",
  title: "Check sheet",
  /**
   * @param {HTMLElement} root
   * @param {{round_id: string, check_id: string}} params
   */
  show: (root, { round_id, check_id }) =>
    sheet(root, "Check sheet", `/rounds/${round_id}`, "Round", async () =>
      served(await app.ask(`/checks/${check_id}/sheet`, { text: true })),
    ),
};

export const logSheet = {
  path: "/rounds/:round_id/print/:check_id/log",
  title: "Log sheet",
  /**
   * @param {HTMLElement} root
   * @param {{round_id: string, check_id: string}} params
   */
  show: (root, { round_id, check_id }) =>
    sheet(root, "Log sheet", `/rounds/${round_id}`, "Round", async () =>
      served(await app.ask(`/check-rounds/${round_id}/log-sheet?check_id=${check_id}`, { text: true })),
    ),
};

/**
 * A sheet of the server with the style it brings, which counts for nothing else on the screen.
 * @param {string} html
 */
function served(html) {
  const from = new DOMParser().parseFromString(html, "text/html");
  const holder = h("div", { class: "page served", tabindex: "0", role: "region", "aria-label": "The sheet" });
  const shadow = holder.attachShadow({ mode: "open" });
  const inside = h("div", {});
  inside.append(...(from.querySelector("main")?.childNodes ?? []));
  shadow.append(...from.querySelectorAll("style"), inside);
  return holder;
}

export const practice = {
  path: "/pupils/:pupil_id/practice",
  title: "Practice sheet",
  /**
   * @param {HTMLElement} root
   * @param {{pupil_id: string}} params
   */
  show: (root, { pupil_id }) =>
    sheet(root, "Practice sheet", `/pupils/${pupil_id}`, "Child", async () => {
      const [who, all] = await Promise.all([app.ask(`/pupils/${pupil_id}`), app.ask(`/pupils/${pupil_id}/practice`)]);
      return page(
        1,
        1,
        h("h2", {}, "To practise at home: ", name(who.given_name ? (who.preferred_name ?? who.given_name) : who.name)),
        h(
          "p",
          {},
          "A few minutes are enough. Say the sound of each letter or group of letters; then say the sounds of a word, and blend them. If a word is hard, say it together.",
        ),
        all.missing && h("p", {}, say(all.missing)),
        sounds(all.gpcs),
        columns(
          "Read the words",
          all.words.map((/** @type {any} */ one) => one.word),
        ),
        lines(
          "Read the sentences",
          all.sentences.map((/** @type {any} */ one) => one.sentence),
        ),
      );
    }),
};

/**
 * @param {number} n
 * @param {number} of
 * @param {...import("./dom.js").Child} parts
 */
const page = (n, of, ...parts) =>
  h(
    "section",
    { class: "page", "aria-label": `Page ${n}` },
    parts.flat(),
    h("p", { class: "number" }, `Page ${n} of ${of}`),
  );

/**
 * @param {string} title
 * @param {string[]} items
 * @param {string} [kind]
 */
const columns = (title, items, kind = "columns") =>
  items.length > 0 &&
  h(
    "div",
    { class: "block" },
    h("h3", {}, title),
    h(
      "ul",
      { class: kind },
      items.map((one) => h("li", {}, h("span", { class: "read" }, one))),
    ),
  );

/**
 * Correspondences to say, each with the word it is known by, since two sounds can have the same letters.
 * @param {string[]} gpcs
 */
const sounds = (gpcs) =>
  gpcs.length > 0 &&
  h(
    "div",
    { class: "block" },
    h("h3", {}, "Say the sounds"),
    h(
      "ul",
      { class: "columns" },
      gpcs.map((gpc) =>
        h("li", {}, h("span", { class: "read" }, grapheme(gpc)), keyword(gpc) && ` as in ${keyword(gpc)}`),
      ),
    ),
  );

/**
 * @param {string} title
 * @param {string[]} items
 */
const lines = (title, items) =>
  items.length > 0 &&
  h(
    "div",
    { class: "block" },
    h("h3", {}, title),
    h(
      "ul",
      { class: "lines" },
      items.map((one) => h("li", { class: "read" }, one)),
    ),
  );
