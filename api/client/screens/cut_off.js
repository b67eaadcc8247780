// What is said on a tablet that the school has cut off: what happened, what is safe, whom to ask.

import { app } from "../lib/app.js";
import { h } from "./dom.js";
import { count } from "./words.js";

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
      h(
        "p",
        {},
        `The school has cut off this tablet, “${gone.name}”, as it does when one is lost or given back. Nothing about any child can be read on it any more.`,
      ),
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
