// Marking a check a second time without seeing how it was marked first. Marks are kept on the tablet until all are given;
// then both stand side by side, and where they differ the two adults talk. Given, they are never changed.

import { app } from "../lib/app.js";
import { button, choice, fill, focus, h, name } from "./dom.js";
import { called, pupil, staff } from "./facts.js";
import { frame, trying } from "./frame.js";
import { marking } from "./item.js";
import { heardAs } from "./sounds.js";
import { say, spelled } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */
/** @typedef {{item_id: string, outcome: string, heard?: string}} Mark */
/** What is begun: what it rests on, and a mark of each item so far. @typedef {{basis: string, marks: Mark[]}} Draft */
/**
 * @typedef {object} Marking
 * @property {string} round_id
 * @property {string} pupil_id
 * @property {string} check_id
 * @property {Row} check
 * @property {string} draft   its name
 * @property {Element} said
 * @property {Element} body
 * @property {Map<string, string>} stands  what was said to stand just now, by item
 */

/** @type {[string, string][]} */
const BASES = [
  ["beside", "I sit beside while the other adult asks"],
  ["recording", "I hear or see a recording"],
  ["written", "I have what the child wrote"],
];

export default {
  path: "/rounds/:round_id/pupils/:pupil_id/checks/:check_id/second",
  title: "Second marking",
  /**
   * @param {HTMLElement} root
   * @param {any} params
   */
  async show(root, { round_id, pupil_id, check_id }) {
    const said = h("div", { role: "alert" });
    const body = h("div", { class: "sitting" });
    const title = `${called(pupil(pupil_id))}, second marking`;
    frame(root, { title, back: "/checks", backTo: "My checks" }, said, body);
    const check = app.store.get("check", check_id);
    if (!check) {
      return fill(body, h("p", {}, "This check is not kept on this tablet. It comes with the next connection."));
    }
    const draft = `second ${round_id} ${pupil_id} ${check_id}`;
    const one = { round_id, pupil_id, check_id, check, draft, said, body, stands: new Map() };
    const begun = await app.draft(draft);
    if (begun) {
      return step(one, begun);
    }
    // Whether they are given already is the server's to say; without it one can begin.
    const given = await app.ask(address(one)).catch(() => null);
    given?.given ? compare(one, given) : begin(one);
  },
};

/** @param {Marking} one */
const address = ({ round_id, pupil_id, check_id }) =>
  `/check-rounds/${round_id}/pupils/${pupil_id}/second-marks?check_id=${check_id}`;

/** @param {Marking} one */
function begin(one) {
  let basis = "beside";
  fill(
    one.body,
    h(
      "p",
      {},
      `${say(one.check.kind)}: ${one.check.items.length} items. Mark what you hear or see yourself. How it was marked first is shown only when all your marks are given.`,
    ),
    choice("basis", "What do your marks rest on?", BASES, basis, (code) => (basis = code)),
    button(() => step(one, { basis, marks: [] }), { class: "button main", "data-first": true }, "Begin"),
  );
}

/**
 * The next item, or the end.
 * @param {Marking} one
 * @param {Draft} now
 */
function step(one, now) {
  const { check, said, body } = one;
  const item = check.items[now.marks.length];
  const to = (/** @type {Mark[]} */ marks) =>
    trying(said, async () => {
      await app.draft(one.draft, { ...now, marks });
      step(one, { ...now, marks });
    });
  const answer = (/** @type {string} */ outcome, /** @type {string | null} */ heard = null) =>
    to([...now.marks, { item_id: item.id, outcome, ...(heard ? { heard } : {}) }]);
  const marked = check.items[now.marks.length - 1];
  const back =
    marked && button(() => to(now.marks.slice(0, -1)), { class: "button" }, `Take back the mark of “${spelled(marked.prompt)}”`);
  if (item) {
    fill(
      body,
      h("p", { class: "quiet" }, `Item ${now.marks.length + 1} of ${check.items.length}`),
      marking(check, item, answer),
      h("p", { class: "acts" }, back),
    );
  } else {
    const give = button(() => void send(one, now), { class: "button main", "data-first": true }, "Give these marks");
    fill(
      body,
      h("p", {}, "Every item has a mark. Once given, they are not changed any more; giving them needs a connection."),
      h("p", { class: "acts" }, give, back),
    );
  }
  focus(body);
}

/**
 * @param {Marking} one
 * @param {Draft} now
 */
const send = (one, { basis, marks }) =>
  trying(one.said, async () => {
    const { round_id, pupil_id, check_id } = one;
    const path = `/check-rounds/${round_id}/pupils/${pupil_id}/second-marks`;
    const given = await app.ask(path, { method: "POST", body: { check_id, basis, answers: marks } });
    await app.draft(one.draft, null);
    compare(one, given);
  });

/**
 * Both marks side by side.
 * @param {Marking} one
 * @param {any} given
 */
function compare(one, given) {
  const first = given.items.find((/** @type {any} */ item) => item.first_by)?.first_by;
  fill(
    one.body,
    h("h2", { tabindex: "-1", "data-first": true }, "Both marks"),
    h(
      "p",
      {},
      first ? ["Asked first by ", name(staff(first)), ". "] : "Nobody has asked it first yet. ",
      "Where the two differ, talk about it, and say what stands; both marks stay on record.",
    ),
    h(
      "ol",
      { class: "rows" },
      given.items.map((/** @type {any} */ item) => line(one, item)),
    ),
  );
  focus(one.body);
}

/**
 * @param {Marking} one
 * @param {any} item
 */
function line(one, item) {
  const mark = (/** @type {string} */ outcome, /** @type {string | null} */ heard) =>
    say(outcome).toLowerCase() + (heard ? ` (${heardAs(heard)})` : "");
  const differ = item.first && item.first !== item.second;
  const agreed = one.stands.get(item.item_id);
  const settled = agreed ? `${say(agreed)} stands. ` : "Talked about. ";
  const told = item.first
    ? `First: ${mark(item.first, item.first_heard)}. Yours: ${mark(item.second, item.second_heard)}.`
    : `Yours: ${mark(item.second, item.second_heard)}.`;
  const stands = (/** @type {string} */ outcome, /** @type {string | null} */ heard) =>
    button(
      () => void settle(one, item, outcome, heard),
      { class: "button" },
      `${say(outcome)} stands`,
      h("span", { class: "unseen" }, ": ", item.prompt),
    );
  return h(
    "li",
    {},
    h("span", { class: "read asked" }, item.prompt),
    h("span", { class: "stands" }, differ && h("strong", {}, item.settled ? settled : "Differs. "), told),
    differ &&
      !item.settled &&
      h("span", { class: "acts" }, stands(item.first, item.first_heard), stands(item.second, item.second_heard)),
  );
}

/**
 * @param {Marking} one
 * @param {any} item
 * @param {string} outcome
 * @param {string | null} heard
 */
const settle = (one, item, outcome, heard) =>
  trying(one.said, async () => {
    const path = `/check-rounds/${one.round_id}/pupils/${one.pupil_id}`;
    const all = (await app.ask(`${path}/responses`)).items;
    const now = all.find(
      (/** @type {any} */ it) => it.in_force && it.check_id === one.check_id && it.item_id === item.item_id,
    );
    const body = { response_id: now?.id, outcome, heard: outcome === "wrong" ? heard : null, reason: "second_marking" };
    await app.ask(`${path}/corrections`, { method: "POST", body });
    one.stands.set(item.item_id, outcome);
    compare(one, await app.ask(address(one)));
  });
