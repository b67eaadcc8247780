// A group: its pupils, what was missed, what to print, the latest lessons.

import { app } from "../lib/app.js";
import { button, h, link, name, renew } from "./dom.js";
import { asideMark } from "./aside.js";
import { called, mayRecord, members, myGroups, reason, staff, titleOf, whichOfDay } from "./facts.js";
import { frame, presence, sentMark, watching } from "./frame.js";
import { say } from "./words.js";

/** How many of the latest lesson records are listed, and how many more at each touch. */
const LATEST = 10;

export default {
  path: "/groups/:group_id",
  title: "Group",
  /**
   * @param {HTMLElement} root
   * @param {{group_id: string}} params
   */
  show(root, { group_id }) {
    const group = app.store.get("group", group_id);
    const body = h("div", {});
    const mine = myGroups().some((one) => one.id === group_id);
    if (!group) {
      return frame(
        root,
        { title: "A group not kept on this tablet" },
        h("p", {}, "It is not one of yours today, or it is brought only with a connection."),
      );
    }
    frame(
      root,
      { title: group.name, ...(mine ? {} : { back: "/school", backTo: "All groups" }) },
      h(
        "nav",
        { class: "acts", "aria-label": "Of this group" },
        link(`/groups/${group_id}/lesson`, { class: "button" }, "Lesson"),
        mayRecord(group_id) && link(`/groups/${group_id}/log`, { class: "button" }, "Log a lesson"),
        link(`/groups/${group_id}/catch-up`, { class: "button" }, "Catch-up"),
        link(`/groups/${group_id}/print`, { class: "button" }, "Print"),
      ),
      body,
    );
    let many = LATEST;
    const draw = () => renew(body, pupils(group_id), latest(group_id, many, more));
    const more = () => {
      many += LATEST;
      draw();
    };
    watching(root, draw);
  },
};

/** @param {import("./dom.js").Child} mark */
const kept = (mark) => mark && [". ", mark];

/** @param {string} group_id */
function pupils(group_id) {
  const all = members(group_id, app.today());
  return h(
    "section",
    { class: "part" },
    h("h2", {}, "Pupils due today"),
    all.length
      ? h(
          "ul",
          { class: "rows two" },
          all.map((one) => h("li", {}, link(`/pupils/${one.id}`, { class: "row", id: one.id }, name(called(one))))),
        )
      : h("p", {}, "No pupil is due today."),
    h("p", { class: "quiet" }, "Opening a child’s page is written to the school’s log."),
  );
}

/**
 * @param {string} group_id
 * @param {number} many
 * @param {() => void} more
 */
function latest(group_id, many, more) {
  const all = app.store
    .list("lesson_record", { group_id })
    .sort((a, b) => (a.on === b.on ? (b.slot ?? 1) - (a.slot ?? 1) : a.on < b.on ? 1 : -1));
  const records = all.slice(0, many);
  const change = mayRecord(group_id);
  return (
    records.length > 0 &&
    h(
      "section",
      { class: "part" },
      h("h2", {}, "Latest lessons"),
      h(
        "ul",
        { class: "rows" },
        records.map((one) =>
          h(
            "li",
            {},
            h(
              "span",
              {},
              h("strong", {}, titleOf(one) ?? "A lesson"),
              h("br"),
              `${[app.day(one.on), whichOfDay(one)].filter(Boolean).join(", ")}: ${say(one.outcome).toLowerCase()}`,
              `, ${one.outcome === "not_delivered" ? reason(one.reason) : presence(one.register ?? [])}`,
              one.taught_by !== app.me?.staff_id && `, by ${staff(one.taught_by)}`,
              one.waiting && [". ", sentMark(one)],
              kept(asideMark(one, change)),
            ),
            change &&
              link(
                `/groups/${group_id}/log/${one.on}/${one.slot ?? 1}`,
                { class: "button", id: "c" + one.on + one.slot },
                "Put right",
                h("span", { class: "unseen" }, ` the lesson of ${app.day(one.on)}, ${titleOf(one)}`),
              ),
          ),
        ),
      ),
      all.length > many && h("p", {}, button(more, { class: "button", id: "earlier" }, "Show earlier ones")),
    )
  );
}
