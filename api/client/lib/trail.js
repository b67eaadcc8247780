// Where one came from: the screens that lead to the one that is shown, each once. It is in memory alone, and of one person.

/** @typedef {{path: string, title: string}} Place */

/** @type {Place[]} */
let trail = [];

/**
 * A screen is shown. One that was on the way here is gone back to: what came after it is not on the way any more.
 * @param {string} path
 * @param {string} title
 */
export const to = (path, title) => {
  const at = trail.findIndex((one) => one.path === path);
  trail = [...(at < 0 ? trail : trail.slice(0, at)), { path, title }];
};

/**
 * The screen before the one that is shown.
 * @returns {Place | null} null where it was opened by its address
 */
export const from = () => trail.at(-2) ?? null;

/** Somebody else begins anew. */
export const forget = () => {
  trail = [];
};
