// What was missed and is still open, and ten minutes of catch-up: have a set made or choose an item, tick who was
// taught, done.

import { app } from "../lib/app.js";
import { button, fill, h, name, tick } from "./dom.js";
import { called, itemName, mayRecord } from "./facts.js";
import { age, frame, keeping, sentMark, trying } from "./frame.js";
import { byName } from "./order.js";
import { count } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

/** What an adult mostly has; another number can be entered. */
const MINUTES = 10;

/**
 * The screen's parts. `off` are pupils who are not ticked, as "card pupil"; `minutes` those entered; `sets` those the server made; `undone` what was
 * taken back since the list was made, as "item pupil": to the list it is taught; `draw` draws the list again.
 * @typedef {{group_id: string, said: Element, off: Set<string>, minutes: number, sets: any[] | null, undone: Set<string>, draw: () => void}} Screen
 */

export default {
  path: "/groups/:group_id/catch-up",
  title: "Catch-up",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  show(root, { group_id }) {
    const group = app.store.get("group", group_id);
    /** @type {Screen} */
    const screen = {
      group_id,
      said: h("div", { role: "alert" }),
      off: new Set(),
      minutes: MINUTES,
      sets: null,
      undone: new Set(),
      draw: () => undefined,
    };
    const body = h("div", {});
    const last = h("span", { role: "status" });
    const act = h("span", {});
    const foot = h("p", { class: "acts foot", hidden: true }, last, act);
    frame(
      root,
      { title: `Catch-up: ${group?.name ?? "a group"}`, back: `/groups/${group_id}`, backTo: "Group" },
      screen.said,
      body,
      foot,
    );
    let [shown, made] = ["", ""];
    keeping(root, `/groups/${group_id}/catch-up`, (had, why) => {
      if (had && had.at !== made) {
        made = had.at;
        screen.undone.clear();
      }
      screen.draw = () => {
        fill(body, why, had && [age(had), asked(screen), lists(screen, had.body)]);
        // What I did last can be taken back, in sight however long the list is.
        const mine = done(group_id).filter((one) => one.entered_by === app.me?.staff_id);
        const record = mine.at(-1);
        foot.hidden = !record;
        fill(last, record && `Taught now: ${told(record, had?.body)}`);
        fill(act, record && button(() => void undo(screen, record), { class: "button", id: "undo" }, `Undo “${taught(record, had?.body)}”`));
      };
      // What was ticked or typed stays while nothing else changed.
      const key = JSON.stringify([had?.body, had?.fresh, done(group_id).map((one) => [one.id, one.waiting])]);
      if (key !== shown) {
        shown = key;
        screen.draw();
      }
    });
  },
};

/**
 * What was taught in catch-up today, in the order it was done: ids of version 7 sort by when they were made.
 * @param {string} group_id
 */
const done = (group_id) =>
  app.store.list("catch_up", { group_id, on: app.today() }).sort((a, b) => (a.id < b.id ? -1 : 1));

/**
 * Takes a record back: what it said is open again, once that is kept.
 * @param {Screen} screen
 * @param {Row} record
 */
const undo = (screen, record) =>
  trying(screen.said, async () => {
    await app.act("catch_up.delete", { id: record.id });
    pairs(record).forEach((one) => screen.undone.add(one));
    screen.draw();
  });

/**
 * Having sets made for some minutes, which needs a connection.
 * @param {Screen} screen
 */
function asked(screen) {
  const entered = (/** @type {any} */ event) => void (screen.minutes = event.target.value);
  const minutes = h("input", { type: "number", id: "minutes", min: 1, max: 600, value: screen.minutes, required: true, oninput: entered });
  const make = (/** @type {Event} */ event) => {
    event.preventDefault();
    void trying(screen.said, async () => {
      const adults = [{ staff_id: app.me?.staff_id, minutes: Number(screen.minutes) }];
      const body = { on: app.today(), adults, group_ids: [screen.group_id] };
      screen.sets = (await app.ask("/catch-up-plans", { method: "POST", body })).sets;
      screen.draw();
    });
  };
  return (
    mayRecord(screen.group_id) && [
      h(
        "form",
        { class: "field", onsubmit: make },
        h("label", { for: "minutes" }, "Minutes you have"),
        minutes,
        h("button", { class: "button", id: "make" }, "Make a set"),
      ),
      screen.sets && h("section", { class: "part" }, h("h2", {}, "For these minutes"), sets(screen)),
    ]
  );
}

