// Sends what was done and brings what is new, for one person, one tab at a time. It runs when something was done, when the
// server says that something changed (live.js), when the network comes back, and every minute where nothing tells it.

import { AWAY } from "./http.js";
import { Problem } from "./problem.js";
import { storeTrouble } from "./db.js";
import { uuid } from "./ids.js";
import * as clock from "./clock.js";
import { remember } from "./people.js";
import { register } from "./replica.js";
import { batch, handOver } from "./outbox.js";
import { look } from "./update.js";

const SCHEMA = 1;
const POLL = 60_000;
const HOUR = 3_600_000;
/** Milliseconds after which it is tried again, by how many attempts in a row have failed. */
const BACK_OFF = [2_000, 5_000, 10_000, 20_000, 40_000, 60_000];
/** Ops in one push, well below the server's limit: a slow line answers for some sooner. */
const MOST = 100;

/** Pushes refused as a whole in one run until it is given up for now. */
const MENDS = 8;

/** While what waits on a tablet that was cut off cannot be handed over. */
const CUT_OFF = "What waits goes to the phonics lead as soon as the server takes it. It is tried again by itself: leave the "
  + "tablet on and connected until it says so.";
const NO_ROOM = "The server keeps no more of what comes from this tablet until the phonics lead has looked at what it keeps "
  + "already: ask them to make room. It is tried again by itself while this is open, and whenever you open it with your PIN.";

/** While it refuses what waits as a whole. */
const STRANDED = "The school’s server was reached and takes nothing of what waits here. It stays on this tablet until you "
  + "say what is to become of it.";

/** The server has what was sent: the lead can look at it. */
const isHeld = (/** @type {unknown} */ error) => error instanceof Problem && error.code === "tablet_revoked";
/** The tablet is cut off, whether the server has what was sent or not. */
const isRevoked = (/** @type {unknown} */ error) =>
  isHeld(error) || error instanceof Problem && error.code === "holds_no_more";

/** No other attempt is answered otherwise, unless something is changed at the server. */
const isFinal = (/** @type {unknown} */ error) =>
  error instanceof Problem && !error.passing && ![401, 426].includes(error.status) && !isRevoked(error);

const jittered = (/** @type {number} */ ms) => ms * (0.8 + Math.random() * 0.4);

export class Sync {
  online = navigator.onLine;
  /** @type {string | null} */ trouble = null;
  #told = false;
  #failed = 0;
  #most = MOST;
  /** @type {ReturnType<typeof setTimeout> | undefined} */ #timer;
  /** @type {Promise<void> | null} */ #running = null;
  #mended = 0;
  #again = false;
  #stopped = false;
  #asked = -HOUR;
  /** Whether the server was reached and takes nothing of what waits, and no other attempt changes that. */
  stranded = false;

  /**
   * @param {import("./person.js").Person} person
   * @param {import("./session.js").Session} session
   * @param {import("./kept.js").Kept} kept
   * @param {{changed: () => void, revoking: () => Promise<void>, revoked: (handed: number) => void}} tell
   *   `changed`: something to draw, and to tell other tabs; `revoking`: all that is kept here is to go but what waits; `revoked`: what
   *   waited is handed over, so many ops, and this store is to go too
   */
  constructor(person, session, kept, tell) {
    this.person = person;
    this.session = session;
    this.kept = kept;
    this.tell = tell;
    session.revoked = () => void this.run();
  }

