// Where a person's store is with the server: what a page makes of that, and which ops need not be kept any more.

import * as clock from "./clock.js";
import { uuid } from "./ids.js";

/**
 * Where a store is with the server. Numbers are those of ops: 1, 2, 3 ... at the server, for good.
 * @typedef {object} SyncState
 * @property {string} replica      id of this store at the server
 * @property {boolean} registered  whether the server knows it
 * @property {string | null} epoch
 * @property {Record<string, string>} cursors  by scope
 * @property {number} next         of the next op
 * @property {number} acked        answered for, one by one
 * @property {number} covered      whose effects are in the rows
 * @property {number} safe         in a verified backup of the server: need not be kept here
 * @property {number} [handed]    handed to the lead, as the tablet is revoked: theirs to enter or discard, and not sent again
 * @property {number} generation   goes up with every change of rows
 * @property {string | null} synced
 * @property {Record<string, {outcome: string, v: string | null}>} outcomes  of the ops acknowledged last, by op_id
 */

/** @returns {SyncState} */
export const fresh = () => ({ replica: uuid(), registered: false, epoch: null, cursors: {}, next: 1, acked: 0, covered: 0, safe: 0,
  generation: 0, synced: null, outcomes: {} });

const DAY = 86_400_000;
/** Acknowledged ops are kept for a server that is restored from a backup; no backup is that old. */
const KEPT_DAYS = 60;
/** Outcomes remembered: more than are ever unsent at once and stand on one another. */
const OUTCOMES = 500;

/**
 * Ops under numbers that follow one another.
 * @template T
 * @param {T[]} ops  in order
 * @param {number} first
 */
export const numbered = (ops, first) => ops.map((op, at) => ({ ...op, n: first + at }));

/**
 * Whether an op that is in the rows need not be kept: a backup has it, or it is older than any. Numbers below 1 are of the
 * store that this one was before: whatever backup has the first op of this one has those too.
 * @param {{n: number, at: string}} op
 * @param {SyncState} sync
 */
export const mayGo = ({ n, at }, { safe }) =>
  (safe > 0 && n <= safe) || at < new Date(clock.now() - KEPT_DAYS * DAY).toISOString();

/**
 * How many ops of the store that this one was before a server that was restored may lack: all that are kept, where it knows
 * nothing of this one either.
 * @param {{last_n: number}} page  of another epoch
 * @param {number} first  number of the first op that is kept
 */
export const lostBefore = ({ last_n }, first) => (last_n === 0 ? Math.max(0, 1 - first) : 0);

/**
 * Where a store is after a page.
 * @param {SyncState} before
 * @param {{epoch: string, cursors: Record<string, string>, more: boolean, last_n: number, safe_n: number}} page
 * @param {string[]} gone  scopes that are forgotten
 * @param {number} lost    ops by which all numbers have gone up, as they are sent anew with the others
 * @returns {SyncState}
 */
export const after = (before, page, gone, lost) => {
  const other = page.epoch !== before.epoch;
  const kept = Object.entries(other ? {} : before.cursors).filter(([scope]) => !gone.includes(scope));
  const sync = { ...before, epoch: page.epoch, cursors: { ...Object.fromEntries(kept), ...page.cursors } };
  if (other) {
    // The server was restored: what it no longer has is sent again.
    sync.acked = Math.min(before.acked, page.last_n);
    sync.covered = Math.min(before.covered, page.last_n);
    sync.next += lost;
    sync.handed = before.handed ? before.handed + lost : before.handed;
  }
  if (!page.more) {
    sync.covered = Math.min(page.last_n, sync.acked);
    sync.safe = page.safe_n;
    sync.synced = clock.instant();
    // Of ops that are covered too: one that another tab is writing down may stand on them. Ids sort by time.
    const known = Object.entries(sync.outcomes).sort(([one], [other]) => (one < other ? 1 : -1));
    sync.outcomes = Object.fromEntries(known.slice(0, OUTCOMES));
  }
  return sync;
};
