// An open store: one person's, with what keeps it in touch with the server and with other tabs.

import * as clock from "./clock.js";
import { CLEARED, SIGN_IN, storeTrouble } from "./db.js";
import { lockWhenIdle } from "./idle.js";
import { Kept } from "./kept.js";
import { listen } from "./live.js";
import { about } from "./overlay.js";
import { pack } from "./parcel.js";
import * as people from "./people.js";
import { NOT_AS_SEEN, Person, sameOps } from "./person.js";
import { Session } from "./session.js";
import { Sync } from "./sync.js";
import { tellTabs } from "./tabs.js";
import { Visits } from "./visits.js";

/** @typedef {NonNullable<import("./app.js").App["me"]>} Me */
/**
 * What is around an open store; `inLine` says what was done, of what is kept here.
 * @typedef {{draw: () => void, lock: () => void, cut: () => Promise<void>, wiped: () => void,
 *   inLine: (op: {type: string, set: any}) => import("./app.js").Line}} Around
 */

/** Roles that work on a tablet. For the others there is nothing to bring, and the server would refuse it. */
const SERVED = ["lead", "teacher", "assistant", "cover", "head", "office"];

export class Open {
  #stop = new AbortController();
  /** @type {string | null} */ #saving = null;
  /** Whether the tablet this store is of was revoked: nothing is kept in it but what waits. */
  cut = false;
  /** What there is to say of a store that the browser threw away. @type {string | null} */
  #cleared = null;

  /**
   * @param {Me} me
   * @param {Person} person
   * @param {Around} around
   */
  constructor(me, person, around) {
    this.me = me;
    this.person = person;
    this.around = around;
    this.session = new Session(person);
    this.answers = new Kept(person, this.session);
    this.visits = new Visits(person, this.session, me.roles);
    this.sync = new Sync(person, this.session, this.answers, {
      changed: () => this.#changed(),
      revoking: () => this.#strip(),
      revoked: (handed) => this.#wipe(handed),
    });
  }

  /**
   * Opens a store whose keys are known.
   * @param {Me} me
   * @param {import("./vault.js").Keys} keys
   * @param {import("./session.js").Granted | null} granted  a sign-in to go on with
   * @param {Around} around
   * @param {boolean} had  whether this person had a store here
   */
  static async with(me, keys, granted, around, had) {
    const open = new Open(me, await Person.open(me.staff_id, keys), around);
    const entry = await people.entry(me.staff_id);
    open.cut = Boolean(entry?.revoked);
    clock.recall(entry);
    if (open.person.began && had) {
      open.#cleared = granted ? CLEARED : `${CLEARED} ${SIGN_IN}`;
    }
    if (granted) {
      await open.session.begin(granted);
    }
    return open;
  }

  /**
   * Goes on with a new sign-in.
   * @param {import("./session.js").Granted} granted
   */
  async renew(granted) {
    await this.session.begin(granted);
    this.#cleared &&= CLEARED;
    this.sync.run();
  }

  /** Begins to sync and to listen. */
  start() {
    const touched = () => tellTabs({ what: "touched", staff_id: this.me.staff_id });
    this.idle = lockWhenIdle(() => this.around.lock(), touched);
    // What waits on a tablet that was cut off is handed over by whoever did it, whatever they are now.
    if (this.cut) {
      this.sync.run();
      return;
    }
    if (!this.me.roles.some((role) => SERVED.includes(role))) {
      return;
    }
    this.sync.run();
    listen(this.session, this.sync, this.#stop.signal);
  }

  /** What stands in the way, in words. */
  get trouble() {
    // That a sign-in has ended, and nothing is lost, is not so where there was none left to end.
    const more = this.session.ended && this.#cleared ? null : this.sync.trouble;
    return this.#saving ?? ([this.#cleared, more].filter(Boolean).join(" ") || null);
  }

  #changed() {
    tellTabs({ what: "changed", staff_id: this.me.staff_id });
    this.around.draw();
    if (this.cut) {
      return;
    }
    this.visits.after().then((more) => more && this.around.draw(), () => undefined);
  }

