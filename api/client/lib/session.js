// The sign-in of one person. The access token is in memory alone. The refresh token is in the person's store, encrypted
// under the PIN, and not in the cookie that browsers may have: a tablet is shared, one cookie would be the last person's
// for whoever opens the page next, and each person needs a sign-in of their own.

import { Problem } from "./problem.js";
import { events, send } from "./http.js";

/** Seconds before its end at which an access token is renewed. */
const EARLY = 30;

/** @typedef {import("../api.d.ts").Schema["SessionBody"]} Granted */

/**
 * Signs in with a password.
 * @param {string} email
 * @param {string} password
 * @param {string} [school_id]
 * @returns {Promise<Granted>}
 */
export const grant = async (email, password, school_id) =>
  (await send("/sessions", { method: "POST", body: { email, password, school_id } })).body;

export class Session {
  /** @type {{token: string, until: number} | null} */ #access = null;
  /** @type {Promise<string> | null} */ #renewing = null;
  /** The refresh token that was refused for good, and how: it is not asked for again. @type {{refresh: string, why: Problem} | null} */ #over = null;
  /** Whether the server has ended it: the password is needed. */
  ended = false;
  /** Called when any answer says that this tablet is revoked: what follows is one thing, whatever was asked. */
  revoked = () => {};

  /** @param {import("./person.js").Person} person */
  constructor(person) {
    this.person = person;
  }

  /**
   * Goes on with a new sign-in: the server has yet to hear on which tablet it is.
   * @param {Granted} granted
   */
  async begin(granted) {
    await this.person.note({ registered: false });
    await this.#take(granted);
  }

  async #take(/** @type {Granted} */ granted) {
    await this.person.put("session", { refresh: granted.refresh_token });
    this.#hold(granted);
  }

  #hold(/** @type {Granted} */ granted) {
    this.#access = { token: granted.access_token, until: Date.now() + (granted.expires_in - EARLY) * 1000 };
    this.ended = false;
    this.#over = null;
  }

  /**
   * An access token that is good for a while.
   * @throws {Problem}
   */
  async token() {
    if (this.#access && Date.now() < this.#access.until) {
      return this.#access.token;
    }
    this.#renewing ??= this.#renew().finally(() => {
      this.#renewing = null;
    });
    return this.#renewing;
  }

  /** Trades the refresh token, one tab at a time: each serves once. A lost answer may be asked for again. */
  async #renew() {
    return navigator.locks.request(`plumbline-session-${this.person.staff_id}`, async () => {
      const kept = await this.person.box("session");
      if (!kept) {
        this.ended = true;
        throw new Problem(401, { code: "bad_refresh_token", detail: "Sign in again with your password." });
      }
      // Somebody may have signed in meanwhile, in another tab: then there is another one.
      const over = this.#over;
      if (over && over.refresh === kept.refresh) {
        throw over.why;
      }
      try {
        const { body } = await send("/sessions/refresh", { method: "POST", body: { refresh_token: kept.refresh } });
        await this.#take(body);
        return body.access_token;
      } catch (error) {
        this.ended = error instanceof Problem && error.status === 401;
        if (error instanceof Problem && this.ended) {
          this.#over = { refresh: kept.refresh, why: error };
        }
        throw error;
      }
    });
  }

  /**
   * A request as this person. A token that is refused is renewed once.
   * @param {string} path
   * @param {import("./http.js").Request} [request]
   */
  async send(path, request = {}) {
    return this.#as((token) => send(path, { ...request, token }));
  }

  /**
   * A stream of events as this person.
   * @param {string} path
   * @param {AbortSignal} signal
   */
  async stream(path, signal) {
    return this.#as((token) => events(path, token, signal));
  }

  /**
   * @template T
   * @param {(token: string) => Promise<T>} ask
   * @returns {Promise<T>}
   */
  async #as(ask) {
    try {
      return await ask(await this.token());
    } catch (error) {
      if (error instanceof Problem && error.code === "tablet_revoked") {
        this.revoked();
      }
      if (!(error instanceof Problem) || error.status !== 401 || this.ended) {
        throw error;
      }
      this.#access = null;
      return ask(await this.token());
    }
  }

  /** Ends it at the server, if that can be reached. */
  async end() {
    try {
      await this.send("/sessions/current", { method: "DELETE" });
    } catch {
      // The store with the refresh token is wiped all the same.
    }
  }
}
