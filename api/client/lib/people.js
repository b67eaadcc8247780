// Whose stores are on this tablet, and the tablet itself. Nothing here needs a PIN: the lock screen shows it.

import { instant, server } from "./clock.js";
import { forget, openIndex, openPerson, result, within, withinAgain } from "./db.js";

/**
 * @typedef {object} Entry
 * @property {string} staff_id
 * @property {string} name
 * @property {string} school_id
 * @property {string} school_name
 * @property {string[]} roles
 * @property {import("./vault.js").Sealed} vault
 * @property {number} failures  wrong PINs since the last right one
 * @property {string} seen      when the server was last reached, by its clock, RFC 3339
 * @property {string} [revoked]  id of the tablet this store is of, where that was revoked and something is unsent
 * @property {number} [ahead]   milliseconds by which the server's clock was ahead of this tablet's
 * @property {number} [told]    what this tablet's was then, in milliseconds
 */

/** Wrong PINs until the working set is thrown away. */
export const ATTEMPTS = 10;
/** Days without the server until it is thrown away. Longer than a half-term holiday. */
const LAPSES_AFTER = 16;

/** @type {Promise<IDBDatabase> | null} */
let opened = null;
const index = async () => {
  opened ??= openIndex();
  try {
    return await opened;
  } catch (error) {
    opened = null;
    throw error;
  }
};

/**
 * One transaction of it.
 * @template T
 * @param {string[]} stores
 * @param {"readonly" | "readwrite"} mode
 * @param {(tx: IDBTransaction) => Promise<T> | T} body
 * @returns {Promise<T>}
 */
const inIndex = async (stores, mode, body) => {
  const again = () => {
    opened = null;
    return index();
  };
  return withinAgain(await index(), again, stores, mode, body);
};

/** @returns {Promise<Entry[]>} by name */
export const entries = async () => {
  const all = await inIndex(["people"], "readonly", (tx) => result(tx.objectStore("people").getAll()));
  return all.sort((one, other) => one.name.localeCompare(other.name));
};

/**
 * @param {string} staff_id
 * @returns {Promise<Entry | undefined>}
 */
export const entry = async (staff_id) =>
  inIndex(["people"], "readonly", (tx) => result(tx.objectStore("people").get(staff_id)));

/**
 * Writes a person's entry down, or changes part of it. Who was removed meanwhile, in another tab, is not written down
 * again by what was under way.
 * @param {Partial<Entry> & {staff_id: string}} more
 * @returns {Promise<Entry>}
 */
export const remember = async (more) =>
  inIndex(["people"], "readwrite", async (tx) => {
    const people = tx.objectStore("people");
    const known = await result(people.get(more.staff_id));
    const now = { ...known, ...more };
    if (known || more.vault) {
      people.put(now);
    }
    return now;
  });

/**
 * Counts an attempt at a PIN before it is tried, so that reloading the page forgives none.
 * @param {string} staff_id
 * @returns {Promise<number>} attempts left after this one
 */
export const attempt = async (staff_id) =>
  inIndex(["people"], "readwrite", async (tx) => {
    const people = tx.objectStore("people");
    const one = await result(people.get(staff_id));
    one.failures += 1;
    people.put(one);
    return ATTEMPTS - one.failures;
  });

/**
 * Throws the data key and all it encrypts away. What is unsent stays sealed.
 * @param {string} staff_id
 */
export const discard = async (staff_id) => {
  const known = await entry(staff_id);
  if (!known?.vault.data) {
    return;
  }
  await remember({ staff_id, vault: { ...known.vault, data: null } });
  const db = await openPerson(staff_id);
  await within(db, ["boxes", "meta"], "readwrite", async (tx) => {
    tx.objectStore("boxes").clear();
    await begunAnew(tx);
  });
  db.close();
};

/**
 * A store that lost its rows pulls them anew, and its tabs read it anew.
 * @param {IDBTransaction} tx
 * @returns {Promise<{acked: number} | undefined>} what was known of its outbox
 */
const begunAnew = async (tx) => {
  const meta = tx.objectStore("meta");
  const sync = await result(meta.get("sync"));
  if (sync) {
    meta.put({ ...sync, cursors: {}, generation: sync.generation + 1 }, "sync");
  }
  return sync;
};

/** Throws away the working sets of whoever has not been in touch with the server for too long. */
export const lapse = async () => {
  for (const one of await entries()) {
    if (server(one).getTime() - Date.parse(one.seen) > LAPSES_AFTER * 86_400_000) {
      await discard(one.staff_id);
    }
  }
};

/**
 * How many ops of a person wait, and are not handed to the lead either; it can be counted without the PIN.
 * @param {string} staff_id
 * @returns {Promise<number>}
 */
