// The keys of one person's store on this tablet, all behind the PIN. Two keys, so that they can part:
//
// - the data key encrypts the working set, which has names in it; it is thrown away after too many wrong PINs or too long
//   without the server, and the working set with it;
// - what is done is sealed to a public key as it is done, also while the store is being locked; its private key stays,
//   so that unsent work outlives the wiping and comes back with the password and the right PIN.
//
// A PIN is short. Whoever copies the whole tablet can try every PIN elsewhere, as fast as their machines derive keys: the
// derivation is slow, and that is all it is. Screens say so.

/**
 * What is written down of the keys; nothing in it opens anything without the PIN.
 * @typedef {object} Sealed
 * @property {Uint8Array<ArrayBuffer>} salt
 * @property {number} rounds
 * @property {Uint8Array<ArrayBuffer>} open    public key, raw P-256 point
 * @property {Box} priv                        private key, PKCS #8, under the PIN
 * @property {Box | null} data                 data key, raw, under the PIN; null once thrown away
 */

/**
 * Something encrypted with AES-GCM.
 * @typedef {{iv: Uint8Array<ArrayBuffer>, bytes: ArrayBuffer}} Box
 */

/**
 * The keys, in memory. None can be exported.
 * @typedef {{data: CryptoKey, priv: CryptoKey, open: CryptoKey}} Keys
 */

const subtle = crypto.subtle;
const AES = "AES-GCM";
const CURVE = { name: "ECDH", namedCurve: "P-256" };
/** OWASP's figure for PBKDF2 with SHA-256. Kept with each vault, so that a later one may ask for more. */
const ROUNDS = 600_000;

const random = (/** @type {number} */ length) => crypto.getRandomValues(new Uint8Array(length));

/**
 * @param {string} pin
 * @param {Uint8Array<ArrayBuffer>} salt
 * @param {number} rounds
 */
const ofPin = async (pin, salt, rounds) => {
  const base = await subtle.importKey("raw", new TextEncoder().encode(pin.normalize("NFC")), "PBKDF2", false, ["deriveKey"]);
  const how = { name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds };
  return subtle.deriveKey(how, base, { name: AES, length: 256 }, false, ["encrypt", "decrypt"]);
};

/**
 * @param {CryptoKey} key
 * @param {ArrayBuffer | Uint8Array<ArrayBuffer>} bytes
 * @returns {Promise<Box>}
 */
export const box = async (key, bytes) => {
  const iv = random(12);
  return { iv, bytes: await subtle.encrypt({ name: AES, iv }, key, bytes) };
};

/**
 * @param {CryptoKey} key
 * @param {Box} from
 */
export const unbox = (key, from) => subtle.decrypt({ name: AES, iv: from.iv }, key, from.bytes);

const dataKey = (/** @type {ArrayBuffer | Uint8Array<ArrayBuffer>} */ raw) =>
  subtle.importKey("raw", raw, AES, false, ["encrypt", "decrypt"]);

const publicKey = (/** @type {Uint8Array<ArrayBuffer>} */ raw) => subtle.importKey("raw", raw, CURVE, true, []);

/**
 * New keys under a PIN.
 * @param {string} pin
 * @returns {Promise<{keys: Keys, sealed: Sealed}>}
 */
export const make = async (pin) => {
  const salt = random(16);
  const [key, pair] = await Promise.all([ofPin(pin, salt, ROUNDS), subtle.generateKey(CURVE, true, ["deriveBits"])]);
  const pkcs8 = await subtle.exportKey("pkcs8", pair.privateKey);
  const open = new Uint8Array(await subtle.exportKey("raw", pair.publicKey));
  const raw = random(32);
  const sealed = { salt, rounds: ROUNDS, open, priv: await box(key, pkcs8), data: await box(key, raw) };
  return { keys: await inMemory(pkcs8, raw, open), sealed };
};

/**
 * @param {ArrayBuffer} pkcs8
 * @param {ArrayBuffer | Uint8Array<ArrayBuffer>} raw
 * @param {Uint8Array<ArrayBuffer>} open
 * @returns {Promise<Keys>}
 */
