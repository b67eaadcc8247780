// Which screen is shown: by phase and address. An address holds ids only, behind "#", which no server sees.

import * as trail from "./trail.js";

/**
 * @typedef {object} Screen
 * @property {string} path
 * @property {string} title
 * @property {string[]} [phases]
 * @property {(root: HTMLElement, params: any) => void | (() => void) | Promise<void | (() => void)>} show
 */

/** Where each phase is at home. */
const HOME = /** @type {Record<string, string>} */ ({
  signed_out: "/sign-in", choose_pin: "/pin", locked: "/locked", cut_off: "/cut-off", open: "/",
});

/**
 * The parameters of an address that fits; null if it does not.
 * @param {string} path
 * @param {string} address
 */
export const fits = (path, address) => {
  const [want, have] = [path.split("/"), address.split("/")];
  const same = want.length === have.length && want.every((part, at) =>
    (part.startsWith(":") ? have[at] !== "" : part === have[at]));
  if (!same) {
    return null;
  }
  const named = want.map((part, at) => [part.slice(1), have[at], part.startsWith(":")]).filter(([, , is]) => is);
  return /** @type {Record<string, string>} */ (Object.fromEntries(named));
};

/**
 * @param {Screen[]} screens
 * @param {string} phase
 * @param {string} address
 */
export const choose = (screens, phase, address) => {
  const allowed = screens.filter((screen) => (screen.phases || ["open"]).includes(phase));
  for (const at of [address, HOME[phase]]) {
    for (const screen of allowed) {
      const params = fits(screen.path, at);
      if (params) {
        return { screen, params };
      }
    }
  }
  return null;
};

/**
 * Shows screens in an element whenever the address changes, and when what it returns is called: something else did.
 * @param {HTMLElement} place
 * @param {Screen[]} screens
 * @param {import("./app.js").App} app
 * @param {() => void} forgetDrawers  what the last screen drew is drawn no more
 */
export const route = (place, screens, app, forgetDrawers) => {
  let shown = "";
  let turn = 0;
  let leave = () => {};

  const show = async () => {
    const address = location.hash.slice(1) || "/";
    const chosen = choose(screens, app.phase, address);
    const now = JSON.stringify([app.phase, app.me?.staff_id, chosen?.screen.path, chosen?.params]);
    if (!chosen || now === shown) {
      return;
    }
    shown = now;
    turn += 1;
    const mine = turn;
    leave();
    leave = () => {};
    forgetDrawers();
    const root = document.createElement("main");
    place.replaceChildren(root);
    document.title = `${chosen.screen.title} · Plumbline`;
    if (app.phase !== "open") {
      trail.forget();
    } else if (!chosen.screen.phases) {
      // An address that is nobody's shows Home.
      trail.to(fits(chosen.screen.path, address) ? address : HOME.open ?? "/", chosen.screen.title);
    }
    const begin = async () => {
      // A group that is not kept here is brought first, for who may see all of them.
      await (app.phase === "open" && app.visit(chosen.params.group_id));
      return mine === turn ? chosen.screen.show(root, chosen.params) : undefined;
    };
    const ending = await begin().catch((error) => {
      // A screen that was left while it waited may find the store closed.
      if (mine === turn) {
        throw error;
      }
    });
    if (ending) {
      mine === turn ? leave = ending : ending();
    }
    const heading = mine === turn && root.querySelector("h1");
    if (heading) {
      heading.tabIndex = -1;
      heading.focus({ preventScroll: true });
    }
  };

  addEventListener("hashchange", show);
  return show;
};
