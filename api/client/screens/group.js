// A group: its pupils, what was missed, what to print, the latest lessons.

import { app } from "../lib/app.js";
import { h, link, name, renew } from "./dom.js";
import { called, members, reason, staff, version } from "./facts.js";
import { frame, presence, sentMark, watching } from "./frame.js";
import { lessons } from "./order.js";
import { say, spelled } from "./words.js";

/** How many of the latest lesson records are listed. */
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
    frame(
      root,
      { title: group?.name ?? "A group not kept on this tablet" },
      h(
        "nav",
        { class: "acts", "aria-label": "Of this group" },
        link(`/groups/${group_id}/lesson`, { class: "button" }, "Lesson"),
        link(`/groups/${group_id}/log`, { class: "button" }, "Log a lesson"),
        link(`/groups/${group_id}/catch-up`, { class: "button" }, "Catch-up"),
        link(`/groups/${group_id}/print`, { class: "button" }, "Print"),
      ),
      body,
    );
    watching(root, () => renew(body, pupils(group_id), latest(group_id)));
  },
};

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

/** @param {string} group_id */
function latest(group_id) {
  const records = app.store
    .list("lesson_record", { group_id })
    .sort((a, b) => (a.on === b.on ? (b.slot ?? 1) - (a.slot ?? 1) : a.on < b.on ? 1 : -1))
    .slice(0, LATEST);
  const all = lessons(version(group_id));
  const title = (/** @type {string} */ id) => all.find((one) => one.id === id)?.title ?? "A lesson";
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
              h("strong", {}, spelled(title(one.lesson_id))),
              h("br"),
              `${app.day(one.on)}: ${say(one.outcome).toLowerCase()}`,
              `, ${one.outcome === "not_delivered" ? reason(one.reason) : presence(one.register ?? [])}`,
              one.taught_by !== app.me?.staff_id && `, by ${staff(one.taught_by)}`,
              one.waiting && [". ", sentMark(one)],
            ),
            link(
              `/groups/${group_id}/log/${one.on}/${one.slot ?? 1}`,
              { class: "button", id: "c" + one.on + one.slot },
              "Change",
              h("span", { class: "unseen" }, ` the record of ${app.day(one.on)}`),
            ),
          ),
        ),
      ),
    )
  );
}
