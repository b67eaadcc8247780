// What a group does next and when, out of records and a sequence alone. As the server works it out, so far as a tablet can.

/** @typedef {import("../lib/app.js").Row} Row */

const WEEKDAYS = ["sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"];

const collator = new Intl.Collator("en-GB");

/**
 * The one order of names: as they are called, as a register is read out; namesakes by what tells them apart.
 * @param {{name: string, apart?: string | null}} a
 * @param {{name: string, apart?: string | null}} b
 */
export const byName = (a, b) => collator.compare(a.name, b.name) || collator.compare(a.apart ?? "", b.apart ?? "");

/**
 * The weekday of a date, as the API names it.
 * @param {string} on
 */
export const weekday = (on) => WEEKDAYS[new Date(on + "T12:00:00Z").getUTCDay()] ?? "";

/**
 * Whether days from a first to a last one, if there is one, hold a day.
 * @param {any} days
 * @param {string} on
 * @returns {boolean}
 */
export const holds = (days, on) => (!days.from || days.from <= on) && (!days.until || days.until >= on);

/**
 * The lessons due on a day by a timetable's lines alone, closures not looked at. Without a line it is one a weekday.
 * @param {any[]} lines  earliest first
 * @param {string} on
 * @returns {{slot: number, part?: string, starts_at?: string | null}[]}
 */
export function sessionsOf(lines, on) {
  const line = lines.filter((one) => one.from <= on).pop();
  if (!line?.slots) {
    return ["saturday", "sunday"].includes(weekday(on)) ? [] : [{ slot: 1 }];
  }
  const today = line.slots.filter((/** @type {any} */ slot) => slot.weekday === weekday(on));
  return today.map((/** @type {any} */ slot, /** @type {number} */ n) => ({ ...slot, slot: n + 1 }));
}

/**
 * The lessons of a version in teaching order, each with its step's title and place.
 * @param {Row | undefined} version
 * @returns {any[]}
 */
export function lessons(version) {
  const steps = version?.content?.steps ?? version?.steps ?? [];
  return steps.flatMap((/** @type {any} */ step, /** @type {number} */ s) =>
    step.lessons.map((/** @type {any} */ lesson, /** @type {number} */ l) => ({
      ...lesson,
      step_title: step.title,
      place: { step: s + 1, lesson: l + 1 },
    })),
  );
}

/**
 * The items of a lesson that no record has taught yet. A record that waits to be sent says no items where the lesson was
 * taught whole: the server fills them in.
 * @param {Row[]} records  of the group
 * @param {any} lesson
 * @returns {any[]}
 */
export function left(records, lesson) {
  const here = records.filter((one) => one.lesson_id === lesson.id && ["delivered", "part"].includes(one.outcome));
  const whole = here.some((one) => one.outcome === "delivered" && !one.items?.length);
  const taught = new Set(here.flatMap((one) => one.items ?? []));
  return whole ? [] : lesson.items.filter((/** @type {any} */ item) => !taught.has(item.id));
}

/**
 * The first lesson after one, or from the start, of which something is left, with what is left of it and no words.
 * @param {any[]} all       in teaching order
 * @param {Row[]} records   of the group
 * @param {string | undefined} after_id
 * @returns {any} null: nothing is left
 */
export function following(all, records, after_id) {
  const from = after_id ? all.findIndex((one) => one.id === after_id) + 1 : 0;
  const next = all.slice(from).find((one) => left(records, one).length > 0);
  return next ? { ...next, items: left(records, next), words: null } : null;
}

/**
 * Who was away in the lesson before one on the same day: a register begins with them. Who came late is here by now, and a
 * lesson that was not taught says nothing.
 * @param {Row[]} records  of the group on that day, in the order of its lessons
 * @param {number} slot
 * @returns {string[]} pupils
 */
export function awayBefore(records, slot) {
  const before = records.filter((one) => (one.slot ?? 1) < slot && one.outcome !== "not_delivered").pop();
  const away = (before?.register ?? []).filter((/** @type {any} */ one) => one.mark === "absent");
  return away.map((/** @type {any} */ one) => one.pupil_id);
}

/**
 * The first lesson of a day that nothing is recorded of: one that is due, else one more.
 * @param {Row[]} records  of the group on that day
 * @param {any[]} due
 * @returns {number}
 */
export function freeSlot(records, due) {
  const taken = new Set(records.map((one) => one.slot ?? 1));
  const open = due.find((session) => !taken.has(session.slot));
  return open?.slot ?? Math.max(0, ...taken) + 1;
}
