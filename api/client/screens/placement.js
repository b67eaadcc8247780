// A placement check: each answer decides what is asked next, so it needs a connection. What it finds is a suggestion
// where to look; it places nobody.

import { app } from "../lib/app.js";
import { button, fill, focus, h } from "./dom.js";
import { titled } from "./facts.js";
import { frame, trying } from "./frame.js";
import { OUTCOMES } from "./item.js";
import { accepted } from "./sounds.js";
import { lessonOf, say, spelled } from "./words.js";

export default {
  path: "/pupils/:pupil_id/placement",
  title: "Placement check",
  /**
   * @param {HTMLElement} root
   * @param {{pupil_id: string}} params
   */
  async show(root, { pupil_id }) {
    const said = h("div", { role: "alert" });
    const body = h("div", { class: "sitting" });
    frame(root, { title: "Placement check", back: `/pupils/${pupil_id}`, backTo: "Child" }, said, body);
    const one = { pupil_id, said, body };
    await trying(said, async () => {
      const all = (await app.ask(`/pupils/${pupil_id}/placements`)).items;
      const going = all.find((/** @type {any} */ it) => !it.end);
      if (going) {
        draw(one, going, true);
      } else {
        await start(one, all[0]);
      }
    });
  },
};

/** @typedef {{pupil_id: string, said: Element, body: Element}} One */

/**
 * @param {One} one
 * @param {any} last  the latest placement, if there is one
 */
async function start(one, last) {
  const sequences = (await app.ask("/sequences")).items;
  const field = h(
    "select",
    { id: "sequence" },
    sequences.map((/** @type {any} */ it) => h("option", { value: it.id }, it.name)),
  );
  const begin = () =>
    trying(one.said, async () => {
      const body = { sequence_id: field.value };
      draw(one, await app.ask(`/pupils/${one.pupil_id}/placements`, { method: "POST", body }), false);
    });
  fill(
    one.body,
    last && [h("h2", {}, `The last one, ${app.day(last.opens_on)}`), result(last)],
    h(
      "p",
      {},
      "Shows single letters and groups of letters, and asks for their sounds; easy ones first. It stops by itself, mostly after some ten, and can be stopped at any time and gone on with another day.",
    ),
    sequences.length > 1 && h("p", { class: "field" }, h("label", { for: "sequence" }, "Sequence"), field),
    button(begin, { class: "button main" }, "Begin"),
  );
}

/**
 * @param {One} one
 * @param {any} now
 * @param {boolean} again  whether it was begun before
 */
function draw(one, now, again) {
  const path = `/pupils/${one.pupil_id}/placements/${now.id}`;
  const to = (/** @type {() => Promise<any>} */ act) => () =>
    trying(one.said, async () => draw(one, await act(), false));
  if (!now.next) {
    fill(one.body, h("h2", { tabindex: "-1", "data-first": true }, "What it suggests"), result(now));
    return focus(one.body);
  }
  const answer = (/** @type {string} */ outcome) =>
    to(() =>
      app.ask(`${path}/answers`, {
        method: "POST",
        body: { on: app.today(), answers: [{ id: app.uuid(), item_id: now.next.item_id, outcome }] },
      }),
    );
  const undo = to(async () => {
    const body = { response_id: now.last.response_id, outcome: "not_offered" };
    await app.ask(`/check-rounds/${now.id}/pupils/${one.pupil_id}/corrections`, { method: "POST", body });
    return app.ask(path);
  });
  fill(
    one.body,
    again && h("p", { class: "notice" }, `Begun on ${app.day(now.opens_on)}: it goes on from there.`),
    h(
      "div",
      { class: "item", tabindex: "-1", "data-first": true },
      h("p", { class: "read" }, spelled(now.next.prompt)),
      h(
        "details",
        {},
        h("summary", {}, "What to accept"),
        h("ul", { class: "accept" }, accepted(now.next.gpc.phoneme, now.next.keyword)),
      ),
    ),
    h(
      "div",
      { class: "four", role: "group", "aria-label": "What came of it?" },
      OUTCOMES.map(([code, mark]) =>
        button(answer(code), { class: `outcome ${code}` }, h("span", { "aria-hidden": "true" }, mark), " ", say(code)),
      ),
    ),
    h(
      "p",
      { class: "acts" },
      now.last && button(undo, { class: "button" }, `Undo the answer to “${spelled(now.last.prompt)}”`),
      button(
        to(() => app.ask(`${path}/end`, { method: "POST" })),
        { class: "button" },
        "Stop and see",
      ),
    ),
  );
  focus(one.body);
}

/** @param {any} now */
function result(now) {
  const found = now.result;
  if (!found) {
    return h("p", {}, "Nothing was found yet.");
  }
  const at = (/** @type {any} */ one) => `${lessonOf(one.place)} (${titled(one.title)})`;
  return [
    h("p", {}, say(now.end)),
    h(
      "p",
      { class: "next" },
      found.from ? `Look from ${at(found.from)} ` : "Everything in the sequence seems known. ",
      found.from && found.to && found.to.lesson_id !== found.from.lesson_id ? `to ${at(found.to)}.` : "",
    ),
    found.not_right.length > 0 && h("p", {}, "Before it, not right: ", found.not_right.map(spelled).join(", "), "."),
    h("p", { class: "quiet" }, found.caution),
  ];
}
