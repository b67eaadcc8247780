// Refusals of the server, and its absence, as one kind of error.

/** A request that did not do what was asked. */
export class Problem extends Error {
  /**
   * @param {number} status  HTTP status; 0 where no answer of the server came
   * @param {Partial<Omit<import("../api.d.ts").Schema["ProblemBody"], "code">> & {code?: string, [more: string]: any}} body  problem details (RFC 9457)
   * @param {number} [after]  seconds to wait before the next attempt, if the server said
   */
  constructor(status, body, after) {
    super(body.detail || body.title || "The server did not answer as it should. Try again in a minute.");
    this.name = "Problem";
    this.status = status;
    this.code = body.code || "internal";
    this.detail = this.message;
    this.errors = body.errors || [];
    this.schools = body.schools;
    this.current = body.current;
    this.expected = body.expected;
    this.after = after;
  }

  /** Whether the same request may do what was asked some other time. */
  get passing() {
    return this.status === 0 || this.status === 429 || this.status >= 500;
  }
}

/**
 * No answer of the school's server.
 * @param {string} detail  a sentence to show
 */
export const offline = (detail) => new Problem(0, { code: "offline", detail });
