// What is sent of what waits: which ops, and what each says that it stands on. Pure but for the post it is handed.

import { Problem } from "./problem.js";

/**
 * @typedef {import("./person.js").PendingOp} PendingOp
 * @typedef {Record<string, {outcome: string, v: string | null}>} Outcomes
 * @typedef {{n: number, op_id: string, type: string, base_v: string | null, at: string, tz: string, set: any}} SentOp
 */

/**
 * An op as it is sent. It stands on the version that the op before it made; where that one made none, because another
 * change stands, on what its author saw: nothing is changed or deleted unseen.
 * @param {PendingOp} op
 * @param {Outcomes} outcomes
 * @returns {SentOp}
 */
const sent = ({ n, op_id, type, base_v, base_op, at, tz, set }, outcomes) => {
  const before = base_op ? outcomes[base_op] : undefined;
  return { n, op_id, type, base_v: before?.outcome === "applied" && before.v || base_v, at, tz, set };
};

/**
 * The ops to send next. They end before one that stands on another of them.
 * @param {PendingOp[]} unsent  in order
 * @param {Outcomes} outcomes   of those answered before
 * @param {number} most
 * @returns {SentOp[]}
 */
export const batch = (unsent, outcomes, most) => {
  const first = unsent.slice(0, most);
  const ids = new Set(first.map((op) => op.op_id));
  const end = first.findIndex((op) => op.base_op && ids.has(op.base_op));
  return (end < 0 ? first : first.slice(0, end)).map((op) => sent(op, outcomes));
};

/**
 * Hands what waits on a tablet that was revoked to the server, which keeps it for the lead and says no all the same, as
 * `tablet_revoked`. Nothing else says that it has it: at any other answer what is left waits, and is sent again later.
 * @param {PendingOp[]} unsent
 * @param {Outcomes} outcomes
 * @param {number} most
 * @param {(ops: SentOp[]) => Promise<any>} push
 * @throws {Problem} where something did not come in; `holds_no_more` until the lead has made room
 */
export const handOver = async (unsent, outcomes, most, push) => {
  for (let at = 0, size = most; at < unsent.length;) {
    const ops = unsent.slice(at, at + size).map((op) => sent(op, outcomes));
    const answer = await push(ops).then(() => new Problem(500, {}), (error) => error);
    if (answer.code === "tablet_revoked") {
      at += ops.length;
    } else if (answer.status === 413 && ops.length > 1) {
      size = Math.ceil(ops.length / 2);
    } else {
      throw answer;
    }
  }
};
