// One request to the server. Whatever else answers in its place, a Wi-Fi sign-in page above all, is no connection.

import * as clock from "./clock.js";
import { Problem, offline } from "./problem.js";

/** What there is to say where nothing answered at all. */
export const AWAY = "No connection to the school’s server.";
const ANOTHER = "Something else answered in place of the school’s server, most often the sign-in page of a Wi-Fi network. "
  + "Nothing was sent.";

/** What the server answers with, and a page in its place does not: only such an answer tells the time. */
const OURS = ["application/json", "application/problem+json", "text/event-stream"];

/**
 * @typedef {object} Request
 * @property {string} [method]  GET unless told
 * @property {any} [body]       sent as JSON
 * @property {string} [etag]    for If-Match
 * @property {string} [token]   access token
 * @property {string} [key]     Idempotency-Key
 * @property {boolean} [text]   answer with text rather than JSON
 * @property {number} [seconds] until it is given up; 15 unless told
 */

/**
 * Sends a request to /api/v1 and reads the answer.
 * @param {string} path
 * @param {Request} [request]
 * @returns {Promise<{body: any, etag: string | null}>} body null for 204
 * @throws {Problem} status 0, "offline", where no answer of the server came
 */
export const send = async (path, request = {}) => {
  const answer = await reach(path, request);
  if (answer.status === 204) {
    return { body: null, etag: answer.headers.get("ETag") };
  }
  if (request.text) {
    return { body: await read(answer, true), etag: answer.headers.get("ETag") };
  }
  if (!typeOf(answer).startsWith("application/json")) {
    throw offline(ANOTHER);
  }
  return { body: await read(answer), etag: answer.headers.get("ETag") };
};

/**
 * Opens a stream of events, which lasts until `signal` or the server ends it.
 * @param {string} path
 * @param {string} token
 * @param {AbortSignal} signal
 * @returns {Promise<ReadableStream<Uint8Array<ArrayBuffer>>>}
 * @throws {Problem} as `send`
 */
export const events = async (path, token, signal) => {
  const answer = await reach(path, { token, signal });
  if (!answer.body || !typeOf(answer).startsWith("text/event-stream")) {
    throw offline(ANOTHER);
  }
  return answer.body;
};

const typeOf = (/** @type {Response} */ answer) => answer.headers.get("Content-Type") || "";

/**
 * An answer of the server that is no refusal.
 * @param {string} path
 * @param {Request & {signal?: AbortSignal}} request  `signal` in the place of `seconds`
 * @throws {Problem}
 */
const reach = async (path, request) => {
  const asked = Date.now();
  const answer = await ask(path, request);
  if (OURS.some((type) => typeOf(answer).startsWith(type))) {
    clock.told(answer.headers.get("Date"), asked);
  }
  if (!answer.ok) {
    const wait = Number(answer.headers.get("Retry-After")) || undefined;
    if (!typeOf(answer).startsWith("application/problem+json")) {
      throw answer.status >= 500 ? new Problem(answer.status, {}, wait) : offline(ANOTHER);
    }
    throw new Problem(answer.status, await read(answer), wait);
  }
  return answer;
};

/**
 * @param {string} path
 * @param {Request & {signal?: AbortSignal}} request
 */
const ask = async (path, { method = "GET", body, etag, token, key, seconds = 15, signal }) => {
  const headers = new Headers();
  const given = { Authorization: token && `Bearer ${token}`, "If-Match": etag, "Idempotency-Key": key,
    "Content-Type": body === undefined ? undefined : "application/json" };
  for (const [name, value] of Object.entries(given)) {
    if (value) {
      headers.set(name, value);
    }
  }
  try {
    return await fetch(`/api/v1${path}`, {
      method, headers, body: body === undefined ? undefined : JSON.stringify(body), cache: "no-store",
      credentials: "omit", redirect: "error", referrerPolicy: "no-referrer", signal: signal ?? AbortSignal.timeout(seconds * 1000),
    });
  } catch {
    throw offline(AWAY);
  }
};

/**
 * The body; an answer that breaks off, or is not what it says, is no answer.
 * @param {Response} answer
 * @param {boolean} [text]
 */
const read = async (answer, text) => {
  try {
    return text ? await answer.text() : await answer.json();
  } catch {
    throw offline(AWAY);
  }
};