/** @param {Screen} screen */
function sets(screen) {
  const taught = taughtToday(screen.group_id);
  const open = (/** @type {any} */ item, /** @type {any} */ one) => !taught.has(`${item.item_id} ${one.id}`);
  // A card has its number among all that were made: who was not ticked on one is not on the next.
  const left = (screen.sets ?? [])
    .map((set, n) => {
      const pupils = set.pupils.filter((/** @type {any} */ one) => set.items.some((/** @type {any} */ item) => open(item, one)));
      const items = set.items.filter((/** @type {any} */ item) => pupils.some((/** @type {any} */ one) => open(item, one)));
      return { id: `s${n}`, minutes: set.minutes, items, pupils };
    })
    .filter((set) => set.pupils.length);
  if (!left.length) {
    return h("p", {}, "Nothing is left to teach in them.");
  }
  return h(
    "div",
    { class: "cards" },
    left.map((set) => {
      const title = set.items.map((/** @type {any} */ item) => itemName(item)).join(", ");
      const pupils = set.pupils.map((/** @type {any} */ one) => ({ ...one, pupil_id: one.id, why: "" })).sort(byName);
      return card(
        screen,
        set.id,
        `${title} (${count(set.minutes, "minute")})`,
        set.items.map((/** @type {any} */ item) => item.item_id),
        pupils,
      );
    }),
  );
}

/**
 * What was taught in catch-up today, as "item pupil".
 * @param {string} group_id
 */
const taughtToday = (group_id) => new Set(done(group_id).flatMap(pairs));

/**
 * What a record taught to whom, as "item pupil".
 * @param {Row} record
 * @returns {string[]}
 */
const pairs = (record) =>
  record.items.flatMap((/** @type {string} */ item) =>
    record.pupil_ids.map((/** @type {string} */ pupil) => `${item} ${pupil}`),
  );

/**
 * @param {Screen} screen
 * @param {any} list  the missed list as the server made it
 */
function lists(screen, list) {
  const today = done(screen.group_id);
  const taught = taughtToday(screen.group_id);
  const of = (/** @type {string} */ stage) =>
    list.items
      .map((/** @type {any} */ item) => ({
        ...item,
        needs: needs(list, item.item_id, stage, screen.undone).filter(
          (one) => !taught.has(`${item.item_id} ${one.pupil_id}`),
        ),
      }))
      .filter((/** @type {any} */ item) => item.needs.length);
  const teach = of("to_teach").sort((/** @type {any} */ a, /** @type {any} */ b) => b.needs.length - a.needs.length);
  const check = of("to_check");
  return [
    h("h2", {}, "Missed, to be taught"),
    h("p", {}, teach.length ? "What most pupils need comes first." : "Nothing missed is left to teach."),
    h(
      "div",
      { class: "cards" },
      teach.map((/** @type {any} */ item) =>
        card(screen, "i" + item.item_id, itemName(item), [item.item_id], item.needs),
      ),
    ),
    today.length > 0 &&
      h(
        "section",
        { class: "part" },
        h("h2", {}, "Done today"),
        h(
          "ul",
          { class: "rows" },
          today.map((one) => line(screen, one, list)),
        ),
      ),
    check.length > 0 &&
      h(
        "section",
        { class: "part" },
        h("h2", {}, "Taught since, to be checked"),
        h("ul", { class: "rows" }, check.map(checkLine)),
      ),
  ];
}

