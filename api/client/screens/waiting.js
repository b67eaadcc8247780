// What was done on this tablet and is not at the server yet, and what the server did not take, each with its reason.

import { app } from "../lib/app.js";
import { button, h, link, renew } from "./dom.js";
import { lineOf } from "./done.js";
import { staff } from "./facts.js";
import { frame, waiting, watching } from "./frame.js";
import { offering } from "./stranded.js";
import { say } from "./words.js";

export default {
  path: "/waiting",
  title: "Waiting to be sent",
  /** @param {HTMLElement} root */
  show(root) {
    const body = h("div", {});
    const stuck = h("div", {});
    const list = h("div", {});
    frame(root, { title: "Waiting to be sent", leads: false }, body, stuck, list);
    offering(root, stuck);
    watching(root, () => {
      const { refused, synced, kept, online } = app.state;
      renew(
        body,
        h(
          "p",
          {},
          waiting() ? `${waiting()}. It is safe on this tablet.` : refused.length ? "Nothing waits." : "Everything done here is at the school’s server.",
        ),
        h(
          "p",
          { class: "quiet" },
          synced ? `Last brought up to date ${app.ago(synced)} ago.` : "Never brought up to date yet.",
        ),
        !kept &&
          waiting() &&
          h(
            "p",
            { class: "quiet" },
            "The browser has not promised to keep what is here when the tablet runs short of space. Send before the day ends.",
          ),
        h(
          "p",
          { class: "acts" },
          button(() => void app.sync(), { class: "button main", id: "sync" }, online ? "Send now" : "Try to send now"),
        ),
      );
      renew(list, waits(), refused.length > 0 && notTaken(refused));
    });
  },
};

/** What waits, oldest first: what it is, of which group, child and day, and since when. */
function waits() {
  const all = app.waiting().map((op) => ({ ...lineOf(op), at: op.at }));
  return (
    all.length > 0 && [
      h("h2", {}, "What waits"),
      h(
        "ul",
        { class: "rows" },
        all.map(({ what, about, at }) =>
          h("li", {}, h("span", {}, h("strong", {}, what), about && `, ${about}`), h("span", { class: "quiet" }, `done ${app.ago(at)} ago`)),
        ),
      ),
    ]
  );
}

/** @param {import("../lib/app.js").Op[]} refused */
const notTaken = (refused) => [
  h("h2", {}, "Not taken"),
  h(
    "p",
    {},
    "These are not at the school’s server. They are kept here until you have read them; put right what is to be put right, then take them off the list.",
  ),
  h("ul", { class: "rows" }, refused.map(line)),
];

/** @param {import("../lib/app.js").Op} op */
function line(op) {
  const { what, about } = lineOf(op);
  const where = place(op);
  return h(
    "li",
    {},
    h("span", {}, h("strong", {}, what), about && `, ${about}`, h("br"), why(op)),
    where && link(where, { class: "button", id: "l" + op.op_id }, "Look"),
    button(() => void app.dismiss(op.op_id), { class: "button", id: op.op_id }, "I have read it"),
  );
}

/**
 * Why the server did not take it, and what stands instead.
 * @param {import("../lib/app.js").Op} op
 */
function why(op) {
  if (["not_found", "forbidden", "set_aside"].includes(op.code ?? "")) {
    return say(op.code);
  }
  if (op.outcome !== "superseded") {
    return op.detail ?? say(op.code);
  }
  const now = op.current;
  const stands = now?.outcome ? ` What stands: ${say(now.outcome).toLowerCase()}, by ${staff(now.taught_by)}.` : "";
  return `Somebody else had recorded it first.${stands} Yours is kept, and is shown with what stands.`;
}

/**
 * The screen where it can be put right.
 * @param {import("../lib/app.js").Op} op
 */
function place({ type, set, outcome }) {
  if (type === "lesson.record") {
    return `/groups/${set.group_id}/log/${set.on}/${set.slot ?? 1}`;
  }
  const check_id = set.check_id ?? app.store.get("sitting", set.sitting_id ?? "")?.check_id;
  const answers = type === "sitting.answer" && outcome === "superseded" ? "/answers" : "";
  return type.startsWith("sitting.") && check_id
    ? `/rounds/${set.round_id}/pupils/${set.pupil_id}/checks/${check_id}${answers}`
    : null;
}
