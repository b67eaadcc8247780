// What ops that the server has not answered for do to what is shown. Only what a screen must show at once is here: the
// server decides, and its rows take the place of these.

/**
 * @typedef {import("./app.js").Row} Row
 * @typedef {import("./person.js").PendingOp} PendingOp
 * @typedef {{get: (kind: string, id: string) => Row | undefined, list: (kind: string, where: object) => Row[]}} View
 * @typedef {{kind: string, id: string, body: any}} Effect   body null: gone
 */

/** @type {Record<string, (op: PendingOp, view: View, me: string) => Effect[]>} */
const EFFECTS = {
  "lesson.record": (op, view, me) => {
    const slot = op.set.slot ?? 1;
    const [known] = view.list("lesson_record", { group_id: op.set.group_id, on: op.set.on, slot });
    const body = {
      version_id: known?.version_id ?? null, items: [], reason: null, register: [], warnings: [], 
      // Only who has read what was set aside settles it.
      set_aside: known?.set_aside === true && op.set.settles !== true,
      ...op.set, slot, taught_by: op.set.taught_by ?? known?.taught_by ?? me, entered_by: me, entered_at: op.at,
    };
    return [{ kind: "lesson_record", id: known?.id ?? op.makes ?? op.op_id, body }];
  },
  "lesson.delete": (op) => [{ kind: "lesson_record", id: op.set.id, body: null }],
  "catch_up.record": (op, _view, me) => [{
    kind: "catch_up", id: op.set.id ?? op.op_id,
    body: { warnings: [], taught_by: me, ...op.set, entered_by: me, entered_at: op.at },
  }],
  "catch_up.delete": (op) => [{ kind: "catch_up", id: op.set.id, body: null }],
  "sitting.begin": (op, _view, me) => [{
    kind: "sitting", id: op.set.id,
    body: { paused_at: null, finished_at: null, ...op.set, held_by: me, begun_at: op.at },
  }],
  "sitting.answer": (op, view, me) => op.set.answers.map((/** @type {any} */ answer) => ({
    kind: "response", id: answer.id,
    body: { heard: null, mode: null, ...answer, ...given(op, view, me), corrects: null },
  })),
  "sitting.undo": (op, view, me) => {
    // One made before undos named their answer means the last.
    const last = op.set.of ? view.get("response", op.set.of) : lastAnswer(view, op.set.sitting_id);
    const body = last && { ...given(op, view, me), item_id: last.item_id, outcome: "not_offered", heard: null,
      mode: last.mode, corrects: last.id };
    return body ? [{ kind: "response", id: op.set.id, body }] : [];
  },
  "sitting.pause": (op, view) => sitting(op, view, { paused_at: op.at }),
  "sitting.resume": (op, view, me) => sitting(op, view, { paused_at: null, held_by: me }),
  "sitting.finish": (op, view) => sitting(op, view, { finished_at: op.at }),
  "response.correct": (op, view, me) => {
    const before = view.get("response", op.set.corrects ?? op.set.response_id);
    const body = { ...before, ...op.set, taken_by: before?.taken_by ?? me, corrects: before?.id ?? null, entered_at: op.at };
    return [{ kind: "response", id: op.set.id ?? op.op_id, body }];
  },
};

/** What every answer of a sitting has. */
const given = (/** @type {PendingOp} */ op, /** @type {View} */ view, /** @type {string} */ me) => ({
  round_id: op.set.round_id, pupil_id: op.set.pupil_id, sitting_id: op.set.sitting_id, on: op.set.on,
  check_id: view.get("sitting", op.set.sitting_id)?.check_id ?? null, taken_by: me, entered_at: op.at,
});

const sitting = (/** @type {PendingOp} */ op, /** @type {View} */ view, /** @type {object} */ more) => {
  const known = view.get("sitting", op.set.sitting_id);
  return known ? [{ kind: "sitting", id: known.id, body: { ...known, ...more } }] : [];
};

/** The answer an undo takes back: the last that no other corrects. Ids of version 7 sort by when they were made. */
const lastAnswer = (/** @type {View} */ view, /** @type {string} */ sitting_id) => {
  const all = view.list("response", { sitting_id });
  const corrected = new Set(all.map((one) => one.corrects));
  return all.filter((one) => !one.corrects && !corrected.has(one.id)).sort((a, b) => (a.id < b.id ? -1 : 1)).pop();
};

/**
 * What an op changes, in words that are equal for ops about the same record; null where each op stands for itself.
 * @param {string} type
 * @param {any} set
 * @param {View} view
 */
export const about = (type, set, view) => {
  if (type === "lesson.record") {
    return `${set.group_id} ${set.on} ${set.slot ?? 1}`;
  }
  const record = type === "lesson.delete" && view.get("lesson_record", set.id);
  return record ? `${record.group_id} ${record.on} ${record.slot}` : null;
};

/**
 * @param {PendingOp} op
 * @param {View} view
 * @param {string} me  who does it
 * @returns {Effect[]}
 */
export const effects = (op, view, me) => EFFECTS[op.type]?.(op, view, me) ?? [];
