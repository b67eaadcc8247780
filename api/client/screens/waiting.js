// What was done on this tablet and is not at the server yet, and what the server did not take, each with its reason.

import { app } from "../lib/app.js";
import { button, h, link, renew } from "./dom.js";
import { inFull, lineOf } from "./done.js";
import { frame, waiting, watching } from "./frame.js";
import { entries, place, why } from "./refused.js";
import { offering } from "./stranded.js";

/** @typedef {import("../lib/app.js").Op} Op */

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
      const { refused, synced, kept, online, signed_in } = app.state;
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
          signed_in
            ? button(() => void app.sync(), { class: "button main", id: "sync" }, online ? "Send now" : "Try to send now")
            : link("/sign-in", { class: "button main", id: "sync" }, "Sign in to send"),
        ),
      );
      renew(list, waits(), refused.length > 0 && notTaken());
    });
  },
};

/** What waits, oldest first: what it is, of which group, child and day, what it says, and since when. */
function waits() {
  const all = app.waiting();
  return (
    all.length > 0 && [
      h("h2", {}, "What waits"),
      h(
        "ul",
        { class: "rows" },
        all.map((op) => h("li", {}, h("span", {}, inFull(lineOf(op))), h("span", { class: "quiet" }, `done ${app.ago(op.at)} ago`))),
      ),
    ]
  );
}

const notTaken = () => [
  h("h2", {}, "Not taken"),
  h("p", {}, "These are kept here until you have read them: put right what is to be put right, then take them off the list."),
  h("ul", { class: "rows" }, entries().map(line)),
];

/** @param {{op: Op, all: Op[]}} entry */
function line({ op, all }) {
  const where = place(op);
  const read = async () => {
    for (const one of all) {
      await app.dismiss(one.op_id);
    }
  };
  return h(
    "li",
    {},
    h("span", {}, inFull(lineOf(op)), h("br"), why(op)),
    h(
      "p",
      { class: "acts whole" },
      where && link(where.path, { class: "button", id: "l" + op.op_id }, where.words),
      button(() => void read(), { class: "button", id: op.op_id }, "I have read it"),
    ),
  );
}