export const unsentOf = async (staff_id) => {
  const db = await openPerson(staff_id);
  const sync = await within(db, ["meta"], "readonly", (tx) => result(tx.objectStore("meta").get("sync")));
  db.close();
  return sync ? sync.next - 1 - Math.max(sync.acked, sync.handed ?? 0) : 0;
};

/**
 * Whether the PIN alone opens what waits of a person whose working set was thrown away: after too long without the server,
 * as where that is no more the one that knew them. Not after too many wrong PINs, nor on a tablet that was cut off.
 * @param {Entry} one
 * @param {number} unsent
 */
export const opens = (one, unsent) => !one.vault.data && unsent > 0 && one.failures < ATTEMPTS && !one.revoked;

/**
 * Deletes a person and their store.
 * @param {string} staff_id
 */
export const remove = async (staff_id) => {
  await forget(staff_id);
  await inIndex(["people"], "readwrite", (tx) => void tx.objectStore("people").delete(staff_id));
};

/** @returns {Promise<{id: string, name: string} | null>} */
export const tablet = async () =>
  await inIndex(["tablet"], "readonly", (tx) => result(tx.objectStore("tablet").get("this"))) ?? null;

/**
 * What became of a tablet that was revoked, until it is another one: its name, when, and how much was handed to the lead.
 * @typedef {{name: string, at: string, handed: number}} CutOff
 */

/** @returns {Promise<CutOff | null>} */
export const cutOff = async () =>
  await inIndex(["tablet"], "readonly", (tx) => result(tx.objectStore("tablet").get("revoked"))) ?? null;

/**
 * Throws away all of a store but what waits, which is sealed, and the sign-in that sends it.
 * @param {string} staff_id
 */
const strip = async (staff_id) => {
  const db = await openPerson(staff_id);
  await within(db, ["boxes", "ops", "aside", "meta"], "readwrite", async (tx) => {
    const boxes = tx.objectStore("boxes");
    const session = await result(boxes.get("session"));
    boxes.clear();
    tx.objectStore("aside").clear();
    if (session) {
      boxes.put(session, "session");
    }
    const sync = await begunAnew(tx);
    if (sync) {
      tx.objectStore("ops").delete(IDBKeyRange.upperBound(sync.acked));
    }
  });
  db.close();
};

/**
 * This tablet is revoked: all that is kept of pupils goes from it at once, whoever it is kept for, and it has no name any
 * more. What was done and not sent stays sealed, as only the PIN of whoever did it opens it; they hand it over.
 * @param {string} staff_id  who hears of it and hands over what is their own
 * @returns {Promise<string[]>} the others whose stores were here
 */
export const cut = async (staff_id) => {
  const [here, all] = await Promise.all([tablet(), entries()]);
  await strip(staff_id);
  // Whose store is of a tablet that was revoked before hears of that one: this may be another by now.
  if (!here || all.some((one) => one.staff_id === staff_id && one.revoked)) {
    return [];
  }
  const others = all.filter((one) => one.staff_id !== staff_id && !one.revoked);
  for (const other of others) {
    if (await unsentOf(other.staff_id)) {
      await strip(other.staff_id);
      await discard(other.staff_id);
      await remember({ staff_id: other.staff_id, revoked: here.id });
    } else {
      await remove(other.staff_id);
    }
  }
  await inIndex(["people", "tablet"], "readwrite", async (tx) => {
    const [people, store] = [tx.objectStore("people"), tx.objectStore("tablet")];
    const own = await result(people.get(staff_id));
    if (own) {
      people.put({ ...own, revoked: here.id });
    }
    store.delete("this");
    store.put({ name: here.name, at: instant(), handed: 0 }, "revoked");
  });
  return others.map((one) => one.staff_id);
};

/**
 * Deletes a person and their store from a tablet that was revoked, once what waited is handed over.
 * @param {string} staff_id
 * @param {number} handed  how many ops
 */
export const leave = async (staff_id, handed) => {
  await remove(staff_id);
  await inIndex(["tablet"], "readwrite", async (tx) => {
    const store = tx.objectStore("tablet");
    const before = await result(store.get("revoked"));
    if (before) {
      store.put({ ...before, handed: before.handed + handed }, "revoked");
    }
  });
};

/**
 * Says which tablet this is. One that was revoked is another from then on.
 * @param {{id: string, name: string}} one
 */
export const setTablet = async (one) =>
  inIndex(["tablet"], "readwrite", (tx) => {
    const store = tx.objectStore("tablet");
    store.put(one, "this");
    store.delete("revoked");
    return one;
  });
