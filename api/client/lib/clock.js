// What time it is at the server, as far as this tablet was told: its own clock, by as much ahead or behind as the last
// answer's Date said. A tablet whose clock is an hour or years off says "3 minutes ago" as every other does.

const DAY = 86_400_000;
/** What the server is ahead of this tablet, in milliseconds; and days its school's date is off its own clock, as on trial. */
let [ahead, days] = [0, 0];
let heard = false;

/**
 * Takes the time from an answer of the server.
 * @param {string | null} date  its Date (RFC 9110), whole seconds; null or unreadable says nothing
 */
export const told = (date) => {
  const at = Date.parse(date ?? "");
  if (!Number.isNaN(at)) {
    ahead = at - Date.now();
    heard = true;
  }
};

/**
 * Takes what the school's date is off the server's clock.
 * @param {number} off  days; nought but where a server was set to another day
 */
export const dated = (off) => {
  days = off;
};

/** What is to be remembered until the tablet is used next. */
export const known = () => ({ ahead, shift: days });

/**
 * Goes on with what was remembered, where the server was not heard since. Before `ahead` was, `shift` was days from this tablet's clock.
 * @param {{ahead?: number, shift?: number} | undefined} before
 */
export const recall = ({ ahead: ms, shift = 0 } = {}) => {
  if (!heard) {
    [ahead, days] = ms === undefined ? [shift * DAY, 0] : [ms, shift];
  }
};

/** The server's time by its own clock. */
export const server = () => new Date(Date.now() + ahead);

/** The school's time, in milliseconds. */
export const now = () => Date.now() + ahead + days * DAY;

/** The school's time as an instant, RFC 3339. */
export const instant = () => new Date(now()).toISOString();
