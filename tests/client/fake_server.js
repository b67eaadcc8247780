// The server's side of the sync as README, "Sync" has it, in memory and behind a `fetch` that fails when told to. And what
// else a page has around it: locks, and timers that only say how long was to be waited.

const json = (status, body, headers = {}) =>
  new Response(JSON.stringify(body), { status, headers: { "Content-Type": "application/json", ...headers } });

/** A refusal as the server makes it. */
export const problem = (status, code, more = {}, headers = {}) =>
  json(status, { code, title: code, status, ...more }, { "Content-Type": "application/problem+json", ...headers });

/** The sign-in page of a network. */
export const portal = () => new Response("<p>Welcome", { status: 200, headers: { "Content-Type": "text/html" } });

export class FakeServer {
  epoch = "one";
  /** By id: {last, outcomes}. */
  replicas = new Map();
  /** What was done, in order. */
  log = [];
  /** What was asked, as [path, body]. */
  asked = [];
  /** Instead of an answer, once each: [path, what]. */
  instead = [];
  /** What paths answer whatever is asked, and however often. @type {Record<string, (said: any) => Response | undefined>} */
  always = {};
  /** Outcome of an op, other than applied. */
  decide = () => undefined;
  /** Rows of the next pulls, a list each. */
  pages = [];
  /** Of every answer. @type {Record<string, string>} */
  headers = {};

  /**
   * What becomes of the next request of this path. "cut": it does not arrive. "lost": it is done, and the answer never
   * comes. A function gives the answer, or nothing where there is the usual one after it.
   */
  next(path, what) {
    this.instead.push([path, what]);
  }

  pushes = () => this.asked.filter(([path]) => path === "/sync/push").map(([, body]) => body);

  fetch = async (url, { body }) => {
    const path = url.slice("/api/v1".length);
    const said = body ? JSON.parse(body) : null;
    this.asked.push([path, said]);
    const always = this.always[path]?.(said);
    if (always) {
      return always;
    }
    const at = this.instead.findIndex(([one]) => one === path);
    const what = at < 0 ? undefined : this.instead.splice(at, 1)[0][1];
    if (what === "cut") {
      throw new TypeError("cut");
    }
    const given = typeof what === "function" ? await what(said) : undefined;
    if (given) {
      return given;
    }
    const answer = this.#answer(path, said);
    if (what === "lost") {
      throw new TypeError("lost");
    }
    Object.entries(this.headers).forEach(([name, value]) => answer.headers.set(name, value));
    return answer;
  };

  #answer(path, said) {
    switch (path) {
      case "/tablets":
        return json(201, {});
      case "/sync/replicas":
        // One that is known is answered as it is.
        this.replicas.set(said.id, this.replicas.get(said.id) ?? { last: 0, outcomes: new Map() });
        return json(201, { id: said.id, epoch: this.epoch });
      case "/sync/push":
        return this.#push(said);
      case "/sync/pull":
        return this.#pull(said);
      case "/me":
        return json(200, { today: (this.headers.Date ? new Date(this.headers.Date) : new Date()).toISOString().slice(0, 10), name: "Ada", school_name: "S", roles_today: [] });
      default:
        return problem(404, "not_found");
    }
  }

  #push({ replica, epoch, ops }) {
    const known = this.replicas.get(replica);
    if (!known) {
      return problem(404, "not_found");
    }
    if (epoch !== this.epoch) {
      return problem(409, "epoch_changed");
    }
    if (ops[0].n > known.last + 1) {
      return problem(409, "op_gap", { expected: known.last + 1 });
    }
    const before = ops.map((op) => known.outcomes.get(op.n));
    if (ops.some((op, at) => before[at] && before[at].op_id !== op.op_id)) {
      return problem(422, "op_reused");
    }
    const outcomes = ops.map((op, at) => before[at] ?? this.#do(known, op));
    return json(200, { outcomes, last_n: known.last, epoch: this.epoch });
  }

  #do(known, op) {
    const outcome = { n: op.n, op_id: op.op_id, outcome: "applied", v: String(this.log.length + 1), ...this.decide(op) };
    known.last = op.n;
    known.outcomes.set(op.n, outcome);
    this.log.push(op);
    return outcome;
  }

  #pull({ replica }) {
    const known = this.replicas.get(replica);
    if (!known) {
      return problem(404, "not_found");
    }
    const rows = this.pages.shift() ?? [];
    return json(200, { epoch: this.epoch, drop: [], reset: [], rows, cursors: { "group:a": `c${this.log.length}` },
      more: this.pages.length > 0, last_n: known.last, safe_n: 0 });
  }
}

/** Milliseconds that were to be waited, in order. Nothing is. */
export const waits = [];

const held = new Map();
const locks = {
  request(name, work) {
    const before = held.get(name) ?? Promise.resolve();
    const mine = before.catch(() => undefined).then(() => work());
    held.set(name, mine);
    return mine;
  },
};

globalThis.setTimeout = (_, ms) => waits.push(ms);
Object.defineProperty(globalThis, "navigator", { value: { onLine: true, locks }, configurable: true });
