// The client as screens have it (app.js describes it): which phase it is in, who it is for, and the parts of an open
// store put together.

import * as clock from "./clock.js";
import { storeTrouble } from "./db.js";
import { uuid } from "./ids.js";
import { Open } from "./open.js";
import { unpack } from "./parcel.js";
import * as people from "./people.js";
import { grant } from "./session.js";
import { send } from "./http.js";
import { onTab, tellTabs } from "./tabs.js";
import { dateIn, dayInWords, since, timeIn } from "./time.js";
import * as trail from "./trail.js";
import * as updates from "./update.js";
import * as vault from "./vault.js";

/** @typedef {import("./app.js").App} App */

/** What the screen that is shown draws. @type {Set<() => void>} */
const drawers = new Set();
/** Chooses the screen; before any of them draws. */
let choose = () => {};
/** Says what was done. @type {import("./open.js").Around["inLine"]} */
let inLine = ({ type }) => ({ what: type, about: "", says: "" });
let drawing = false;

/** Soon, once, however much changes at once. */
const draw = () => {
  if (!drawing) {
    drawing = true;
    queueMicrotask(() => {
      drawing = false;
      choose();
      [...drawers].forEach((one) => one());
    });
  }
};

/** Another screen: what the last one drew is drawn no more. */
export const forgetDrawers = () => drawers.clear();

/** @type {Open | null} */
let open = null;
/** A sign-in whose store is not open yet. @type {{granted: import("./session.js").Granted, me: App["me"]} | null} */
let entering = null;
/** Words about a store that cannot be used at all. @type {string | null} */
let unusable = null;

const enter = (/** @type {App["phase"]} */ phase) => {
  app.phase = phase;
  draw();
};

const mustBeOpen = () => {
  if (!open) {
    throw new Error("Locked.");
  }
  return open;
};

/** Whose store was open before, in this page. @type {string | null} */
let last = null;

/** Takes an open store into use. Who is another than before begins at home, not where that one was. */
const use = (/** @type {Open} */ opened) => {
  if (last !== null && last !== opened.me.staff_id) {
    location.hash = "#/";
  }
  last = opened.me.staff_id;
  open = opened;
  entering = null;
  app.pin = null;
  app.me = opened.me;
  enter(opened.cut ? "cut_off" : "open");
  opened.start();
  navigator.storage?.persist?.().then((kept) => {
    app.state.kept = kept;
    draw();
  }, () => undefined);
};

/** Closes what is open; what is in memory of it goes with it. */
const close = (/** @type {App["phase"]} */ phase) => {
  open?.close();
  open = null;
  entering = null;
  app.me = null;
  app.pin = null;
  enter(phase);
};

/** What became of this tablet is known before any PIN. */
const look = async () => {
  app.tablet = await people.tablet();
  app.cut_off = await people.cutOff();
};

const heard = {
  draw,
  inLine: (/** @type {{type: string, set: any}} */ op) => inLine(op),
  lock: () => close("locked"),
  cut: async () => {
    await look();
    if (open) {
      enter("cut_off");
    }
  },
  wiped: async () => {
    await look();
    close(await restingPhase());
  },
};

const restingPhase = async () => ((await people.entries()).length ? "locked" : "signed_out");

/** What the entry of a person holds besides the keys. */
const entryOf = (/** @type {NonNullable<App["me"]>} */ me) => ({ ...me, ...clock.known(), failures: 0, seen: clock.server().toISOString() });

const signIn = async (/** @type {string} */ email, /** @type {string} */ password, /** @type {string | undefined} */ school_id) => {
  const granted = await grant(email, password, school_id);
  if (open && open.me.staff_id === granted.staff_id) {
    await open.renew(granted);
    return draw();
  }
  close("signed_out");
  /** @type {import("../api.d.ts").Schema["Me"]} */
  const { staff_id, name, school_id: school, school_name, roles_today: roles } =
    (await send("/me", { token: granted.access_token })).body;
  entering = { granted, me: { staff_id, name, school_id: school, school_name, roles } };
  const known = await people.entry(staff_id);
  app.pin = { name, known: Boolean(known), unsent: known ? await people.unsentOf(staff_id) : 0,
    names_tablet: !known?.revoked && !await people.tablet() };
  enter("choose_pin");
};

const join = async (/** @type {string} */ token, /** @type {string} */ password) => {
  await send("/invitations/accept", { method: "POST", body: { token, password } });
};

const choosePin = async (/** @type {string} */ pin, /** @type {string | undefined} */ tablet) => {
  if (!entering?.me) {
    throw new Error("Sign in first.");
  }
  const { granted, me } = entering;
  const known = await people.entry(me.staff_id);
  const weak = !known && vault.weakness(pin);
  if (weak) {
    throw new Error(weak);
  }
  const made = known ? await vault.open(known.vault, pin) : await vault.make(pin);
  if (!made) {
    throw new Error("That is not the PIN you chose on this tablet.");
  }
  // Who has something sealed on a tablet that was revoked hands it over, and is gone from it.
  if (!known?.revoked && !await people.tablet()) {
    await people.setTablet({ id: uuid(), name: tablet?.trim() || "Tablet" });
    app.cut_off = null;
  }
  app.tablet = await people.tablet();
  await people.remember({ ...entryOf(me), vault: made.sealed });
  use(await Open.with(me, made.keys, granted, heard, Boolean(known)));
};

