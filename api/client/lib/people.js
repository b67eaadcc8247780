// Whose stores are on this tablet, and the tablet itself. Nothing here needs a PIN: the lock screen shows it.

import { forget, openIndex, openPerson, result, within } from "./db.js";

/**
 * @typedef {object} Entry
 * @property {string} staff_id
 * @property {string} name
 * @property {string} school_id
 * @property {string} school_name
 * @property {string[]} roles
 * @property {import("./vault.js").Sealed} vault
 * @property {number} failures  wrong PINs since the last right one
 * @property {string} seen      when the server was last reached, RFC 3339
 * @property {number} shift     days by which the school's date is ahead of this tablet's clock: 0 where that is right
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

/** @returns {Promise<Entry[]>} by name */
export const entries = async () => {
  const all = await within(await index(), ["people"], "readonly", (tx) => result(tx.objectStore("people").getAll()));
  return all.sort((one, other) => one.name.localeCompare(other.name));
};

/**
 * @param {string} staff_id
 * @returns {Promise<Entry | undefined>}
 */
export const entry = async (staff_id) =>
  within(await index(), ["people"], "readonly", (tx) => result(tx.objectStore("people").get(staff_id)));

/**
 * Writes a person's entry down, or changes part of it.
 * @param {Partial<Entry> & {staff_id: string}} more
 * @returns {Promise<Entry>}
 */
export const remember = async (more) =>
  within(await index(), ["people"], "readwrite", async (tx) => {
    const people = tx.objectStore("people");
    const now = { ...await result(people.get(more.staff_id)), ...more };
    people.put(now);
    return now;
  });

/**
 * Counts an attempt at a PIN before it is tried, so that reloading the page forgives none.
 * @param {string} staff_id
 * @returns {Promise<number>} attempts left after this one
 */
export const attempt = async (staff_id) =>
  within(await index(), ["people"], "readwrite", async (tx) => {
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
    const sync = await result(tx.objectStore("meta").get("sync"));
    if (sync) {
      tx.objectStore("meta").put({ ...sync, cursors: {}, generation: sync.generation + 1 }, "sync");
    }
  });
  db.close();
};

/**
 * Throws away the working sets of whoever has not been in touch with the server for too long.
 * @param {number} now  milliseconds
 */
export const lapse = async (now) => {
  for (const one of await entries()) {
    if (now - Date.parse(one.seen) > LAPSES_AFTER * 86_400_000) {
      await discard(one.staff_id);
    }
  }
};

/**
 * How many ops of a person wait; it can be counted without the PIN.
 * @param {string} staff_id
 * @returns {Promise<number>}
 */
export const unsentOf = async (staff_id) => {
  const db = await openPerson(staff_id);
  const sync = await within(db, ["meta"], "readonly", (tx) => result(tx.objectStore("meta").get("sync")));
  db.close();
  return sync ? sync.next - 1 - sync.acked : 0;
};

/**
 * Deletes a person and their store.
 * @param {string} staff_id
 */
export const remove = async (staff_id) => {
  await forget(staff_id);
  await within(await index(), ["people"], "readwrite", (tx) => void tx.objectStore("people").delete(staff_id));
};

/** @returns {Promise<{id: string, name: string} | null>} */
export const tablet = async () =>
  await within(await index(), ["tablet"], "readonly", (tx) => result(tx.objectStore("tablet").get("this"))) ?? null;

/**
 * Says which tablet this is; null forgets it.
 * @template {{id: string, name: string} | null} T
 * @param {T} one
 * @returns {Promise<T>}
 */
export const setTablet = async (one) =>
  within(await index(), ["tablet"], "readwrite", (tx) => {
    const store = tx.objectStore("tablet");
    one ? store.put(one, "this") : store.delete("this");
    return one;
  });
