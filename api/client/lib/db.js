// IndexedDB with promises. One database, "plumbline", says whose stores there are; each person's store is a database of
// its own, so that forgetting a person is forgetting a database.
//
// people  by staff_id: name, school, vault, failed attempts, when the server was last reached. Clear text: what the lock
//         screen needs.
// tablet  one entry, "this": id and name.
//
// plumbline-<staff_id>
// boxes   by key, encrypted: "rows <scope> <kind>", "kept <path>", "draft <name>", "session"
// ops     by n: {n, op_id, at, letter}, sealed; kept until a backup of the server has them
// aside   by op_id: {op_id, letter}, sealed: what the server refused, until it was read
// meta    one entry, "sync": where this store is with the server; see `SyncState` in person.js

const VERSION = 1;
const ALL = ["boxes", "ops", "aside", "meta"];

/**
 * What a request comes to.
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export const result = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/**
 * @param {string} name
 * @param {(db: IDBDatabase, request: IDBOpenDBRequest) => void} upgrade
 * @returns {Promise<IDBDatabase>}
 */
const open = async (name, upgrade) => {
  const request = indexedDB.open(name, VERSION);
  request.onupgradeneeded = () => upgrade(request.result, request);
  const db = await result(request);
  // A newer client, or the wiping of this store, does not wait for this tab.
  db.onversionchange = () => db.close();
  return db;
};

/** Whose stores are here. */
export const openIndex = () =>
  open("plumbline", (db) => {
    db.createObjectStore("people", { keyPath: "staff_id" });
    db.createObjectStore("tablet");
  });

/**
 * One person's store.
 * @param {string} staff_id
 */
export const openPerson = (staff_id) =>
  open(`plumbline-${staff_id}`, (db) => {
    db.createObjectStore("boxes");
    db.createObjectStore("ops", { keyPath: "n" });
    db.createObjectStore("aside", { keyPath: "op_id" });
    db.createObjectStore("meta");
  });

/** The browser has thrown away what was kept here. */
export class Cleared extends Error {}

/**
 * A person's store that was there and that the browser closed by itself, as it does to pages that slept.
 * @param {string} staff_id
 * @throws {Cleared} where it is not there any more; it is not made anew
 */
export const reopenPerson = async (staff_id) => {
  try {
    return await open(`plumbline-${staff_id}`, (_, request) => request.transaction?.abort());
  } catch (error) {
    throw error instanceof DOMException && error.name === "AbortError" ? new Cleared() : error;
  }
};

/**
 * Does something in one transaction; resolves once it is on disk, with what `body` returned. `body` may await requests of
 * the transaction and nothing else: a transaction ends when nothing of it is under way.
 * @template T
 * @param {IDBDatabase} db
 * @param {string[]} stores
 * @param {"readonly" | "readwrite"} mode
 * @param {(tx: IDBTransaction) => Promise<T> | T} body
 * @returns {Promise<T>}
 */
export const within = async (db, stores, mode, body) => {
  const tx = db.transaction(stores, mode, { durability: mode === "readwrite" ? "strict" : "default" });
  const done = new Promise((resolve, reject) => {
    tx.oncomplete = () => resolve(undefined);
    tx.onabort = () => reject(tx.error || new DOMException("The store took nothing.", "AbortError"));
  });
  try {
    const value = await body(tx);
    await done;
    return value;
  } catch (error) {
    done.catch(() => undefined);
    try {
      tx.abort();
    } catch {
      // It had ended by itself.
    }
    throw error;
  }
};

/**
 * As `within`; where the browser has closed the store by itself, once more in one that is opened again.
 * @template T
 * @param {IDBDatabase} db
 * @param {() => Promise<IDBDatabase>} again
 * @param {string[]} stores
 * @param {"readonly" | "readwrite"} mode
 * @param {(tx: IDBTransaction) => Promise<T> | T} body
 * @returns {Promise<T>}
 */
export const withinAgain = async (db, again, stores, mode, body) => {
  try {
    return await within(db, stores, mode, body);
  } catch (error) {
    if (!(error instanceof DOMException) || error.name !== "InvalidStateError") {
      throw error;
    }
    return within(await again(), stores, mode, body);
  }
};

/**
 * Deletes a person's store. Emptied first: a tab that still holds it open delays the deleting, not the emptying.
 * @param {string} staff_id
 */
export const forget = async (staff_id) => {
  const db = await openPerson(staff_id);
  await within(db, ALL, "readwrite", (tx) => ALL.forEach((name) => tx.objectStore(name).clear()));
  db.close();
  indexedDB.deleteDatabase(`plumbline-${staff_id}`);
};

/** What there is to say of a store that the browser cleared. */
export const CLEARED = "This browser has cleared what was kept on this tablet. What was sent is safe at the school’s server; what "
  + "waited to be sent is lost. Look whether the latest records are there.";
/** And first, where the sign-in went with it. */
export const SIGN_IN = "To do that, sign in again.";

/**
 * A sentence about a store that could not be used.
 * @param {unknown} error
 */
export const storeTrouble = (error) => {
  if (error instanceof Cleared) {
    return `${CLEARED} ${SIGN_IN}`;
  }
  const name = error instanceof DOMException ? error.name : "";
  if (name === "QuotaExceededError") {
    return "This tablet has no room left: nothing more can be saved on it. Free some space, then try again.";
  }
  if (name === "VersionError") {
    return "A newer version of this page was used on this tablet. Close all its tabs and open it again; nothing is lost.";
  }
  if (!globalThis.indexedDB || name === "InvalidStateError" || name === "SecurityError" || name === "UnknownError") {
    return "This browser keeps nothing on this tablet, perhaps because of a private window. Use an ordinary window.";
  }
  return "This tablet could not save that. Close other tabs of this page and try again.";
};