const unlock = async (/** @type {string} */ staff_id, /** @type {string} */ pin) => {
  const known = await people.entry(staff_id);
  if (!known || !known.vault.data && !people.opens(known, await people.unsentOf(staff_id))) {
    return { ok: false, left: 0 };
  }
  const left = await people.attempt(staff_id);
  const opened = await vault.open(known.vault, pin);
  if (!opened) {
    if (left <= 0) {
      await people.discard(staff_id);
    }
    draw();
    return { ok: false, left: Math.max(left, 0) };
  }
  const { name, school_id, school_name, roles } = await people.remember({ staff_id, failures: 0, vault: opened.sealed });
  use(await Open.with({ staff_id, name, school_id, school_name, roles }, opened.keys, null, heard, true));
  return { ok: true, left: people.ATTEMPTS };
};

const forgetPin = async () => {
  if (entering?.me && app.pin?.known) {
    await people.remove(entering.me.staff_id);
    app.pin = { ...app.pin, known: false, unsent: 0, names_tablet: !await people.tablet() };
    draw();
  }
};

const changePin = async (/** @type {string} */ old, /** @type {string} */ pin) => {
  const { staff_id } = mustBeOpen().me;
  const known = await people.entry(staff_id);
  const weak = vault.weakness(pin);
  if (weak || !known) {
    throw new Error(weak || "Sign in first.");
  }
  const sealed = await vault.changed(known.vault, old, pin);
  if (!sealed) {
    throw new Error("That is not your PIN.");
  }
  await people.remember({ staff_id, vault: sealed });
};

const signOut = async (anyway = false) => {
  const { me, session, person } = mustBeOpen();
  await person.reload();
  if (person.unsent.length && !anyway) {
    return false;
  }
  await session.end();
  close("start");
  await people.remove(me.staff_id);
  tellTabs({ what: "lock", staff_id: me.staff_id });
  enter(await restingPhase());
  return true;
};

const lock = () => {
  if (open) {
    tellTabs({ what: "lock", staff_id: open.me.staff_id });
    close("locked");
  }
};

const ask = async (/** @type {string} */ path, /** @type {any} */ { method = "GET", body, etag, text } = {}) => {
  const key = method === "POST" ? uuid() : undefined;
  const { session } = mustBeOpen();
  return (await session.send(path, { method, body, etag, key, text })).body;
};

/** A getter for each field of the state, so that what screens read is always as it is. */
const state = {
  kept: false,
  get online() { return open?.sync.online ?? navigator.onLine; },
  get trouble() { return unusable ?? open?.trouble ?? null; },
  get unsent() { return open?.person.due.length ?? 0; },
  get oldest() { return open?.person.due[0]?.at ?? null; },
  get refused() { return open?.person.aside ?? []; },
  get synced() { return open?.person.sync.synced ?? null; },
  get stranded() { return open?.sync.stranded ?? false; },
  get signed_in() { return !open?.session.ended; },
  get update() { return updates.ready(); },
};

const zone = () => open?.person.view.list("school")[0]?.time_zone;

const peopleHere = async () =>
  Promise.all((await people.entries()).map(async (one) => {
    const unsent = await people.unsentOf(one.staff_id);
    return { staff_id: one.staff_id, name: one.name, seen: one.seen, unsent, wiped: !one.vault.data, sealed: people.opens(one, unsent) };
  }));

/** @type {App} */
export const app = {
  phase: "start", me: null, pin: null, tablet: null, cut_off: null, state,
  people: peopleHere, signIn, join, choosePin, forgetPin, changePin, unlock, lock, signOut, ask,
  store: {
    get: (kind, id) => mustBeOpen().person.view.get(kind, id),
    list: (kind, where) => mustBeOpen().person.view.list(kind, where),
  },
  act: (type, set, as_of) => mustBeOpen().act(type, set, as_of ?? null),
  waiting: () => open?.person.due ?? [],
  parcel: () => mustBeOpen().parcel(),
  unpack,
  setAside: () => mustBeOpen().setAside(),
  dismiss: (op_id) => mustBeOpen().dismiss(op_id),
  kept: (path) => mustBeOpen().keptOr(path),
  draft: async (name, value) => {
    const { person } = mustBeOpen();
    return value === undefined ? person.box(`draft ${name}`) : person.put(`draft ${name}`, value);
  },
  visit: async (group_id) => open?.visits.to(group_id),
  holds: (kind, id) => mustBeOpen().visits.holds(kind, id),
  latest: (row) => mustBeOpen().visits.latest(row),
  watch: (one) => {
    drawers.add(one);
    return () => drawers.delete(one);
  },
  from: trail.from,
  go: (path) => {
    location.hash = path;
  },
  uuid,
  today: () => dateIn(zone(), new Date(clock.now())),
  on: (instant) => dateIn(zone(), new Date(instant)),
  time: (instant) => timeIn(zone(), instant),
  ago: (instant) => since(instant, clock.now()),
  day: dayInWords,
  sync: () => mustBeOpen().sync.run(),
  update: updates.take,
};

/**
 * Begins: finds out who has a store here.
 * @param {() => void} chooser  chooses the screen whenever something changed
 * @param {import("./open.js").Around["inLine"]} words  says what was done
 */
export const begin = async (chooser, words) => {
  choose = chooser;
  inLine = words;
  updates.watch(draw);
  onTab((message) => {
    if (!open || message.staff_id !== open.me.staff_id) {
      return;
    }
    if (message.what !== "lock") {
      return open.heard(message.what);
    }
    close("locked");
    return heard.wiped();
  });
  addEventListener("online", () => open?.sync.run());
  if (!isSecureContext) {
    unusable = "This page works over a secure connection only: its address begins with https. Ask who runs the server.";
    return enter("signed_out");
  }
  try {
    await people.lapse();
    await look();
    enter(await restingPhase());
  } catch (error) {
    unusable = storeTrouble(error);
    enter("signed_out");
  }
};
