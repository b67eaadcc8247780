// For the lead: a sample of a check that is marked a second time. Asked for here, then who has given their marks, how far
// the two agree, and where they differ. Nothing here says which of two adults was right.

import { app } from "../lib/app.js";
import { fill, h, name, tick } from "./dom.js";
import { called, staff } from "./facts.js";
import { frame, trying } from "./frame.js";
import { byName, holds } from "./order.js";
import { count, say } from "./words.js";

/** @typedef {{round_id: string, check_id: string, said: Element, body: Element}} Place */

/** Pupils that are drawn unless another number is entered. */
const PUPILS = 5;
/** Roles that may mark. */
const MARK = ["teacher", "assistant", "lead"];

export default {
  path: "/rounds/:round_id/checks/:check_id/sample",
  title: "Sample to mark twice",
  /**
   * @param {HTMLElement} root
   * @param {any} params
   */
  async show(root, { round_id, check_id }) {
    const said = h("div", { role: "alert" });
    const body = h("div", {});
    const check = app.store.get("check", check_id);
    frame(
      root,
      { title: `Marked twice: ${check?.name ?? "a check"}`, back: `/rounds/${round_id}`, backTo: "Round" },
      said,
      body,
    );
    await trying(said, () => draw({ round_id, check_id, said, body }));
  },
};

/** @param {Place} place */
async function draw(place) {
  const all = (await app.ask(`/check-rounds/${place.round_id}/second-markings`)).items;
  const sample = all.find((/** @type {any} */ one) => one.check_id === place.check_id);
  if (!sample) {
    return asking(place);
  }
  const path = `/check-rounds/${place.round_id}/agreement?check_id=${place.check_id}`;
  fill(place.body, given(sample), agreement(await app.ask(path), sample));
}

/** @param {Place} place */
async function asking(place) {
  const today = app.today();
  const may = (/** @type {any} */ one) =>
    !one.disabled && one.roles.some((/** @type {any} */ role) => MARK.includes(role.role) && holds(role, today));
  const adults = (await app.ask("/staff?limit=500")).items.filter(may).sort(byName);
  /** @type {Set<string>} */
  const chosen = new Set();
  const many = h("input", { id: "many", type: "number", min: 1, max: 60, value: PUPILS, required: true });
  const ask = (/** @type {Event} */ event) => {
    event.preventDefault();
    void trying(place.said, async () => {
      if (!chosen.size) {
        throw new Error("Tick who is to mark a second time.");
      }
      // Any number will do: the sample can be drawn again by it.
      const [seed] = crypto.getRandomValues(new Uint16Array(1));
      const body = { check_id: place.check_id, seed, pupils: Number(many.value), staff_ids: [...chosen] };
      await app.ask(`/check-rounds/${place.round_id}/second-markings`, { method: "POST", body });
      await draw(place);
    });
  };
  const toggle = (/** @type {string} */ id, /** @type {boolean} */ on) => (on ? chosen.add(id) : chosen.delete(id));
  fill(
    place.body,
    h(
      "p",
      {},
      "Some pupils are drawn by chance, and each is given an adult who may see them and did not ask first. Until that adult has marked every item, nothing of the first marks is shown to them.",
    ),
    h(
      "form",
      { onsubmit: ask },
      h("p", { class: "field" }, h("label", { for: "many" }, "How many pupils"), many),
      h(
        "fieldset",
        {},
        h("legend", {}, "Who marks a second time?"),
        adults.map((/** @type {any} */ one) => tick(name(one.name), chosen.has(one.id), (on) => toggle(one.id, on))),
      ),
      h("button", { class: "button main" }, "Draw the sample"),
    ),
  );
}

/** @param {any} sample */
function given(sample) {
  const line = (/** @type {any} */ one) =>
    h(
      "li",
      {},
      h("span", { class: "name" }, name(called(one))),
      h("span", {}, `${one.given ? "● given" : "○ to do"}, `, name(staff(one.staff_id))),
    );
  return [
    h("h2", {}, "Who is marked twice"),
    h("ul", { class: "rows" }, [...sample.pupils].sort(byName).map(line)),
    sample.without_adult > 0 &&
      h(
        "p",
        { class: "quiet" },
        `Drawn from ${count(sample.drawn_from, "pupil")}. For ${sample.without_adult} more, none of the adults named may mark.`,
      ),
  ];
}

/**
 * @param {any} found
 * @param {any} sample
 */
function agreement(found, sample) {
  const { marked, agreed, percent } = found.agreement;
  if (!marked) {
    return h("p", {}, "No item has both marks yet.");
  }
  const who = (/** @type {string} */ id) => {
    const one = sample.pupils.find((/** @type {any} */ it) => it.pupil_id === id);
    return one ? called(one) : "A pupil";
  };
  const prompt = (/** @type {string} */ id) => found.items.find((/** @type {any} */ it) => it.item_id === id)?.prompt;
  return [
    h("h2", {}, "How far the two agree"),
    h("p", {}, `Alike in ${agreed} of ${count(marked, "mark")} (${Math.round(percent)}%).`),
    found.cautions.map((/** @type {any} */ one) => h("p", { class: "quiet" }, one.text)),
    found.differences.length > 0 && [
      h("h2", {}, "Where they differ"),
      h("p", {}, "The two adults talk about each, and one of them says what stands."),
      h(
        "ul",
        { class: "rows" },
        found.differences.map((/** @type {any} */ one) =>
          h(
            "li",
            {},
            h("span", {}, h("strong", {}, prompt(one.item_id)), ", ", name(who(one.pupil_id))),
            h(
              "span",
              {},
              name(staff(one.first_by)),
              `: ${say(one.first).toLowerCase()}; `,
              name(staff(one.second_by)),
              `: ${say(one.second).toLowerCase()}. ${one.settled ? "Talked about." : "Open."}`,
            ),
          ),
        ),
      ),
    ],
  ];
}