  /** Sends and brings now; what is asked for while it runs is one more run. Resolves when done or given up. */
  run() {
    if (this.#stopped) {
      return Promise.resolve();
    }
    if (this.#running) {
      this.#again = true;
      return this.#running;
    }
    clearTimeout(this.#timer);
    this.#running = this.#cycles().finally(() => {
      this.#running = null;
    });
    return this.#running;
  }

  /** Whether something else says when to pull. Where nothing does any more, it is looked every minute again. */
  get told() {
    return this.#told;
  }

  set told(on) {
    const lost = this.#told && !on;
    this.#told = on;
    if (lost && this.#failed === 0 && !this.#running && !this.#stopped) {
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => this.run(), jittered(POLL));
    }
  }

  /** Never again. */
  stop() {
    this.#stopped = true;
    clearTimeout(this.#timer);
  }

  async #cycles() {
    do {
      this.#again = false;
      await this.#attempt();
    } while (this.#again && !this.#stopped && this.#failed === 0);
  }

  async #attempt() {
    /** @type {number | null} */
    let wait = null;
    try {
      const brought = await navigator.locks.request(`plumbline-sync-${this.person.staff_id}`, () => this.#cycle());
      this.#failed = 0;
      this.online = true;
      this.trouble = null;
      this.stranded = false;
      if (brought) {
        this.tell.changed();
        await this.kept.renew();
      }
    } catch (error) {
      if (this.#stopped) {
        return;
      }
      wait = this.#explain(isRevoked(error) ? await this.#leave(error) : error);
    }
    if (!this.#stopped) {
      this.tell.changed();
    }
    if (!this.#stopped) {
      this.#timer = setTimeout(() => this.run(), jittered(wait ?? (this.#told ? 10 * POLL : POLL)));
    }
  }

  /**
   * Puts what went wrong into words.
   * @param {unknown} error
   * @returns {number} milliseconds until the next attempt
   */
  #explain(error) {
    const back = BACK_OFF[Math.min(this.#failed, BACK_OFF.length - 1)];
    this.#failed += 1;
    if (!(error instanceof Problem)) {
      this.trouble = storeTrouble(error);
      return POLL;
    }
    this.online = error.status !== 0;
    // On a bad network that comes and goes: a mark says it, and nothing on the screen moves under a finger.
    this.trouble = error.detail === AWAY ? null : error.detail;
    if (error.status === 426) {
      look();
    }
    // While it is not reached, what it said last of what waits holds.
    this.stranded = error.passing ? this.stranded : isFinal(error) && this.person.due.length > 0;
    if (this.session.ended) {
      this.trouble = "Your sign-in has ended. Sign in again to send; nothing is lost.";
    } else if (this.stranded && !error.passing) {
      this.trouble = `${STRANDED} It says: ${error.detail}`;
    }
    return error.after ? error.after * 1000 : back;
  }

  /** @returns {Promise<boolean>} whether rows came */
  async #cycle() {
    await this.person.reload();
    await this.#register();
    const brought = await this.#exchange().catch(async (error) => {
      if (!(error instanceof Problem) || error.status !== 404) {
        throw error;
      }
      // It does not know this store, or does no more, as after its database was replaced: it is told of it once more.
      await this.person.note({ registered: false });
      await this.#register();
      return this.#exchange();
    });
    await this.#who();
    return brought;
  }

  async #register() {
    if (!this.person.sync.registered) {
      await register(this.person, (path, body) => this.#post(path, body));
    }
  }

  /** @returns {Promise<boolean>} whether rows came */
  async #exchange() {
    this.#mended = 0;
    let brought = false;
    for (let settled = false; !settled;) {
      const { epoch } = this.person.sync;
      settled = await this.#push();
      brought = await this.#pull() || brought;
      // A server that was restored lacks some of what it had taken: it is sent again at once.
      const restored = epoch !== this.person.sync.epoch && this.person.unsent.length > 0;
      this.#mended += restored ? 1 : 0;
      settled &&= !restored || this.#mended > MENDS;
    }
    return brought;
  }

  /** Notes that the server was reached and, every hour, who this is there. */
  async #who() {
    const { staff_id } = this.person;
    const { ahead, told } = clock.known();
    await remember({ staff_id, seen: clock.server().toISOString(), ahead, told });
    if (performance.now() - this.#asked < HOUR) {
      return;
    }
    /** @type {{body: import("../api.d.ts").Schema["Me"]}} */
    const { body } = await this.session.send("/me");
    this.#asked = performance.now();
    await remember({ staff_id, ...clock.known(), name: body.name, school_name: body.school_name, roles: body.roles_today });
  }

  async #post(/** @type {string} */ path, /** @type {any} */ body) {
    return (await this.session.send(path, { method: "POST", body, seconds: 30 })).body;
  }

  #batch() {
    return batch(this.person.due, this.person.sync.outcomes, this.#most);
  }

  async #sendOps(/** @type {import("./outbox.js").SentOp[]} */ ops) {
    const { replica, epoch, acked } = this.person.sync;
    try {
      return await this.#post("/sync/push", { replica, epoch: epoch ?? uuid(), schema: SCHEMA, ack_n: acked, ops });
    } catch (error) {
      if (isHeld(error)) {
        await this.person.note({ handed: ops[ops.length - 1].n });
      }
      throw error;
    }
  }

  /**
   * The tablet is revoked: what is kept goes at once, what waits goes to the lead, under the numbers it has; then the rest
   * of this store goes.
   * @param {unknown} revoked
   * @returns {Promise<unknown>} what is wrong now
   */
  async #leave(revoked) {
    try {
      await this.tell.revoking();
      await navigator.locks.request(`plumbline-sync-${this.person.staff_id}`, async () => {
        await this.person.reload();
        await handOver(this.person.due, this.person.sync.outcomes, MOST, (ops) => this.#sendOps(ops));
      });
    } catch (error) {
      if (!(error instanceof Problem) || isFinal(error)) {
        return error;
      }
      return new Problem(error.status, { code: error.code, detail: isRevoked(error) ? NO_ROOM : CUT_OFF }, error.after);
    }
    this.tell.revoked(this.person.unsent.length);
    return revoked;
  }

  /**
   * Sends everything.
   * @returns {Promise<boolean>} false: a pull must come first, then again
   */
  async #push() {
    for (let ops = this.#batch(); ops.length; ops = this.#batch()) {
      try {
        const answer = await this.#sendOps(ops);
        await this.person.acknowledge(answer.outcomes);
        if (this.person.sync.acked < ops[ops.length - 1].n) {
          throw new Problem(500, { detail: "The server did not say what became of everything that was sent to it." });
        }
        this.#most = MOST;
        this.tell.changed();
      } catch (error) {
        if (!(error instanceof Problem) || !await this.#mend(error, ops)) {
          throw error;
        }
        if (error.code === "epoch_changed") {
          return false;
        }
      }
    }
    return true;
  }

  /**
   * Mends what a push was refused for as a whole.
   * @param {Problem} error
   * @param {{n: number}[]} ops
   * @returns {Promise<boolean>} whether to go on
   */
  async #mend(error, ops) {
    this.#mended += 1;
    if (this.#mended > MENDS) {
      return false;
    }
    if (error.code === "epoch_changed") {
      return true;
    }
    if (error.status === 413 && ops.length > 1) {
      this.#most = Math.ceil(ops.length / 2);
      return true;
    }
    const first = ops[0].n;
    if (error.code === "op_gap" && Number(error.expected) < first && await this.#backTo(Number(error.expected))) {
      return true;
    }
    if (error.code === "op_gap" || error.code === "op_reused") {
      // The store was copied, or brought back from a copy: from here on it is another one.
      await this.person.remint();
      await this.#register();
      return true;
    }
    return false;
  }

  /** Sends from an earlier op on, if that is still here: what the lead had been handed too, where the server asks for it. */
  async #backTo(/** @type {number} */ n) {
    const { covered, handed = 0 } = this.person.sync;
    await this.person.note({ acked: n - 1, covered: Math.min(covered, n - 1), handed: Math.min(handed, n - 1) });
    await this.person.reload();
    return this.person.unsent[0]?.n === n;
  }

  /** @returns {Promise<boolean>} whether rows came */
  async #pull() {
    let brought = false;
    for (let more = true; more;) {
      const { replica, epoch, cursors } = this.person.sync;
      const page = await this.#post("/sync/pull", { replica, epoch, schema: SCHEMA, cursors });
      if (!Array.isArray(page.rows) || typeof page.epoch !== "string") {
        throw new Problem(426, { detail: "The school’s server is newer than this page. Close it and open it again." });
      }
      await this.person.take(page);
      brought ||= page.rows.length > 0 || page.drop.length > 0 || page.reset.length > 0;
      more = page.more;
    }
    return brought;
  }
}
