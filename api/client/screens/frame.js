// What stands around every screen: the way back, what waits to be sent, trouble in words, the lock.

import { app } from "../lib/app.js";
import { button, fill, h, link, renew } from "./dom.js";
import { entries } from "./refused.js";
import { say } from "./words.js";

/** What the screen before has to say on the next one, and what was done. @type {{words: string, op?: import("../lib/app.js").Op} | null} */
let noted = null;

/**
 * Says something once, on the screen that is shown next: no longer than until the server has refused what it is of.
 * @param {string} words
 * @param {import("../lib/app.js").Op} [op]
 */
export function note(words, op) {
  noted = { words, op };
}

/**
 * Fills a screen: the bar, its heading and its parts. Words of trouble and of waiting keep themselves up to date.
 * @param {HTMLElement} root
 * @param {{title: import("./dom.js").Child, back?: string | null, backTo?: string, leads?: boolean}} about
 *   `leads`: see `troubles`; `back` is where the way back leads to whoever came by the address, home unless told; null for no way back
 * @param {...import("./dom.js").Child} parts
 */
export function frame(root, { title, back = "/", backTo = "Home", leads = true }, ...parts) {
  const standing = h("div", { class: "standing" });
  const connection = h("div", { role: "status" });
  const trouble = h("div", { role: "status" });
  const told = h("div", { role: "status" });
  fill(
    root,
    h(
      "div",
      { class: "bar" },
      back !== null && wayBack(back, backTo),
      standing,
      connection,
      button(() => app.lock(), { class: "plain", id: "lock" }, "Lock"),
    ),
    trouble,
    told,
    h("h1", {}, title),
    parts,
  );
  const says = noted;
  noted = null;
  const holds = () => !app.state.refused.some((op) => op.op_id === says?.op?.op_id);
  // A change of what is there is read out; what is there from the start is not.
  requestAnimationFrame(() => fill(told, says && holds() && h("p", { class: "notice" }, says.words)));
  let said = "";
  watching(root, () => {
    // Only what changed is said again by a screen reader.
    const now = JSON.stringify([app.state, waiting()]);
    if (now === said) {
      return;
    }
    said = now;
    renew(standing, sent());
    renew(connection, away());
    renew(trouble, troubles(leads));
    holds() || fill(told);
  });
}

/**
 * The way back to the screen one came from.
 * @param {string} back    where it leads to whoever came by the address
 * @param {string} backTo  what that is called
 */
export function wayBack(back, backTo) {
  const from = app.from();
  const title = from?.path === "/" ? "Home" : from?.title;
  return link(from?.path ?? back, { class: "back" }, "‹ " + (title ?? backTo));
}

/**
 * Draws now, and again whenever something changed, as long as the screen is shown.
 * @param {HTMLElement} root
 * @param {() => void | Promise<void>} draw
 */
export function watching(root, draw) {
  const shown = async () => {
    if (!root.isConnected) {
      return stop();
    }
    try {
      await draw();
    } catch (error) {
      // A screen that was left while it was waiting, by a lock for instance, has nothing to draw with.
      if (root.isConnected) {
        throw error;
      }
    }
  };
  const stop = app.watch(shown);
  void shown();
}

/**
 * Draws what the server answers, or what is kept of it, and again whenever something changed. `draw` gets null where it
 * was never had, with the reason as a paragraph.
 * @param {HTMLElement} root
 * @param {string} path
 * @param {(had: {body: any, at: string, fresh: boolean} | null, why: HTMLElement | null) => void} draw
 */
export function keeping(root, path, draw) {
  watching(root, async () => {
    try {
      draw(await app.kept(path), null);
    } catch (error) {
      if (root.isConnected) {
        draw(null, h("p", { class: "notice" }, sentence(error)));
      }
    }
  });
}

/** While the next lesson is asked for on a slow network. */
export const looking = () => h("p", { class: "quiet" }, "Looking for the next lesson …");

