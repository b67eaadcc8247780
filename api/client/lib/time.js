// Days and times as the school has them. A date is text, YYYY-MM-DD, and no instant is ever made of it but at noon UTC
// to name its weekday.

/**
 * The date at an instant in a zone.
 * @param {string | undefined} zone  of the tz database; the tablet's own where none is known yet
 * @param {Date} at
 */
export const dateIn = (zone, at) => {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit",
  }).formatToParts(at);
  const part = (/** @type {string} */ type) => parts.find((one) => one.type === type)?.value;
  return `${part("year")}-${part("month")}-${part("day")}`;
};

/**
 * hh:mm of an instant in a zone.
 * @param {string | undefined} zone
 * @param {string} instant  RFC 3339
 */
export const timeIn = (zone, instant) =>
  new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit" }).format(new Date(instant));

/**
 * "Wednesday 25 November" of a date.
 * @param {string} date
 */
export const dayInWords = (date) =>
  new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", weekday: "long", day: "numeric", month: "long" })
    .format(new Date(`${date}T12:00:00Z`)).replace(",", "");

const DAY = 86_400_000;
const UNITS = /** @type {[string, number][]} */ ([["day", 86_400], ["hour", 3_600], ["minute", 60]]);

/**
 * How long ago, in words: "less than a minute", "3 minutes", "1 hour", "4 days". A clock that was set back gives the first.
 * @param {string} instant  RFC 3339
 * @param {number} now      milliseconds
 */
export const since = (instant, now) => {
  const seconds = (now - Date.parse(instant)) / 1000;
  const unit = UNITS.find(([, length]) => seconds >= length);
  if (!unit) {
    return "less than a minute";
  }
  const count = Math.floor(seconds / unit[1]);
  return `${count} ${unit[0]}${count === 1 ? "" : "s"}`;
};

/**
 * The date some days later.
 * @param {string} date
 * @param {number} days
 */
export const plusDays = (date, days) => new Date(Date.parse(`${date}T12:00:00Z`) + days * DAY).toISOString().slice(0, 10);
