// Answers of the API that are computed and yet needed without a network: the next lesson, what to catch up on, one's
// checks. Kept as they were last answered, encrypted with the rest.

import * as clock from "./clock.js";
import { Problem } from "./problem.js";

/** @typedef {{body: any, at: string}} Answer */

/** Milliseconds for which an answer is good without asking again: screens are drawn anew at every change. */
const GOOD = 30_000;

export class Kept {
  /** When each was asked for last. @type {Map<string, number>} */
  #asked = new Map();

  /**
   * @param {import("./person.js").Person} person
   * @param {import("./session.js").Session} session
   */
  constructor(person, session) {
    this.person = person;
    this.session = session;
  }

  /**
   * As it is now, else as it was kept.
   * @param {string} path
   * @returns {Promise<Answer & {fresh: boolean}>}
   * @throws {Problem} "offline" if it was never had; every refusal of the server
   */
  async get(path) {
    if (Date.now() - (this.#asked.get(path) ?? 0) < GOOD) {
      return { ...await this.person.box(`kept ${path}`), fresh: true };
    }
    try {
      return { ...await this.fetch(path), fresh: true };
    } catch (error) {
      const passing = error instanceof Problem && (error.passing || error.status === 401);
      const kept = passing && await this.person.box(`kept ${path}`);
      if (!kept) {
        throw error;
      }
      return { ...kept, fresh: false };
    }
  }

  /**
   * Asks the server and keeps the answer.
   * @param {string} path
   * @returns {Promise<Answer>}
   */
  async fetch(path) {
    const { body } = await this.session.send(path, { seconds: 6 });
    const answer = { body, at: clock.instant() };
    await this.person.put(`kept ${path}`, answer);
    this.#asked.set(path, Date.now());
    return answer;
  }

  /** Asks anew for what a carpet needs of each group that is held. What is refused is left out. */
  async renew() {
    const groups = this.person.view.list("group").map((group) => group.id);
    const paths = groups.flatMap((id) => [`/groups/${id}/next-lesson`, `/groups/${id}/catch-up`]);
    for (const path of [...paths, "/my-checks"]) {
      try {
        await this.fetch(path);
      } catch (error) {
        if (!(error instanceof Problem) || error.passing || error.status === 401) {
          throw error;
        }
      }
    }
  }
}
