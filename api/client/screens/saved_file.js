// Opens a file of what could not be sent from a tablet, for whoever enters it: what was done, in words. Nothing of it is
// kept here or sent, so nothing says who opened it.

import { app } from "../lib/app.js";
import { inFull } from "./done.js";
import { field, fill, h, name } from "./dom.js";
import { enters } from "./facts.js";
import { frame, trying } from "./frame.js";
import { count } from "./words.js";

export default {
  path: "/saved-file",
  title: "Open a saved file",
  /** @param {HTMLElement} root */
  show(root) {
    const about = { title: "Open a saved file", back: "/settings", backTo: "This tablet" };
    if (!enters()) {
      return frame(
        root,
        about,
        h(
          "p",
          {},
          "A file that a colleague saved where the server did not take what was done on a tablet is opened by the office or the phonics lead, who enter what is in it. Give it to one of them and, by another way, its code.",
        ),
      );
    }
    const file = field("file", "The file", { type: "file", accept: ".json,application/json" });
    const code = field("code", "Its code, twenty letters and digits", { type: "text", autocomplete: "off", spellcheck: "false" });
    const said = h("div", { role: "alert" });
    const found = h("div", { role: "status" });
    const open = (/** @type {Event} */ event) => {
      event.preventDefault();
      void trying(said, async () => {
        fill(found);
        fill(found, inside(await app.unpack(await file.input.files[0].text(), code.input.value)));
      });
    };
    frame(
      root,
      about,
      h(
        "p",
        {},
        "A file that a colleague saved where the server did not take what was done on a tablet. It is only shown here: enter by hand what is right and is not there yet, then delete the file.",
      ),
      h("form", { onsubmit: open }, file.shown, code.shown, said, h("button", { class: "button main" }, "Open")),
      found,
    );
  },
};

/** @param {{made_at: string, by: {name: string}, school: string, lines: import("../lib/app.js").Carried[]}} file */
const inside = ({ made_at, by, school, lines }) => [
  h("h2", {}, count(lines.length, "thing"), " done by ", name(by.name)),
  h("p", { class: "quiet" }, `${school}. Saved ${moment(made_at)}.`),
  h(
    "ul",
    { class: "rows" },
    lines.map((one) =>
      h(
        "li",
        {},
        h("span", {}, inFull(one)),
        one.refused && h("span", { class: "mark refused" }, "Not taken by the server"),
        h("span", { class: "quiet" }, `Done ${moment(one.at)}`),
      ),
    ),
  ),
];

/** @param {string} instant */
const moment = (instant) => `${app.day(app.on(instant))}, ${app.time(instant)}`;
