// A child's page: what was taught, what is secure, what is not, in the school's words. It needs a connection, and every
// opening is in the school's log, so nothing of it is kept on the tablet.

import { app } from "../lib/app.js";
import { fill, h, link, name } from "./dom.js";
import { called, letters, pupil as pupilOf } from "./facts.js";
import { frame, trying } from "./frame.js";
import { byName } from "./order.js";
import { STANDINGS, count } from "./words.js";

export default {
  path: "/pupils/:pupil_id",
  title: "A child",
  /**
   * @param {HTMLElement} root
   * @param {{pupil_id: string}} params
   */
  async show(root, { pupil_id }) {
    const said = h("div", { role: "alert" });
    const body = h("div", {});
    // Who is kept here is called as everywhere else.
    const here = app.store.get("pupil", pupil_id) && called(pupilOf(pupil_id));
    const title = h("bdi", {}, here ?? "A child");
    frame(
      root,
      { title },
      h(
        "nav",
        { class: "acts", "aria-label": "Of this child" },
        link(`/pupils/${pupil_id}/practice`, { class: "button" }, "Practice sheet"),
        link(`/pupils/${pupil_id}/placement`, { class: "button" }, "Placement check"),
      ),
      said,
      body,
    );
    await trying(said, async () => {
      const [who, how] = await Promise.all([app.ask(`/pupils/${pupil_id}`), attainment(pupil_id)]);
      title.textContent = here ?? who.name;
      fill(
        body,
        about(who),
        how ? [standings(how), h("p", { class: "quiet" }, how.caution)] : await coverage(pupil_id),
      );
    });
  },
};

/**
 * What checks say, for whoever may read it; others are shown what was taught.
 * @param {string} pupil_id
 */
async function attainment(pupil_id) {
  try {
    return await app.ask(`/pupils/${pupil_id}/attainment`);
  } catch (/** @type {any} */ error) {
    if (error.status === 403 || error.status === 404) {
      return null;
    }
    throw error;
  }
}

/** @param {any} who */
function about(who) {
  const named = (/** @type {any[]} */ all) => all.map((one) => one.name).join(", ");
  return h(
    "p",
    {},
    [who.classes.length > 0 && `Class: ${named(who.classes)}`, who.groups.length > 0 && `Group: ${named(who.groups)}`]
      .filter(Boolean)
      .join(". "),
    who.left_on && ` Left on ${app.day(who.left_on)}.`,
  );
}

/** @param {any} how */
function standings(how) {
  const rule = how.secure_means;
  return [
    !how.items.length && h("p", {}, "Nothing was taught here or asked in a check yet."),
    STANDINGS.map(({ code, title, mark, means }) => {
      const those = how.items.filter((/** @type {any} */ item) => item.standing === code);
      return (
        those.length > 0 &&
        h(
          "section",
          { class: `part standing-${code}` },
          h("h2", {}, h("span", { "aria-hidden": "true" }, mark + " "), `${title}: ${those.length}`),
          h("p", { class: "quiet" }, means),
          h(
            "ul",
            { class: "chips" },
            those.map((/** @type {any} */ item) => h("li", {}, chip(item))),
          ),
        )
      );
    }),
    h(
      "p",
      { class: "quiet" },
      `Secure means: right on ${rule.right_on_days} separate days, one of them at least ${count(rule.days_after_teaching, "day")} after it was taught.`,
    ),
  ];
}

/** @param {any} item */
function lettered(item) {
  const { grapheme, word } = letters(item);
  return [h("span", { class: "read" }, grapheme), word && h("span", { class: "apart" }, `as in ${word}`)];
}

/** @param {any} item */
const chip = (item) => [
  lettered(item),
  item.standing === "not_yet_secure" && h("span", { class: "apart" }, `right days to go: ${item.days_needed}`),
  item.standing === "missed" && item.missed_on && h("span", { class: "apart" }, app.day(item.missed_on)),
];

/** @param {string} pupil_id */
async function coverage(pupil_id) {
  const all = (await app.ask(`/pupils/${pupil_id}/coverage`)).items;
  const of = (/** @type {string} */ title, /** @type {any[]} */ items) =>
    items.length > 0 &&
    h(
      "section",
      { class: "part" },
      h("h2", {}, `${title}: ${items.length}`),
      h(
        "ul",
        { class: "chips" },
        items.map((item) => h("li", {}, lettered(item))),
      ),
    );
  return [
    of(
      "Missed",
      all.filter((/** @type {any} */ one) => one.missed_on),
    ),
    of(
      "Taught",
      all.filter((/** @type {any} */ one) => !one.missed_on),
    ),
  ];
}

/** How many are shown. */
const MOST = 30;

/** Letters alone: whoever looks for Zoe finds Zoë. */
const plain = (/** @type {string} */ text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

/**
 * Pupils with this in their names: of the school for who may see them all, else those kept here.
 * @param {string} part
 * @returns {Promise<{id: string, name: string, apart: string | null}[]>}
 */
async function named(part) {
  if (app.me?.roles.some((role) => ["lead", "head", "office"].includes(role))) {
    return (await app.ask(`/pupils?limit=${MOST}&find=${encodeURIComponent(part)}`)).items.sort(byName);
  }
  return app.store
    .list("pupil")
    .filter((one) => plain(one.name).includes(plain(part)))
    .map((one) => pupilOf(one.id))
    .sort(byName)
    .slice(0, MOST);
}

export const find = {
  path: "/find",
  title: "Find a child",
  /** @param {HTMLElement} root */
  show(root) {
    const said = h("div", { role: "alert" });
    const found = h("div", { role: "status" });
    const field = h("input", { type: "search", id: "find", autocomplete: "off", required: true });
    const look = () =>
      trying(said, async () => {
        if (!field.value.trim()) {
          return;
        }
        const all = await named(field.value.trim());
        fill(
          found,
          all.length
            ? h(
                "ul",
                { class: "rows" },
                all.map((/** @type {any} */ one) =>
                  h("li", {}, link(`/pupils/${one.id}`, { class: "row" }, name(called(one)))),
                ),
              )
            : h("p", {}, "Nobody whom you may see has that name."),
        );
      });
    frame(
      root,
      { title: "Find a child" },
      h(
        "form",
        {
          class: "field",
          onsubmit: (/** @type {Event} */ event) => {
            event.preventDefault();
            look();
          },
        },
        h("label", { for: "find" }, "A part of the name"),
        field,
        h("button", { class: "button main" }, "Find"),
      ),
      said,
      found,
    );
  },
};