const inMemory = async (pkcs8, raw, open) => ({
  data: await dataKey(raw),
  priv: await subtle.importKey("pkcs8", pkcs8, CURVE, false, ["deriveBits"]),
  open: await publicKey(open),
});

/**
 * The keys behind a PIN. Where the data key was thrown away there is a new one, and `sealed` is to be written down.
 * @param {Sealed} sealed
 * @param {string} pin
 * @returns {Promise<{keys: Keys, sealed: Sealed} | null>} null: another PIN
 */
export const open = async (sealed, pin) => {
  const key = await ofPin(pin, sealed.salt, sealed.rounds);
  let pkcs8;
  try {
    pkcs8 = await unbox(key, sealed.priv);
  } catch {
    return null;
  }
  const raw = sealed.data ? await unbox(key, sealed.data) : random(32);
  const data = sealed.data || await box(key, raw);
  return { keys: await inMemory(pkcs8, raw, sealed.open), sealed: { ...sealed, data } };
};

/**
 * The same keys under another PIN.
 * @param {Sealed} sealed
 * @param {string} old
 * @param {string} pin
 * @returns {Promise<Sealed | null>} null: `old` is another PIN
 */
export const changed = async (sealed, old, pin) => {
  const before = await ofPin(old, sealed.salt, sealed.rounds);
  const salt = random(16);
  const after = await ofPin(pin, salt, ROUNDS);
  try {
    const priv = await box(after, await unbox(before, sealed.priv));
    const data = sealed.data && await box(after, await unbox(before, sealed.data));
    return { ...sealed, salt, rounds: ROUNDS, priv, data };
  } catch {
    return null;
  }
};

/**
 * Encrypts a value of the working set.
 * @param {Keys} keys
 * @param {any} value
 */
export const encrypt = (keys, value) => box(keys.data, new TextEncoder().encode(JSON.stringify(value)));

/**
 * @param {Keys} keys
 * @param {Box} from
 */
export const decrypt = async (keys, from) => JSON.parse(new TextDecoder().decode(await unbox(keys.data, from)));

/**
 * Something sealed to the public key: who seals needs no PIN.
 * @typedef {Box & {from: ArrayBuffer}} Letter
 */

/**
 * @param {CryptoKey} open  the public key
 * @param {any} value
 * @returns {Promise<Letter>}
 */
export const seal = async (open, value) => {
  const pair = await subtle.generateKey(CURVE, false, ["deriveBits"]);
  const key = await agreed(pair.privateKey, open);
  const closed = await box(key, new TextEncoder().encode(JSON.stringify(value)));
  return { ...closed, from: await subtle.exportKey("raw", pair.publicKey) };
};

/**
 * @param {Keys} keys
 * @param {Letter} letter
 */
export const unseal = async (keys, letter) => {
  const key = await agreed(keys.priv, await publicKey(new Uint8Array(letter.from)));
  return JSON.parse(new TextDecoder().decode(await unbox(key, letter)));
};

/**
 * The key two sides agree on (ECDH, then HKDF).
 * @param {CryptoKey} own
 * @param {CryptoKey} other
 */
const agreed = async (own, other) => {
  const bits = await subtle.deriveBits({ name: "ECDH", public: other }, own, 256);
  const base = await subtle.importKey("raw", bits, "HKDF", false, ["deriveKey"]);
  const how = { name: "HKDF", hash: "SHA-256", salt: new Uint8Array(), info: new TextEncoder().encode("plumbline op") };
  return subtle.deriveKey(how, base, { name: AES, length: 256 }, false, ["encrypt", "decrypt"]);
};

/**
 * Why a PIN is refused; null where it is not.
 * @param {string} pin
 */
export const weakness = (pin) => {
  const steps = Array.from(pin).slice(1).map((_, at) => pin.charCodeAt(at + 1) - pin.charCodeAt(at));
  if (pin.length < 6) {
    return "A PIN has at least 6 digits or letters.";
  }
  return steps.every((step) => step === steps[0] && Math.abs(step) < 2) ? "Choose a PIN that is not one run of digits." : null;
};
