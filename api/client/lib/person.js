// One person's store, open: what is on the tablet, decrypted into memory, and every change of it. Each change is on disk
// before it is in memory, and is one transaction. Other tabs of the same person write too: `sync.js` holds a lock while
// it changes rows, and `reload` brings what another tab wrote.

import * as clock from "./clock.js";
import { openPerson, reopenPerson, result, within, withinAgain } from "./db.js";
import { recordId, uuid } from "./ids.js";
import { applied } from "./rows.js";
import { after, fresh, lostBefore, mayGo, numbered } from "./state.js";
import { decrypt, encrypt, seal, unseal } from "./vault.js";
import { View } from "./view.js";

/** @typedef {import("./state.js").SyncState} SyncState */

/**
 * @typedef {{n: number, op_id: string, type: string, base_v: string | null, base_op: string | null, at: string,
 *   tz: string, set: any, makes?: string | null, line?: import("./app.js").Line}} PendingOp   `base_op`: the op of this store
 *   whose version of the record it stands on; `makes`: the id of a lesson record that is new, as it will be; `line`: what it
 *   is in words, as what it names may be gone from here before it is sent
 */

const PREFIX = (/** @type {string} */ name) => IDBKeyRange.bound(`${name} `, `${name}!`, false, true);

/** Answers about groups that are no longer held are not kept. */
const forgetKept = async (/** @type {IDBTransaction} */ tx, /** @type {string[]} */ dropped) => {
  const boxes = tx.objectStore("boxes");
  const owners = dropped.map((scope) => scope.split(":")[1]);
  const keys = owners.length ? await result(boxes.getAllKeys(PREFIX("kept"))) : [];
  keys.filter((key) => owners.some((owner) => String(key).includes(owner))).forEach((key) => boxes.delete(key));
};

/** What is said, and nothing done, where what waits is not what somebody was shown of it. */
export const NOT_AS_SEEN = "Something was done or sent meanwhile, in another window. Look at what waits again.";

/**
 * Whether what waits is what was shown.
 * @param {{op_id: string}[]} shown
 * @param {{op_id: string}[]} now
 */
export const sameOps = (shown, now) => shown.length === now.length && shown.every((op, at) => op.op_id === now[at]?.op_id);

export class Person {
  /** @type {SyncState} */ sync = fresh();
  /** @type {import("./rows.js").Parts} */ parts = new Map();
  /** @type {PendingOp[]} those not covered, in order */ ops = [];
  /** @type {import("./app.js").Op[]} */ aside = [];
  /** Shown beside them, and kept nowhere. @type {import("./rows.js").Parts} */ #beside = new Map();
  /** @type {View | null} */ #view = null;
  #closed = false;
  /** Whether nothing was there when it was opened. */
  began = false;

  /**
   * @param {IDBDatabase} db
   * @param {import("./vault.js").Keys} keys
   * @param {string} staff_id
   */
  constructor(db, keys, staff_id) {
    this.db = db;
    this.keys = keys;
    this.staff_id = staff_id;
  }

  /**
   * Opens the store of a person whose keys are known, making it the first time.
   * @param {string} staff_id
   * @param {import("./vault.js").Keys} keys
   */
  static async open(staff_id, keys) {
    const person = new Person(await openPerson(staff_id), keys, staff_id);
    await within(person.db, ["meta"], "readwrite", async (tx) => {
      const meta = tx.objectStore("meta");
      if (!await result(meta.get("sync"))) {
        meta.put(fresh(), "sync");
        person.began = true;
      }
    });
    await person.reload(true);
    return person;
  }

