// The working set in memory: what the server said, by scope and kind. A record is here as long as any scope has it, so
// the order in which it leaves one and comes into another does not matter.

/**
 * @typedef {{v: string, body: any}} Held
 * @typedef {Map<string, Map<string, Held>>} Parts   by "scope kind", then by id
 * @typedef {{scope: string, kind: string, id: string, v: string, is: "put" | "leave" | "del", body: any}} PulledRow
 */

const keyOf = (/** @type {string} */ scope, /** @type {string} */ kind) => `${scope} ${kind}`;

/** Which of two versions, as text of digits, is later. */
const later = (/** @type {string} */ one, /** @type {string} */ other) =>
  one.length === other.length ? one > other : one.length > other.length;

/**
 * What a page makes of the parts. Parts that stay as they are are the same objects; none is changed.
 * @param {Parts} before
 * @param {{rows: PulledRow[], gone: string[]}} page  `gone`: scopes to forget first
 * @returns {{parts: Parts, touched: Set<string>}} `touched`: keys of parts that are new, other or gone
 */
export const applied = (before, page) => {
  const parts = new Map(before);
  const touched = new Set();
  for (const key of before.keys()) {
    if (page.gone.includes(key.slice(0, key.indexOf(" ")))) {
      parts.delete(key);
      touched.add(key);
    }
  }
  for (const row of page.rows) {
    const key = keyOf(row.scope, row.kind);
    const part = touched.has(key) && parts.get(key) || new Map(parts.get(key));
    touched.add(key);
    parts.set(key, part);
    if (row.is === "put") {
      part.set(row.id, { v: row.v, body: row.body });
    } else {
      part.delete(row.id);
    }
  }
  return { parts, touched };
};

/**
 * One kind out of all scopes, each record once, as the latest version of it says.
 * @param {Parts} parts
 * @param {string} kind
 * @returns {Map<string, import("./app.js").Row>}
 */
export const ofKind = (parts, kind) => {
  const rows = new Map();
  for (const [key, part] of parts) {
    const [scope, name] = key.split(" ");
    if (name !== kind) {
      continue;
    }
    const [sort, owner] = scope.split(":");
    for (const [id, held] of part) {
      const known = rows.get(id);
      const body = known && !later(held.v, known.v) ? known : { kind, ...held.body, id, v: held.v, waiting: false };
      const groups = known?.group_ids || [];
      const classes = known?.class_ids || [];
      rows.set(id, {
        ...body,
        group_ids: sort === "group" ? [...groups, owner] : groups,
        class_ids: sort === "class" ? [...classes, owner] : classes,
      });
    }
  }
  return rows;
};
