// What is shown: rows of the server, with the effects of ops that it has not answered for laid over them.

import { effects } from "./overlay.js";
import { ofKind } from "./rows.js";

/** @typedef {import("./app.js").Row} Row */

/** Rows of one state of a person's store; made anew when rows or ops change. */
export class View {
  /**
   * @param {import("./rows.js").Parts} parts
   * @param {import("./person.js").PendingOp[]} ops  those to lay over, in order
   * @param {string} me
   * @param {number} acked  ops up to this one are acknowledged
   */
  constructor(parts, ops, me, acked) {
    this.parts = parts;
    /** @type {Map<string, Map<string, Row>>} */
    this.kinds = new Map();
    for (const op of ops) {
      for (const { kind, id, body } of effects(op, this, me)) {
        const rows = this.of(kind);
        const known = rows.get(id);
        if (body) {
          const waiting = known?.waiting || op.n > acked;
          rows.set(id, { group_ids: [], class_ids: [], ...known, ...body, kind, id, v: known?.v ?? null, waiting });
        } else {
          rows.delete(id);
        }
      }
    }
  }

  /**
   * @param {string} kind
   * @returns {Map<string, Row>}
   */
  of(kind) {
    const rows = this.kinds.get(kind) || ofKind(this.parts, kind);
    this.kinds.set(kind, rows);
    return rows;
  }

  /**
   * @param {string} kind
   * @param {string} id
   */
  get(kind, id) {
    return this.of(kind).get(id);
  }

  /**
   * @param {string} kind
   * @param {Record<string, any>} [where]  fields that must be equal; `group_id` and `class_id` also fit the scopes
   */
  list(kind, where = {}) {
    const fits = (/** @type {Row} */ row) => Object.entries(where).every(([field, value]) =>
      row[field] === value || row[`${field}s`]?.includes?.(value));
    return [...this.of(kind).values()].filter(fits);
  }
}