  /**
   * One transaction of this store, which is opened again where the browser closed it by itself.
   * @template T
   * @param {string[]} stores
   * @param {"readonly" | "readwrite"} mode
   * @param {(tx: IDBTransaction) => Promise<T> | T} body
   * @returns {Promise<T>}
   */
  #in(stores, mode, body) {
    const again = async () => {
      this.db = await reopenPerson(this.staff_id);
      return this.db;
    };
    return this.#closed ? within(this.db, stores, mode, body) : withinAgain(this.db, again, stores, mode, body);
  }

  /** What is shown. */
  get view() {
    if (!this.#view) {
      const over = this.ops.filter((op) => !["rejected", "superseded"].includes(this.sync.outcomes[op.op_id]?.outcome));
      const parts = this.#beside.size ? new Map([...this.parts, ...this.#beside]) : this.parts;
      this.#view = new View(parts, over, this.staff_id, this.sync.acked);
    }
    return this.#view;
  }

  /**
   * Shows rows beside those that are kept.
   * @param {import("./rows.js").Parts} parts
   */
  beside(parts) {
    this.#beside = parts;
    this.#view = null;
  }

  /** Ops not acknowledged, in order. */
  get unsent() {
    return this.ops.filter((op) => op.n > this.sync.acked);
  }

  /** What is to be sent. What the lead was handed of a revoked tablet is not: it is theirs to enter or to discard. */
  get due() {
    return this.unsent.filter((op) => op.n > (this.sync.handed ?? 0));
  }

  /**
   * Brings what other tabs wrote; rows, which are most of it, only where they changed.
   * @param {boolean} [all]  rows too, even if none changed
   */
  async reload(all) {
    const before = this.sync;
    const found = await this.#in(["meta", "boxes", "ops", "aside"], "readonly", async (tx) => {
      const sync = /** @type {SyncState} */ (await result(tx.objectStore("meta").get("sync")));
      const anew = all || before.generation !== sync.generation;
      const boxes = tx.objectStore("boxes");
      const [rows, ops, aside] = await Promise.all([
        anew ? Promise.all([result(boxes.getAllKeys(PREFIX("rows"))), result(boxes.getAll(PREFIX("rows")))]) : null,
        result(tx.objectStore("ops").getAll(IDBKeyRange.lowerBound(sync.covered, true))),
        result(tx.objectStore("aside").getAll()),
      ]);
      return { sync, rows, ops, aside };
    });
    const known = new Map(this.ops.map((op) => [op.op_id, op]));
    const ops = await Promise.all(found.ops.map(async (one) =>
      ({ ...(known.get(one.op_id) || { ...await unseal(this.keys, one.letter), op_id: one.op_id, at: one.at }), n: one.n })));
    const aside = await Promise.all(found.aside.map((one) => unseal(this.keys, one.letter)));
    if (found.rows) {
      const [keys, boxes] = found.rows;
      const parts = await Promise.all(boxes.map((box) => decrypt(this.keys, box)));
      this.parts = new Map(keys.map((key, at) => [String(key).slice("rows ".length), new Map(parts[at])]));
    }
    this.sync = found.sync;
    this.ops = ops;
    this.aside = aside;
    this.#view = null;
  }

  /**
   * Writes down what was done. On disk when it resolves.
   * @param {string} type
   * @param {any} set
   * @param {string | null} base_v
   * @param {string | null} base_op
   * @param {import("./app.js").Line} [line]
   */
  async append(type, set, base_v, base_op, line) {
    const makes = type === "lesson.record" ? await recordId(set.group_id, set.on, set.slot ?? 1) : null;
    const op = { op_id: uuid(), type, base_v, base_op, makes, at: clock.instant(),
      tz: Intl.DateTimeFormat().resolvedOptions().timeZone, set, line };
    const { op_id, at, ...inside } = op;
    const letter = await seal(this.keys.open, inside);
    const n = await this.#in(["meta", "ops"], "readwrite", async (tx) => {
      const sync = await this.#state(tx);
      tx.objectStore("ops").put({ n: sync.next, op_id, at, letter });
      tx.objectStore("meta").put({ ...sync, next: sync.next + 1 }, "sync");
      return sync.next;
    });
    const done = { ...op, n };
    this.sync = { ...this.sync, next: n + 1 };
    this.ops = [...this.ops, done].sort((one, other) => one.n - other.n);
    this.#view = null;
    return done;
  }

  /**
   * Changes where this store is with the server, and nothing else.
   * @param {Partial<SyncState>} more
   */
  async note(more) {
    const noted = await this.#in(["meta"], "readwrite", async (tx) => {
      const sync = { ...await this.#state(tx), ...more };
      tx.objectStore("meta").put(sync, "sync");
      return sync;
    });
    // Of which pull the rows here are: another tab may have brought more, and they are still to be read.
    this.sync = { ...noted, generation: this.sync.generation };
    this.#view = null;
  }

  /**
   * Takes the server's outcomes of ops. What it refused is set aside with the reason, in the same transaction.
   * @param {{n: number, op_id: string, outcome: string, v: string | null, code?: string, field?: string, detail?: string,
   *   current?: any}[]} outcomes
   */
  async acknowledge(outcomes) {
    const letters = await Promise.all(outcomes.map(async (one) => {
      const op = ["rejected", "superseded"].includes(one.outcome) && this.ops.find((op) => op.op_id === one.op_id);
      return op && { op_id: op.op_id, letter: await seal(this.keys.open, { ...op, ...one, v: undefined }) };
    }));
    await this.#in(["meta", "aside"], "readwrite", async (tx) => {
      const sync = await this.#state(tx);
      for (const letter of letters) {
        if (letter) {
          tx.objectStore("aside").put(letter);
        }
      }
      const more = Object.fromEntries(outcomes.map((one) => [one.op_id, { outcome: one.outcome, v: one.v ?? null }]));
      const acked = Math.max(sync.acked, ...outcomes.map((one) => one.n));
      tx.objectStore("meta").put({ ...sync, acked, outcomes: { ...sync.outcomes, ...more } }, "sync");
    });
    await this.reload();
  }

  /**
   * Takes a page: rows, cursors and the removal of ops in one transaction.
   * @param {{epoch: string, drop: string[], reset: string[], rows: import("./rows.js").PulledRow[],
   *   cursors: Record<string, string>, more: boolean, last_n: number, safe_n: number}} page
   */
  async take(page) {
    const other = page.epoch !== this.sync.epoch;
    const gone = other ? [...this.parts.keys()].map((key) => key.split(" ")[0]) : [...page.drop, ...page.reset];
    const { parts, touched } = applied(this.parts, { rows: page.rows, gone });
    const boxes = await Promise.all([...touched].map(async (key) => {
      const part = parts.get(key);
      return { key: `rows ${key}`, box: part?.size ? await encrypt(this.keys, [...part]) : null };
    }));
    this.sync = await this.#in(["meta", "boxes", "ops"], "readwrite", async (tx) => {
      const before = await this.#state(tx);
      for (const { key, box } of boxes) {
        box ? tx.objectStore("boxes").put(box, key) : tx.objectStore("boxes").delete(key);
      }
      await forgetKept(tx, other ? [] : page.drop);
      const ops = tx.objectStore("ops");
      const [first] = page.epoch === before.epoch ? [] : await result(ops.getAllKeys());
      const lost = lostBefore(page, Number(first ?? 1));
      if (lost > 0) {
        const all = await result(ops.getAll());
        ops.clear();
        numbered(all, 1).forEach((op) => ops.put(op));
      }
      const sync = { ...after(before, page, gone, lost), generation: before.generation + (touched.size ? 1 : 0) };
      tx.objectStore("meta").put(sync, "sync");
      const covered = await result(ops.getAll(IDBKeyRange.upperBound(sync.covered)));
      covered.filter((op) => mayGo(op, sync)).forEach((op) => ops.delete(op.n));
      return sync;
    });
    this.parts = new Map([...parts].filter(([, part]) => part.size));
    this.ops = this.ops.filter((op) => op.n > this.sync.covered);
    this.#view = null;
    if (other) {
      // Ops that were covered stand above the rows again.
      await this.reload();
    }
  }

  /**
   * Begins anew as another store at the server, with what was not acknowledged, under new numbers. What was acknowledged and
   * is in no backup yet has numbers below them, and is sent only where the server turns out to have lost it.
   */
  async remint() {
    await this.#in(["meta", "ops", "boxes"], "readwrite", async (tx) => {
      const before = await this.#state(tx);
      const all = await result(tx.objectStore("ops").getAll());
      const taken = all.filter((op) => op.n <= before.acked && !mayGo(op, before));
      const unsent = all.filter((op) => op.n > before.acked);
      tx.objectStore("ops").clear();
      numbered([...taken, ...unsent], 1 - taken.length).forEach((op) => tx.objectStore("ops").put(op));
      tx.objectStore("boxes").delete(PREFIX("rows"));
      // What stood on an acknowledged op still does: outcomes stay. What the lead was handed is theirs under any number,
      // as long as the tablet is cut off: a server that takes its pushes asks for all of it (`#backTo` in sync.js).
      const handed = unsent.filter((op) => op.n <= (before.handed ?? 0)).length;
      tx.objectStore("meta").put({ ...fresh(), epoch: before.epoch, next: unsent.length + 1, generation: before.generation + 1,
        outcomes: before.outcomes, handed }, "sync");
    });
    await this.reload(true);
  }

  /**
   * Takes what waits out of what is sent, knowingly: it is kept among what was not taken, until it was read. Everything else
   * stays: what the server took is here until a backup of it has that. The numbers that are free again go to what is done
   * next; where the server had taken one after all and its answer was lost, it says so, and this store begins anew.
   * @param {PendingOp[]} given  what waits, as it was shown
   * @throws {Error} with a sentence to show, and nothing done, where something else waits by now
   */
  async setAside(given) {
    const letters = await Promise.all(given.map(async (op) =>
      ({ op_id: op.op_id, letter: await seal(this.keys.open, { ...op, outcome: "rejected", code: "set_aside" }) })));
    const same = await this.#in(["meta", "ops", "aside"], "readwrite", async (tx) => {
      const before = await this.#state(tx);
      const kept = Math.max(before.acked, before.handed ?? 0);
      const waiting = IDBKeyRange.lowerBound(kept, true);
      const now = await result(tx.objectStore("ops").getAll(waiting));
      if (!sameOps(given, now)) {
        return false;
      }
      letters.forEach((letter) => tx.objectStore("aside").put(letter));
      tx.objectStore("ops").delete(waiting);
      tx.objectStore("meta").put({ ...before, next: kept + 1 }, "sync");
      return true;
    });
    await this.reload();
    if (!same) {
      throw new Error(NOT_AS_SEEN);
    }
  }

  /**
   * Takes what was refused off the list.
   * @param {string} op_id
   */
  async dismiss(op_id) {
    await this.#in(["aside"], "readwrite", (tx) => void tx.objectStore("aside").delete(op_id));
    this.aside = this.aside.filter((op) => op.op_id !== op_id);
  }

  /**
   * An encrypted value under a name.
   * @param {string} name
   */
  async box(name) {
    const found = await this.#in(["boxes"], "readonly", (tx) => result(tx.objectStore("boxes").get(name)));
    return found ? decrypt(this.keys, found) : undefined;
  }

  /**
   * @param {string} name
   * @param {any} value  null: none any more
   */
  async put(name, value) {
    const box = value === null ? null : await encrypt(this.keys, value);
    await this.#in(["boxes"], "readwrite", (tx) => {
      const boxes = tx.objectStore("boxes");
      box ? boxes.put(box, name) : boxes.delete(name);
    });
  }

  /** @returns {Promise<SyncState>} */
  #state(/** @type {IDBTransaction} */ tx) {
    return result(tx.objectStore("meta").get("sync"));
  }

  /** Forgets the keys and all that was decrypted. */
  close() {
    this.#closed = true;
    this.db.close();
    this.parts = new Map();
    this.#beside = new Map();
    this.ops = [];
    this.aside = [];
    this.#view = null;
  }
}
