// This tablet: its name, the PIN, what is kept here, and what that means for children's data.

import { app } from "../lib/app.js";
import { button, field, fill, h, link, name, renew } from "./dom.js";
import { enters } from "./facts.js";
import { frame, trying, waiting, watching } from "./frame.js";
import { letterformChoice } from "./letterforms.js";
import { count } from "./words.js";

export default {
  path: "/settings",
  title: "This tablet",
  /** @param {HTMLElement} root */
  show(root) {
    const kept = h("div", {});
    const said = h("div", { role: "alert" });
    frame(
      root,
      { title: "This tablet" },
      h(
        "section",
        { class: "part" },
        h("h2", {}, "You"),
        h("p", {}, name(app.me?.name ?? ""), ", ", app.me?.school_name ?? ""),
        h(
          "p",
          { class: "acts" },
          button(() => app.lock(), { class: "button" }, "Lock now"),
          button(() => leave(said, false), { class: "button" }, "Sign out of this tablet"),
        ),
        said,
      ),
      h(
        "section",
        { class: "part" },
        h("h2", {}, "The tablet"),
        h(
          "p",
          {},
          `It is called “${app.tablet?.name ?? "Tablet"}”. The phonics lead can give it another name, and cut it off when it is lost.`,
        ),
        changePin(),
      ),
      enters() &&
        h(
          "section",
          { class: "part" },
          h("h2", {}, "What could not be sent"),
          h("p", {}, "A colleague gave you a file and its code, as the server did not take what was done on a tablet?"),
          h("p", {}, link("/saved-file", { class: "button" }, "Open a saved file")),
        ),
      h("section", { class: "part" }, h("h2", {}, "Letters"), letterformChoice()),
      h("section", { class: "part" }, h("h2", {}, "What is kept here"), kept),
      promises(),
    );
    watching(root, () => renew(kept, summary()));
  },
};

function summary() {
  const of = (/** @type {string} */ kind) => app.store.list(kind).length;
  return [
    h(
      "ul",
      {},
      h(
        "li",
        {},
        `${count(of("group"), "group")} of yours with ${count(of("pupil"), "pupil")}: the names they are called by, their class and year group.`,
      ),
      h(
        "li",
        {},
        `${count(of("lesson_record"), "lesson record")} and ${count(of("catch_up"), "catch-up record")} of these groups.`,
      ),
      h("li", {}, `${count(of("response"), "answer")} in checks of these pupils.`),
      h("li", {}, waiting() ? `${waiting()}.` : "Nothing waits to be sent."),
    ),
    h("p", {}, "Never kept here: dates of birth, pupil numbers, special needs, pupils of other classes, reports."),
  ];
}

function changePin() {
  const said = h("div", { role: "alert" });
  const done = h("p", { role: "status" });
  const old = field("old", "Your PIN now", { type: "password", autocomplete: "off" });
  const next = field("new", "The new one, at least 6 digits or letters", {
    type: "password",
    autocomplete: "new-password",
  });
  const save = (/** @type {Event} */ event) => {
    event.preventDefault();
    void trying(said, async () => {
      await app.changePin(old.input.value, next.input.value);
      old.input.value = "";
      next.input.value = "";
      fill(done, "Your PIN is changed.");
    });
  };
  return h(
    "details",
    {},
    h("summary", {}, "Change my PIN"),
    h("form", { onsubmit: save }, old.shown, next.shown, said, h("button", { class: "button" }, "Change it"), done),
  );
}

function promises() {
  return h(
    "section",
    { class: "part" },
    h("h2", {}, "How it is protected, and how far"),
    h(
      "p",
      {},
      "What is kept here is encrypted, and your PIN opens it; without it nothing can be read but the names of the staff who use this tablet. After ten wrong PINs in a row, or sixteen days without the school’s server, it is wiped, but for what waits to be sent: your password and your PIN bring that back. It locks by itself after ten minutes without a touch, and the next person sees nothing of yours.",
    ),
    h(
      "p",
      {},
      "A short PIN does not stop somebody who takes the tablet away and has time and tools: they can copy what is stored and try every PIN there is. No part of the key lies with the server. So choose a longer one, with letters; keep the tablet’s own screen lock on; and tell the school at once when a tablet is lost, so that it is cut off.",
    ),
    h(
      "p",
      {},
      "Sign out before a tablet is lent or given back. Who looked at a child’s page, and when, is in the school’s log.",
    ),
    h("p", {}, "Results here are not a diagnosis. Your school’s data-protection officer decides about personal data."),
  );
}

/**
 * @param {Element} said
 * @param {boolean} anyway
 */
function leave(said, anyway) {
  return trying(said, async () => {
    if (await app.signOut(anyway)) {
      return;
    }
    fill(
      said,
      h(
        "div",
        { class: "notice" },
        h("p", {}, `${waiting()}. Signed out now, it would be lost for good.`),
        h(
          "p",
          { class: "acts" },
          link("/waiting", { class: "button main" }, "Send it first"),
          button(() => void leave(said, true), { class: "button" }, "Lose it and sign out"),
        ),
      ),
    );
  });
}
