// What time it is at the server, as far as this tablet was told: its own clock, by as much ahead or behind as the last
// answer's Date said. A tablet whose clock is an hour or years off says "3 minutes ago" as every other does.

const DAY = 86_400_000;
/** Milliseconds after which an answer says no more what time it is: the tablet may have slept while it was on its way. */
const LATE = 30_000;
/** A long weekend, in milliseconds: for so long a tablet is left alone without the server as a matter of course. */
const ALONE = 4 * DAY;

/**
 * What an answer said of the time.
 * @typedef {object} Said
 * @property {number} [ahead]  milliseconds by which the server was ahead of this tablet
 * @property {number} [told]   what this tablet's clock was then, in milliseconds
 */

/** @type {Said} */
let said = {};
let heard = false;

/**
 * What this tablet's clock is to be put right by. Nothing, where somebody put the clock itself right since: it has gone back,
 * or has gone on by as much as it was behind and by more than a long weekend. It alone counts then, until the next answer.
 * @param {Said} by
 */
const off = ({ ahead = 0, told = NaN }) => {
  const since = Date.now() - told;
  return since >= 0 && since < Math.max(ahead, ALONE) ? ahead : 0;
};

/**
 * Takes the time from an answer of the server.
 * @param {string | null} date  its Date (RFC 9110), whole seconds; null or unreadable says nothing
 * @param {number} asked        what this tablet's clock was when it asked, in milliseconds
 */
export const told = (date, asked) => {
  const [at, now] = [Date.parse(date ?? ""), Date.now()];
  if (!Number.isNaN(at) && now >= asked && now - asked < LATE) {
    said = { ahead: at - now, told: now };
    heard = true;
  }
};

/** What is to be remembered until the tablet is used next. */
export const known = () => ({ ...said });

/**
 * Goes on with what was remembered, where the server was not heard since.
 * @param {Said | undefined} before
 */
export const recall = ({ ahead, told: at } = {}) => {
  if (!heard) {
    said = { ahead, told: at };
  }
};

/**
 * The server's time by its own clock.
 * @param {Said} [by]  what is remembered of it; what was heard last unless told
 */
export const server = (by = said) => new Date(Date.now() + off(by));

/** The same, in milliseconds. */
export const now = () => server().getTime();

/** The same as an instant, RFC 3339. */
export const instant = () => new Date(now()).toISOString();
