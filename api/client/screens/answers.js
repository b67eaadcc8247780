// What the answers of a child in a round come to: which stand, and what is still to be asked. As the server sees it, so
// that a tablet without a connection asks the same item next.

/** @typedef {import("../lib/app.js").Row} Row */

/**
 * The answers that stand, each as it was corrected last; what was taken back is left out. In whatever order they came: a
 * correction made on a tablet whose clock is behind has an id before that of what it corrects.
 * @param {Row[]} responses
 * @returns {Row[]}
 */
export function standing(responses) {
  const corrected = new Set(responses.map((one) => one.corrects));
  const takenBack = (/** @type {Row} */ one) => one.corrects && one.outcome === "not_offered";
  return responses.filter((one) => !corrected.has(one.id) && !takenBack(one));
}

/**
 * The items nothing stands of: neither answered in this round, nor left out in this sitting.
 * @param {Row} check
 * @param {Row[]} answers  those that stand
 * @param {string | undefined} sitting_id
 * @returns {any[]}
 */
export function open(check, answers, sitting_id) {
  const done = answers.filter((one) => one.outcome !== "not_offered" || one.sitting_id === sitting_id);
  const items = new Set(done.map((one) => one.item_id));
  return check.items.filter((/** @type {any} */ item) => !items.has(item.id));
}

/**
 * The answer that was given last in a sitting, of those that stand: what an undo takes back, and names. Ids of version 7
 * sort by when they were made.
 * @param {Row[]} answers  those that stand
 * @param {string | undefined} sitting_id
 * @returns {Row | undefined}
 */
export const last = (answers, sitting_id) =>
  answers
    .filter((one) => one.sitting_id === sitting_id && !one.corrects)
    .sort((a, b) => (a.id < b.id ? -1 : 1))
    .pop();