  /**
   * Another tab of this person did something.
   * @param {"changed" | "touched"} what
   */
  async heard(what) {
    if (what === "touched") {
      return this.idle?.touch();
    }
    await this.person.reload();
    this.around.draw();
  }

  /**
   * Does one thing: on this tablet for good once this resolves.
   * @param {string} type
   * @param {any} set
   * @param {string | null} as_of
   */
  async act(type, set, as_of) {
    const view = this.person.view;
    const subject = about(type, set, view);
    // What was deleted here is not stood on: the same lesson logged again is a new record.
    const gone = type === "lesson.record"
      && !view.list("lesson_record", { group_id: set.group_id, on: set.on, slot: set.slot ?? 1 }).length;
    const before = subject && !gone && this.person.ops.findLast((op) => about(op.type, op.set, view) === subject);
    try {
      const line = this.around.inLine({ type, set });
      const op = await this.person.append(type, set, as_of, before ? before.op_id : null, line);
      this.#saving = null;
      this.#changed();
      this.sync.run();
      return op;
    } catch (error) {
      this.#saving = storeTrouble(error);
      this.around.draw();
      throw new Error(this.#saving);
    }
  }

  /** @param {string} op_id */
  async dismiss(op_id) {
    await this.person.dismiss(op_id);
    this.#changed();
  }

  /** See `app.setAside`: of what is shown now. On a tablet that was cut off there is nothing else: the store goes with it. */
  async setAside() {
    const [given, cut] = [this.person.due, this.cut];
    try {
      // What is being sent, or handed to the lead, by whatever tab, is waited for.
      await navigator.locks.request(`plumbline-sync-${this.me.staff_id}`, () =>
        (cut ? this.#leave(given) : this.person.setAside(given)));
    } finally {
      this.#changed();
    }
    this.sync.run();
  }

  /** Throws a store away that was cut off, and with it what somebody was shown of what waits. */
  async #leave(/** @type {import("./person.js").PendingOp[]} */ given) {
    await this.person.reload();
    if (!sameOps(given, this.person.due)) {
      throw new Error(NOT_AS_SEEN);
    }
    await this.#wipe(this.person.unsent.length - given.length);
  }

  /** See `app.parcel`. */
  parcel() {
    const { staff_id, name, school_name } = this.me;
    const line = (/** @type {import("./app.js").Op} */ op) => ({ ...op.line ?? this.around.inLine(op), at: op.at });
    // What came second to another's is at the server, which shows it with what stands.
    const refused = this.person.aside.filter((op) => op.outcome === "rejected").map((op) => ({ ...line(op), refused: true }));
    const lines = [...refused, ...this.person.due.map(line)];
    return pack({ made_at: clock.instant(), by: { staff_id, name }, school: school_name, lines });
  }

  /**
   * See `app.kept`. Where the server was not reached just now, it is not waited for.
   * @param {string} path
   */
  async keptOr(path) {
    if (this.visits.covers(path)) {
      return this.visits.answer(path);
    }
    if (!this.sync.online) {
      const kept = await this.person.box(`kept ${path}`);
      if (kept) {
        return { ...kept, fresh: false };
      }
    }
    return this.answers.get(path);
  }

  /** The tablet is revoked: what is kept on it goes, in whatever tab it is open; what waits is handed over from here. */
  async #strip() {
    const others = await people.cut(this.me.staff_id);
    const open = this.cut ? others : [...others, this.me.staff_id];
    open.forEach((staff_id) => tellTabs({ what: "lock", staff_id }));
    this.cut = true;
    this.#stop.abort();
    this.person.beside(new Map());
    await this.person.reload(true);
    await this.around.cut();
  }

  /** @param {number} handed  ops that the lead has now */
  async #wipe(handed) {
    this.close();
    await people.leave(this.me.staff_id, handed);
    tellTabs({ what: "lock", staff_id: this.me.staff_id });
    this.around.wiped();
  }

  /** Stops everything and forgets what is in memory. */
  close() {
    this.#stop.abort();
    this.sync.stop();
    this.idle?.stop();
    this.person.close();
  }
}