/**
 * The pupils for whom an item is open at a stage, with why.
 * @param {any} list
 * @param {string} item_id
 * @param {string} stage
 * @param {Set<string>} undone
 * @returns {any[]}
 */
const needs = (list, item_id, stage, undone) =>
  [...list.pupils].sort(byName).flatMap((/** @type {any} */ pupil) => {
    const open = pupil.items.find((/** @type {any} */ one) => one.item_id === item_id);
    const now = undone.has(`${item_id} ${pupil.pupil_id}`) ? "to_teach" : open?.stage;
    return open && now === stage
      ? [{ ...pupil, why: open.again ? "not right since it was taught" : `missed ${app.day(open.missed_on)}` }]
      : [];
  });

/**
 * Items with the pupils who need them, ticked, and the touch that says it was done.
 * @param {Screen} screen
 * @param {string} id      the card's, unlike any other on the screen
 * @param {string} title
 * @param {string[]} items
 * @param {{pupil_id: string, name: string, apart?: string | null, why: string}[]} pupils
 */
function card({ group_id, off, said }, id, title, items, pupils) {
  const key = (/** @type {{pupil_id: string}} */ one) => `${id} ${one.pupil_id}`;
  const save = () =>
    trying(said, async () => {
      const pupil_ids = pupils.filter((one) => !off.has(key(one))).map((one) => one.pupil_id);
      if (!pupil_ids.length) {
        throw new Error("Tick the pupils who were taught it.");
      }
      await app.act("catch_up.record", { group_id, id: app.uuid(), on: app.today(), items, pupil_ids });
    });
  const toggle = (/** @type {{pupil_id: string}} */ one, /** @type {boolean} */ on) =>
    on ? off.delete(key(one)) : off.add(key(one));
  return h(
    "section",
    { class: "card", "aria-labelledby": id },
    h("h3", { id, class: "label" }, title),
    !mayRecord(group_id) &&
      h(
        "ul",
        {},
        pupils.map((one) => h("li", {}, h("span", {}, who(one)))),
      ),
    mayRecord(group_id) &&
      h(
        "fieldset",
        { class: "ticks" },
        h("legend", {}, count(pupils.length, "pupil")),
        pupils.map((one) => tick(who(one), !off.has(key(one)), (on) => toggle(one, on))),
      ),
    mayRecord(group_id) &&
      button(
        save,
        { class: "button", id: "d" + id },
        "Taught now to those ticked",
        h("span", { class: "unseen" }, ": ", title),
      ),
  );
}

/** @param {{name: string, apart?: string | null, why: string}} one */
const who = (one) => [name(called(one)), h("span", { class: "quiet" }, one.why && ` ${one.why}`)];

/**
 * What was taught and to how many.
 * @param {Row} record
 * @param {any} list  the missed list, if there is one
 */
const told = (record, list) => `${taught(record, list)}: ${count(record.pupil_ids.length, "pupil")}`;

/**
 * What was taught.
 * @param {Row} record
 * @param {any} list  the missed list, if there is one
 */
const taught = (record, list) =>
  record.items
    .map((/** @type {string} */ id) =>
      itemName(list?.items.find((/** @type {any} */ one) => one.item_id === id) ?? { id, label: "an item" }),
    )
    .join(", ");

/**
 * @param {Screen} screen
 * @param {Row} record
 * @param {any} list
 */
const line = (screen, record, list) =>
  h(
    "li",
    {},
    h("span", {}, told(record, list), " "),
    sentMark(record),
    mayRecord(screen.group_id) &&
      button(
        () => void undo(screen, record),
        { class: "button", id: "u" + record.id },
        `Undo “${taught(record, list)}”`,
        h("span", { class: "unseen" }, ` for ${count(record.pupil_ids.length, "pupil")}`),
      ),
  );

/** @param {any} item */
const checkLine = (item) =>
  h(
    "li",
    {},
    h("strong", {}, itemName(item)),
    h("span", {}, item.needs.map((/** @type {any} */ one) => called(one)).join(", ")),
  );
