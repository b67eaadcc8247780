// Groups that are not one's own, for who may see all of a school. They are asked for when they are looked at, and are in
// memory alone: a tablet keeps nobody but its user's own pupils.

import * as clock from "./clock.js";
import { Problem } from "./problem.js";

/** @typedef {import("./rows.js").Parts} Parts */

/** Milliseconds for which an answer is good without asking again: screens are drawn anew at every change. */
const GOOD = 30_000;
/** A version before all others: what is kept of the same record counts. */
const NONE = "0";

export class Visits {
  /** What is shown of each. @type {Map<string, Parts>} */ #groups = new Map();
  /** With when each was asked for, by the tablet's clock. @type {Map<string, {body: any, at: string, asked: number}>} */ #answers = new Map();
  #covered = 0;

  /**
   * @param {import("./person.js").Person} person
   * @param {import("./session.js").Session} session
   * @param {string[]} roles  of the person
   */
  constructor(person, session, roles) {
    this.person = person;
    this.session = session;
    this.all = roles.includes("lead") || roles.includes("head");
  }

  /** @param {string} group_id */
  #kept(group_id) {
    return this.person.parts.has(`group:${group_id} group`);
  }

  /**
   * Brings a group that is not kept here, where that is allowed; without a connection it stays unknown.
   * @param {string | undefined} group_id
   */
  async to(group_id) {
    if (!group_id || !this.all || this.#kept(group_id)) {
      return;
    }
    try {
      this.#groups.set(group_id, await this.#bring(group_id));
      this.#show();
    } catch (error) {
      if (!(error instanceof Problem)) {
        throw error;
      }
    }
  }

  /** @param {string} path */
  async #get(path) {
    return (await this.session.send(path)).body;
  }

  /**
   * @param {string} id
   * @returns {Promise<Parts>}
   */
  async #bring(id) {
    this.#covered = this.person.sync.covered;
    const [group, lessons, catchUps] = await Promise.all(
      ["", "/lesson-records?limit=500", "/catch-up-records?limit=500"].map((more) => this.#get(`/groups/${id}${more}`)));
    const part = (/** @type {any[]} */ bodies) =>
      new Map(bodies.map((body) => [body.id ?? body.pupil_id, { v: NONE, body }]));
    const members = group.members.map((/** @type {any} */ { id: pupil_id, from, until, weekdays }) =>
      ({ pupil_id, from, until, weekdays }));
    const pupils = group.members.map((/** @type {any} */ { id: one, name, apart }) =>
      ({ id: one, name, label: apart, class_ids: [], year_group: null }));
    return new Map([
      [`group:${id} group`, part([group])],
      [`group:${id} group_member`, part(members)],
      [`group:${id} pupil`, part(pupils)],
      [`group:${id} lesson_record`, part(lessons.items)],
      [`group:${id} catch_up`, part(catchUps.items)],
    ]);
  }

  #show() {
    this.person.beside(new Map([...this.#groups].filter(([id]) => !this.#kept(id)).flatMap(([, parts]) => [...parts])));
  }

  /**
   * Brings them again once the server has taken what was done here: it comes with no pull.
   * @returns {Promise<boolean>} whether there is something to draw
   */
  async after() {
    if (!this.#groups.size || this.#covered === this.person.sync.covered) {
      return false;
    }
    this.#answers.clear();
    await Promise.all([...this.#groups.keys()].map((id) => this.to(id)));
    return true;
  }

  /**
   * Whether a path is about a group that is only looked at, or about a round, which is the whole school's for who sees all.
   * @param {string} path
   */
  covers(path) {
    const [, sort, id] = path.split("/");
    if (sort === "check-rounds") {
      return this.all;
    }
    return sort === "groups" && id !== undefined && this.#groups.has(id) && !this.#kept(id);
  }

  /**
   * An answer about such, kept by nobody.
   * @param {string} path
   */
  async answer(path) {
    const had = this.#answers.get(path);
    if (had && Date.now() - had.asked < GOOD) {
      return { ...had, fresh: true };
    }
    const answer = { body: await this.#get(path), at: clock.instant(), asked: Date.now() };
    this.#answers.set(path, answer);
    return { ...answer, fresh: true };
  }

  /**
   * Whether a record is kept, with all that belongs to it, and not only looked at.
   * @param {string} kind
   * @param {string} id
   */
  holds(kind, id) {
    const row = this.person.view.get(kind, id);
    return row !== undefined && row.v !== NONE;
  }

  /**
   * A lesson record with the version it has at the server, which lists do not tell.
   * @param {import("./app.js").Row} row
   */
  async latest(row) {
    if (row.v !== NONE) {
      return row;
    }
    const { etag, body } = await this.session.send(`/lesson-records/${row.id}`);
    return { ...row, ...body, v: /\d+/.exec(etag || "")?.[0] ?? null };
  }
}
