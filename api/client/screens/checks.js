// My checks: whom I am named to check, round by round; and everybody in a round whom I may see.

import { app } from "../lib/app.js";
import { h, link, name, renew } from "./dom.js";
import { called, members, myGroups, seesAll, staff } from "./facts.js";
import { age, frame, keeping, watching } from "./frame.js";
import { byName } from "./order.js";
import { say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

/** @type {{[code: string]: string}} */
const MARKS = { left_to_do: "○", under_way: "◐", done: "●", absent_today: "–", exempt: "–", not_accessible: "–" };

export default {
  path: "/checks",
  title: "My checks",
  /** @param {HTMLElement} root */
  show(root) {
    const body = h("div", {});
    const seconds = h("div", {});
    const all = h("div", {});
    frame(root, { title: "My checks" }, body, seconds, all);
    keeping(root, "/my-checks", (had, why) => {
      renew(body, why, had && [age(had), mine(had.body.items)]);
      renew(all, rounds());
    });
    watching(root, async () => renew(seconds, await marked()));
  },
};

/** Whom I am to mark a second time, round by round, as the server said last. */
async function marked() {
  const of = async (/** @type {Row} */ round) => {
    const had = await app.kept(`/check-rounds/${round.id}/second-markings`).catch(() => null);
    return (had?.body.items ?? []).flatMap((/** @type {any} */ sample) =>
      sample.pupils
        .filter((/** @type {any} */ one) => one.staff_id === app.me?.staff_id)
        .map((/** @type {any} */ one) => ({ ...one, round_id: round.id, check_id: sample.check_id })),
    );
  };
  const those = (await Promise.all(openRounds().map(of))).flat().sort(byName);
  return (
    those.length > 0 &&
    h(
      "section",
      { class: "part" },
      h("h2", {}, "To mark a second time"),
      h("p", { class: "quiet" }, "Without seeing how it was marked first."),
      h("ul", { class: "rows" }, those.map(second)),
    )
  );
}

/** @param {any} one */
function second(one) {
  const check = app.store.get("check", one.check_id);
  return h(
    "li",
    {},
    h("span", { class: "name" }, name(called(one))),
    link(
      `/rounds/${one.round_id}/pupils/${one.pupil_id}/checks/${one.check_id}/second`,
      { class: "button", id: "second" + one.pupil_id + one.check_id },
      `${one.given ? MARKS["done"] : MARKS["left_to_do"]} ${check?.name ?? "Check"}: ${one.given ? "given" : "to do"}`,
      h("span", { class: "unseen" }, ", ", called(one)),
    ),
  );
}

/** @param {any[]} items */
function mine(items) {
  const open = items.filter((one) => one.checks.some((/** @type {any} */ check) => standing(one, check) !== "done"));
  if (!open.length) {
    return h("p", {}, items.length ? "All whom you were named to check are done for today." : "Nobody is named for you to check today.");
  }
  const titles = [...new Set(open.map((one) => one.round_id))];
  return titles.map((id) => {
    const those = open.filter((one) => one.round_id === id);
    return h(
      "section",
      { class: "part" },
      h("h2", {}, those[0].round),
      h("p", { class: "quiet" }, `Until ${app.day(those[0].closes_on)}`),
      list(those),
    );
  });
}

/** @param {any[]} pupils */
const list = (pupils) =>
  h(
    "ul",
    { class: "rows" },
    [...pupils].sort(byName).map((one) =>
      h(
        "li",
        {},
        h("span", { class: "name" }, name(called(one))),
        h(
          "span",
          { class: "acts" },
          one.checks.map((/** @type {any} */ check) => entry(one, check)),
        ),
      ),
    ),
  );

/**
 * @param {any} pupil
 * @param {any} check
 */
function entry(pupil, check) {
  const now = standing(pupil, check);
  const what = app.store.get("check", check.check_id);
  const held = check.sitting && check.sitting.held_by !== app.me?.staff_id ? `, ${staff(check.sitting.held_by)}` : "";
  const words = `${MARKS[now] ?? ""} ${what?.name ?? "Check"}: ${say(now)}${now === "under_way" ? held : ""}`;
  // Answers of who is not kept here would not be here to go on from.
  if (now === "exempt" || !app.holds("pupil", pupil.pupil_id)) {
    return h("span", { class: "stands" }, words);
  }
  return link(
    `/rounds/${pupil.round_id}/pupils/${pupil.pupil_id}/checks/${check.check_id}`,
    { class: "button", id: pupil.pupil_id + check.check_id },
    words,
    h("span", { class: "unseen" }, ", ", called(pupil)),
  );
}

/**
 * How far a check is, with what was done on this tablet since the list was made.
 * @param {any} pupil
 * @param {any} check
 */
function standing(pupil, check) {
  const here = app.store.list("sitting", {
    round_id: pupil.round_id,
    pupil_id: pupil.pupil_id,
    check_id: check.check_id,
  });
  if (here.some((one) => one.finished_at)) {
    return "done";
  }
  return here.length && check.standing === "left_to_do" ? "under_way" : check.standing;
}

function openRounds() {
  const today = app.today();
  return app.store.list("check_round").filter((one) => one.opens_on <= today && one.closes_on >= today);
}

/** Rounds of today, where the list is not enough. */
function rounds() {
  const open = openRounds();
  return (
    open.length > 0 &&
    h(
      "section",
      { class: "part" },
      h("h2", {}, "Everybody in a round"),
      h(
        "ul",
        { class: "rows" },
        open.map((one) => h("li", {}, link(`/rounds/${one.id}`, { class: "button" }, one.name))),
      ),
    )
  );
}

export const round = {
  path: "/rounds/:round_id",
  title: "Round of checks",
  /**
   * @param {HTMLElement} root
   * @param {{round_id: string}} params
   */
  show(root, { round_id }) {
    const row = app.store.get("check_round", round_id);
    const body = h("div", {});
    frame(root, { title: row?.name ?? "Round of checks", back: "/checks", backTo: "My checks" }, body);
    keeping(root, `/check-rounds/${round_id}/list`, (had) => {
      const all = had ? had.body.pupils : fromHere(row);
      const from = had ? age(had) : h("p", { class: "quiet" }, "From what is kept on this tablet.");
      const pupils = list(all.map((/** @type {any} */ one) => ({ ...one, round_id })));
      // The lead's list is the whole school, and what is to be done with the checks is not to be looked for below it.
      renew(body, from, seesAll() ? [sheets(row), h("h2", {}, "Pupils"), pupils] : [pupils, sheets(row)]);
    });
  },
};

/**
 * The sheets of each check of a round, for doing it on paper.
 * @param {Row | undefined} row
 */
const sheets = (row) =>
  row &&
  h(
    "section",
    { class: "part" },
    h("h2", {}, app.me?.roles.includes("lead") ? "The checks" : "On paper"),
    h(
      "ul",
      { class: "rows" },
      row.check_ids.map((/** @type {string} */ id) => {
        const check = app.store.get("check", id);
        return h(
          "li",
          {},
          h("span", {}, check?.name ?? "A check"),
          link(`/rounds/${row.id}/print/${id}/sheet`, { class: "button" }, "Sheet to read from"),
          link(`/rounds/${row.id}/print/${id}/log`, { class: "button" }, "Log sheet"),
          app.me?.roles.includes("lead") &&
            link(`/rounds/${row.id}/checks/${id}/sample`, { class: "button" }, "Mark a sample twice"),
        );
      }),
    ),
  );

/**
 * Everybody in my groups with every check of the round, where the server's list was never had.
 * @param {Row | undefined} row
 */
const fromHere = (row) =>
  myGroups().flatMap((group) =>
    members(group.id, app.today()).map((one) => ({
      pupil_id: one.id,
      name: one.name,
      apart: one.apart,
      checks: (row?.check_ids ?? []).map((/** @type {string} */ check_id) => ({
        check_id,
        standing: "left_to_do",
        sitting: null,
      })),
    })),
  );
