// What cannot be sent, as a file that somebody may carry: sealed under a code that is shown once and kept nowhere. The
// code is long enough (100 bits) that nobody tries them all, so the file may lie in a mailbox; the code goes another way.

import { box, unbox } from "./vault.js";

const FORM = "plumbline sealed 1";
/** Thirty-two signs, none of which is taken for another. */
const SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LENGTH = 20;

const text = (/** @type {ArrayBuffer | Uint8Array} */ bytes) =>
  btoa(Array.from(new Uint8Array(/** @type {ArrayBuffer} */ (bytes)), (byte) => String.fromCharCode(byte)).join(""));

const bytes = (/** @type {string} */ written) => Uint8Array.from(atob(written), (one) => one.charCodeAt(0));

/**
 * @param {string} code
 * @param {Uint8Array<ArrayBuffer>} salt
 */
const keyOf = async (code, salt) => {
  const base = await crypto.subtle.importKey("raw", new TextEncoder().encode(code), "HKDF", false, ["deriveKey"]);
  const how = { name: "HKDF", hash: "SHA-256", salt, info: new TextEncoder().encode(FORM) };
  return crypto.subtle.deriveKey(how, base, { name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]);
};

/** A code as it was meant: in capitals, without spaces, and O and I or L as the nought and the one they look like. */
const meant = (/** @type {string} */ code) =>
  code.toUpperCase().replace(/[^0-9A-Z]/g, "").replaceAll("O", "0").replace(/[IL]/g, "1");

/**
 * Seals a value.
 * @param {any} value
 * @returns {Promise<{code: string, file: string}>} `code` in groups of five; `file` is JSON
 */
export const pack = async (value) => {
  const signs = Array.from(crypto.getRandomValues(new Uint8Array(LENGTH)), (byte) => SIGNS[byte % SIGNS.length]).join("");
  const salt = crypto.getRandomValues(new Uint8Array(16));
  const closed = await box(await keyOf(signs, salt), new TextEncoder().encode(JSON.stringify(value)));
  const file = JSON.stringify({ form: FORM, salt: text(salt), iv: text(closed.iv), bytes: text(closed.bytes) });
  return { code: signs.match(/.{5}/g)?.join(" ") ?? signs, file };
};

/**
 * Opens what `pack` made.
 * @param {string} file
 * @param {string} code
 * @throws {Error} with a sentence to show
 */
export const unpack = async (file, code) => {
  const found = read(file);
  try {
    const key = await keyOf(meant(code), bytes(found.salt));
    return JSON.parse(new TextDecoder().decode(await unbox(key, { iv: bytes(found.iv), bytes: bytes(found.bytes).buffer })));
  } catch {
    throw new Error("This code does not open this file. Look whether both are of the same day, and the code is whole.");
  }
};

/** @param {string} file */
const read = (file) => {
  try {
    const found = JSON.parse(file);
    if (found.form === FORM) {
      return found;
    }
  } catch {
    // No JSON at all.
  }
  throw new Error("This is not a file that was saved under “Waiting to be sent”.");
};
