// Ids made on the tablet, and bytes as text.

/** Sixteen bytes as a UUID is written. */
const written = (/** @type {Uint8Array} */ bytes) => {
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [8, 12, 16, 20].reduce((text, at, n) => `${text.slice(0, at + n)}-${text.slice(at + n)}`, hex);
};

/** A new id: UUID of version 7 (RFC 9562), lower case. Those made later sort later. */
export const uuid = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const time = Math.max(Date.now(), last + 1);
  last = time;
  new DataView(bytes.buffer).setUint32(0, Math.floor(time / 0x10000));
  new DataView(bytes.buffer).setUint16(4, time % 0x10000);
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return written(bytes);
};
let last = 0;

/** Of lesson records, as at the server. */
const RECORDS = [0x8d, 0x24, 0x1f, 0x0e, 0x77, 0xc3, 0x5a, 0x61, 0xb0, 0xd9, 0x2e, 0x64, 0x93, 0xfa, 0x0c, 0x58];

/**
 * The id that the first record of a group, day and lesson of the day has everywhere: UUID of version 5. After a deletion
 * the server gives another.
 * @param {string} group_id
 * @param {string} on
 * @param {number} slot
 */
export const recordId = async (group_id, on, slot) => {
  const name = new TextEncoder().encode([group_id, on, slot, 0].join("\u001f"));
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-1", new Uint8Array([...RECORDS, ...name]))).slice(0, 16);
  bytes[6] = (bytes[6] & 0x0f) | 0x50;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return written(bytes);
};
