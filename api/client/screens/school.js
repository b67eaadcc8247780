// All groups of the school, for the lead and the head. What is opened from here is only looked at: nothing of it is kept on
// the tablet. The lead may record what a group did, too.

import { app } from "../lib/app.js";
import { fill, h, link, name } from "./dom.js";
import { frame, trying } from "./frame.js";
import { byName } from "./order.js";

export default {
  path: "/school",
  title: "All groups",
  /** @param {HTMLElement} root */
  show(root) {
    const body = h("div", {});
    frame(root, { title: "All groups" }, body);
    return allGroups(body);
  },
};

/**
 * Fills a place with the groups of the school that are not closed, by name.
 * @param {Element} body
 */
export async function allGroups(body) {
  const said = h("div", { role: "alert" });
  const list = h("ul", { class: "rows two" });
  const lead = app.me?.roles.includes("lead");
  fill(
    body,
    h(
      "p",
      { class: "quiet" },
      lead
        ? "Look at any group, or record for it. This needs a connection, and nothing of it stays on this tablet."
        : "Look at any group. This needs a connection, and nothing of it stays on this tablet.",
    ),
    said,
    list,
  );
  await trying(said, async () => {
    const today = app.today();
    const all = (await app.ask("/groups")).items;
    fill(
      list,
      all
        .filter((/** @type {any} */ one) => !one.closed_on || one.closed_on >= today)
        .sort(byName)
        .map((/** @type {any} */ one) => h("li", {}, link(`/groups/${one.id}`, { class: "row" }, name(one.name)))),
    );
  });
}
