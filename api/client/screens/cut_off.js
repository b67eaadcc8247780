// What is said on a tablet that the school has cut off: what happened, what is safe, whom to ask.

import { app } from "../lib/app.js";
import { button, fill, h, link, renew } from "./dom.js";
import { watching } from "./frame.js";
import { offering } from "./stranded.js";
import { count } from "./words.js";

/** @param {boolean} left  whether something that was done here is not handed over yet */
const happened = (left) =>
  h(
    "p",
    {},
    `The school has cut off this tablet${app.cut_off ? `, “${app.cut_off.name}”` : ""}, as it does when one is lost or given back. Nothing about any child can be read on it any more`,
    left ? ", except what somebody did here and nobody has yet: by that person, with their own PIN." : ".",
  );

export default {
  path: "/cut-off",
  title: "Cut off",
  phases: ["cut_off"],
  /**
   * Until what waits is handed over.
   * @param {HTMLElement} root
   */
  show(root) {
    const body = h("div", { role: "status" });
    const stuck = h("div", {});
    fill(
      root,
      h(
        "div",
        { class: "door" },
        h("p", { class: "quiet" }, "Plumbline"),
        h("h1", { tabindex: "-1" }, "This tablet was cut off"),
        body,
        stuck,
        h(
          "p",
          { class: "acts" },
          button(() => void app.sync(), { class: "button main", id: "sync" }, "Try now"),
          button(() => app.lock(), { class: "button", id: "lock" }, "Lock"),
        ),
      ),
    );
    watching(root, () => renew(body, happened(app.state.unsent > 0), left()));
    offering(root, stuck);
  },
};

/** What waits, and why. */
function left() {
  const { unsent, online, trouble, signed_in } = app.state;
  const goesOn = online ? "What waits is being handed to the phonics lead." : "No connection to the school’s server: what waits is handed over once there is one.";
  return [
    unsent > 0 &&
      h(
        "p",
        {},
        `${count(unsent, "thing")} you did here, such as registers and answers in checks, the phonics lead does not have yet. What waits stays locked on this tablet, and only your PIN opens it.`,
      ),
    h("p", { class: "notice" }, trouble ?? goesOn),
    !signed_in && h("p", {}, link("/sign-in", { id: "again" }, "Sign in")),
  ];
}

/**
 * Nothing where the tablet was not cut off.
 * @param {{unsent: number}[]} left  whose sealed stores are still here
 */
export function cutOff(left) {
  const gone = app.cut_off;
  const handed = gone?.handed ?? 0;
  const sealed = left.some((one) => one.unsent > 0);
  return (
    gone && [
      happened(sealed),
      h(
        "p",
        {},
        "What was sent is safe at the school’s server. ",
        handed
          ? `${count(handed, "thing")} done here and not sent yet went to the phonics lead, who enters what is right: tell them, so that they look.`
          : !sealed && "Nothing was waiting to be sent.",
      ),
      sealed &&
        h(
          "p",
          { class: "notice" },
          "What was done here and is not sent yet, such as registers and answers in checks, stays locked on this tablet, and only they can open it who did it. They come in here under their name, and it goes to the phonics lead as soon as the server takes it.",
        ),
      h(
        "p",
        {},
        "Ask the phonics lead if this is a mistake. It cannot be undone, but the tablet can be used again: sign in, and it gets a new name.",
      ),
    ]
  );
}
