// Home: my groups today, what each does next, what was recorded, what waits. From here a lesson is logged in two taps:
// "Log this lesson", "Save".

import { app } from "../lib/app.js";
import { fill, h, link, name, renew } from "./dom.js";
import { asideMark } from "./aside.js";
import { itemName, myGroups, plan, reason, recordsOf, seesAll, titleOf, titled, when, whichOfDay } from "./facts.js";
import { frame, looking, presence, sentMark, watching } from "./frame.js";
import { freeSlot } from "./order.js";
import { allGroups } from "./school.js";
import { count, lessonOf, say } from "./words.js";

/** @typedef {import("../lib/app.js").Row} Row */

/** Roles that may see a child's page. */
const FINDS = ["lead", "head", "office", "teacher", "assistant", "cover"];

export default {
  path: "/",
  title: "Today",
  /** @param {HTMLElement} root */
  show(root) {
    const groups = h("div", { class: "cards" });
    const day = h("span", {});
    const checks = link("/checks", {}, "My checks");
    const school = h("div", {});
    const others = link("/school", { hidden: !seesAll() }, "All groups");
    frame(
      root,
      { title: h("span", {}, "Today, ", day), back: null },
      h("p", { class: "who" }, name(app.me?.name ?? ""), ", ", app.me?.school_name ?? ""),
      groups,
      school,
      h(
        "nav",
        { class: "more", "aria-label": "More" },
        checks,
        others,
        link("/find", { hidden: !app.me?.roles.some((role) => FINDS.includes(role)) }, "Find a child"),
        link("/settings", {}, "This tablet"),
      ),
    );
    let round = 0;
    watching(root, async () => {
      const now = ++round;
      // The school's day: it is known once the school's zone is, and a tablet can be left on overnight.
      day.textContent = app.day(app.today());
      const mine = myGroups();
      if (seesAll() && !mine.length && app.state.synced) {
        // Who has no group of their own picks one of all. Until all was brought, that is not known.
        others.hidden = true;
        fill(groups);
        if (!school.hasChildNodes()) {
          await allGroups(school);
        }
        return checksLeft(checks);
      }
      if (mine.length && school.hasChildNodes()) {
        // One's own groups have come since.
        fill(school);
        others.hidden = !seesAll();
      }
      if (mine.length && !groups.hasChildNodes()) {
        fill(
          groups,
          mine.map((group) => card(group, null)),
        );
      }
      const plans = await Promise.all(mine.map((group) => plan(group.id)));
      // An older drawing that took longer does not overwrite a newer one.
      if (now === round) {
        renew(groups, mine.length ? mine.map((group, n) => card(group, plans[n] ?? null)) : nothing());
        await checksLeft(checks);
      }
    });
  },
};

/**
 * Says on the link how many pupils are left for me to check, as said last. Who may not check has no such link.
 * @param {HTMLElement} link
 */
async function checksLeft(link) {
  try {
    const had = await app.kept("/my-checks");
    const pupils = had.body.items.filter((/** @type {any} */ one) =>
      one.checks.some((/** @type {any} */ check) => ["left_to_do", "under_way"].includes(check.standing)),
    );
    link.textContent = pupils.length ? `My checks (${count(pupils.length, "pupil")})` : "My checks";
  } catch (/** @type {any} */ error) {
    link.hidden = error.status === 403;
  }
}

function nothing() {
  if (app.me?.roles.every((role) => role === "administrator" || role === "trust_lead")) {
    return h("p", {}, "This page is for those who teach, and has nothing for your role.");
  }
  return h(
    "p",
    {},
    app.state.synced
      ? "No group is assigned to you today. The phonics lead assigns groups."
      : app.state.online
        ? "Your groups are being fetched from the school’s server."
        : "Nothing is kept on this tablet yet. It comes with the first connection to the school’s server.",
  );
}

/**
 * @param {Row} group
 * @param {import("./facts.js").Plan | null} next  null while it is being looked for
 */
function card(group, next) {
  const done = recordsOf(group.id, app.today());
  const open = Math.max(0, (next?.due ?? []).length - done.length);
  return h(
    "section",
    { class: "card", "aria-labelledby": "g" + group.id },
    h("h2", { id: "g" + group.id }, name(group.name)),
    done.map((record) => recorded(group, record, next?.due.length)),
    next?.lesson && lesson(group, next, open),
    next && !next.lesson && h("p", {}, "The whole sequence is taught."),
    !next && looking(),
    acts(group, open > 0 || !done.length, done.length > 0),
  );
}

/**
 * @param {Row} group
 * @param {Row} record
 * @param {number | undefined} due  lessons due today
 */
function recorded(group, record, due) {
  const what = [titleOf(record), whichOfDay(record, due)].filter(Boolean).join(", ");
  const more = record.outcome === "not_delivered" ? reason(record.reason) : presence(record.register ?? []);
  return h(
    "p",
    { class: "recorded" },
    h("strong", {}, say(record.outcome), " today"),
    `${what && `: ${what}`}. `,
    h("span", { class: "first" }, more),
    ". ",
    sentMark(record),
    " ",
    (record.warnings ?? []).map((/** @type {string} */ code) => say(code) + " "),
    link(`/groups/${group.id}/log/${record.on}/${record.slot ?? 1}`, { id: `r${group.id}-${record.slot}` }, "Put right"),
    " ",
    asideMark(record, true),
  );
}

/**
 * @param {Row} group
 * @param {import("./facts.js").Plan} next
 * @param {number} open  lessons of today that are not recorded
 */
function lesson(group, next, open) {
  const { lesson: planned } = next;
  const done = recordsOf(group.id, app.today());
  const slot = freeSlot(done, next.due);
  const session = next.due.find((one) => one.slot === slot);
  return [
    h("p", { class: "when" }, due(next, session, open, done.length)),
    h(
      "p",
      { class: "next" },
      h("strong", {}, titled(planned.title)),
      h("br"),
      h("span", { class: "first" }, lessonOf(planned.place)),
      planned.begun ? ", begun: this is what is left" : "",
    ),
    planned.items.length > 1 &&
      h(
        "ul",
        { class: "items" },
        planned.items.slice(0, 6).map((/** @type {any} */ item) => h("li", {}, itemName(item))),
      ),
  ];
}

/**
 * @param {Row} group
 * @param {boolean} main   whether logging is what comes next
 * @param {boolean} again  whether something is logged today
 */
function acts(group, main, again) {
  const to = (/** @type {string} */ where, /** @type {string} */ shown, first = false) =>
    link(
      `/groups/${group.id}${where}`,
      { class: first ? "button main" : "button", id: where + group.id },
      shown,
      h("span", { class: "unseen" }, ": ", group.name),
    );
  return h(
    "p",
    { class: "acts" },
    to("/log", again ? "Log another lesson" : "Log this lesson", main),
    to("/lesson", "Lesson"),
    to("/board", "Screen words"),
    to("", "Group"),
  );
}

/**
 * @param {import("./facts.js").Plan} next
 * @param {any} session
 * @param {number} open
 * @param {number} done  lessons of today that are recorded
 */
function due(next, session, open, done) {
  if (open > 0 && session) {
    const time = when(session, next.due.length);
    return time ? `Next, ${time}:` : "Next:";
  }
  if (next.day !== "teaching") {
    return `Today is ${say(next.day)}. Next:`;
  }
  const later = next.next_due && next.next_due.on > app.today() ? ` on ${app.day(next.next_due.on)}` : "";
  return done ? `Then${later}:` : `No lesson today. Next${later}:`;
}
