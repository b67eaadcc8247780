// What is offered where what was done here cannot be sent: a sealed file for the office or the phonics lead, and setting it
// aside with a second touch. Nothing of it goes by itself.

import { app } from "../lib/app.js";
import { button, fill, h } from "./dom.js";
import { days } from "./done.js";
import { trying, watching } from "./frame.js";
import { count } from "./words.js";

/**
 * Keeps a place filled with what is offered; with nothing where nothing waits, or sending is only a matter of time. A code
 * that is shown is kept nowhere: it stays until something else waits, whatever is offered meanwhile.
 * @param {HTMLElement} root  the screen
 * @param {Element} place
 */
export function offering(root, place) {
  const offered = h("div", {});
  const code = h("div", { role: "alert" });
  fill(place, offered, code);
  let [drawn, of] = ["", ""];
  watching(root, () => {
    const { stranded, signed_in } = app.state;
    const waits = app.waiting();
    const ops = waits.map((op) => op.op_id).join();
    if (ops !== of) {
      of = ops;
      fill(code);
    }
    const now = JSON.stringify([stranded, signed_in, ops]);
    if (now !== drawn) {
      drawn = now;
      fill(offered, waits.length > 0 && (stranded || !signed_in) && offer(stranded, waits, code));
    }
  });
}

/**
 * @param {boolean} stranded
 * @param {import("../lib/app.js").Op[]} waits
 * @param {Element} code  where the code of a file is shown
 */
function offer(stranded, waits, code) {
  const said = h("div", { role: "alert" });
  return h(
    "section",
    { class: "part" },
    h("h2", {}, "If it cannot be sent"),
    h("p", {}, stranded ? REFUSED : ENDED),
    h("p", {}, `It is ${count(waits.length, "thing")}, of ${days(waits) || "no one day"}.`),
    h(
      "p",
      { class: "acts" },
      button(() => void save(said, code), { class: "button", id: "parcel" }, "Save it as a sealed file"),
      button(() => ask(said), { class: "button", id: "aside" }, "Set it aside …"),
    ),
    said,
  );
}

const REFUSED =
  "The school’s server does not know what is kept here, or refuses all of it, as happens when its data was replaced or another server answers at its address. Ask whoever runs it first: once it is the old one again, everything goes by itself.";

const ENDED =
  "Sign in with your password, and it goes. Where that is not possible any more, as the server is another one or your account is closed, it can be taken to the office or the phonics lead, who enters it.";

/** Milliseconds that a browser has for taking a file over: nothing says when it has. */
const TAKEN_OVER = 60_000;

/**
 * @param {Element} said
 * @param {Element} shown  where the code is shown
 */
function save(said, shown) {
  return trying(said, async () => {
    const { code, file } = await app.parcel();
    const name = `plumbline-unsent-${app.today()}.json`;
    const address = URL.createObjectURL(new Blob([file], { type: "application/json" }));
    h("a", { href: address, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(address), TAKEN_OVER);
    fill(
      shown,
      h(
        "div",
        { class: "notice" },
        h("p", {}, `Saved among this tablet’s downloads as ${name}. This code opens it, and is kept nowhere: write it down now.`),
        h("p", { class: "read big", id: "code" }, code),
        h(
          "p",
          {},
          "Give the file and, by another way, the code to the office or the phonics lead. They open it under “This tablet”, “Open a saved file”. What waits stays here too, until you set it aside.",
        ),
      ),
    );
    shown.scrollIntoView({ block: "nearest" });
  });
}

/** @param {Element} said */
function ask(said) {
  const give = () => trying(said, () => app.setAside());
  const kept =
    app.phase === "cut_off"
      ? "It is then gone from this tablet for good, and nobody has it but by a file that was saved."
      : "It is then never sent. You still find it under “Not taken” until you have read it.";
  fill(
    said,
    h(
      "div",
      { class: "notice" },
      h("p", {}, `Set aside ${count(app.waiting().length, "thing")} of ${days(app.waiting()) || "no one day"}? ${kept}`),
      h(
        "p",
        { class: "acts" },
        button(() => void give(), { class: "button", id: "aside-now" }, "Yes, set it aside"),
        button(() => fill(said), { class: "button" }, "Keep it waiting"),
      ),
    ),
  );
  said.scrollIntoView({ block: "nearest" });
}