/** What waits, in words. */
export function waiting() {
  const { unsent, oldest } = app.state;
  const since = unsent > 1 ? ", the oldest for" : " for";
  return unsent && oldest ? `${unsent} waiting to be sent${since} ${app.ago(oldest)}` : "";
}

function away() {
  const { online, trouble } = app.state;
  return !online && !trouble && h("span", { class: "mark off" }, "No connection");
}

function sent() {
  const { unsent, oldest, refused } = app.state;
  const words = unsent && oldest ? `${unsent} waiting, ${app.ago(oldest)}` : refused.length ? "Nothing waits" : "All sent";
  const mark = unsent ? "mark waiting" : "mark sent";
  return [
    link("/waiting", { id: "unsent", class: mark }, words),
    refused.length > 0 && link("/waiting", { id: "refused", class: "mark refused" }, `${entries().length} not taken`),
  ];
}

/**
 * What stands in the way, in words.
 * @param {boolean} leads  whether to lead to what can be done about what the server takes nothing of
 */
function troubles(leads) {
  const { trouble, update, signed_in, stranded } = app.state;
  return [
    trouble && h("p", { class: "notice" }, trouble, !signed_in && [" ", signIn()], stranded && leads && [" ", link("/waiting", { id: "stranded" }, "See what can be done")]),
    !signed_in && !trouble && h("p", { class: "notice" }, "Nothing is sent until you sign in again. ", signIn()),
    update &&
      h(
        "p",
        { class: "notice" },
        "A new version is ready. What is not sent yet stays on this tablet. ",
        button(() => app.update(), { id: "update" }, "Take it now"),
      ),
  ];
}

const signIn = () => link("/sign-in", { id: "again" }, "Sign in");

/**
 * A mark that says whether a record has reached the server, in words and by its border.
 * @param {import("../lib/app.js").Row} row
 */
export const sentMark = (row) =>
  row.waiting
    ? h("span", { class: "mark waiting" }, "Saved here, waiting to be sent")
    : h("span", { class: "mark sent" }, "Saved and sent");

/** Places where something is under way. @type {WeakSet<Element>} */
const busy = new WeakSet();

/**
 * Runs what may fail and says why in words, in a place of its own that is read out. A second touch while it is under way
 * does nothing: a double tap is no second answer.
 * @param {Element} where
 * @param {() => Promise<void>} act
 */
export async function trying(where, act) {
  if (busy.has(where)) {
    return;
  }
  busy.add(where);
  fill(where);
  try {
    await act();
  } catch (error) {
    fill(where, h("p", { class: "notice" }, sentence(error)));
    // It may stand at the other end of a long screen.
    where.scrollIntoView({ block: "nearest" });
  } finally {
    busy.delete(where);
  }
}

/**
 * What to say of an error: the server's words for people, with those of its fields.
 * @param {any} error
 * @returns {string}
 */
export function sentence(error) {
  if (error?.code === "offline") {
    return "This needs a connection to the school’s server, and there is none just now.";
  }
  if (error?.code === "not_found") {
    return say("not_found");
  }
  const fields = (error?.errors ?? []).map((/** @type {any} */ one) => one.message).join(" ");
  return [error?.detail ?? error?.message ?? String(error), fields].filter(Boolean).join(" ");
}

/**
 * When what is shown was brought, where it is not fresh.
 * @param {{at: string, fresh: boolean}} had
 */
export const age = (had) =>
  had.fresh ? null : h("p", { class: "quiet" }, `As it was ${app.ago(had.at)} ago: there is no connection now.`);

/**
 * Who was not there or late, in numbers. Those who were simply there may be left out of a register.
 * @param {{mark: string}[]} register
 */
export function presence(register) {
  const of = (/** @type {string} */ mark) => register.filter((line) => line.mark === mark).length;
  const said = [of("absent") && `${of("absent")} away`, of("late") && `${of("late")} late`].filter(Boolean);
  return said.length ? said.join(", ") : "everybody here";
}
