// Private mode, and a browser that keeps nothing at all: the client as a page that was just opened there has it.

import assert from "node:assert/strict";
import { test } from "node:test";

import { fakes } from "./fake_idb.js";
import "./fake_server.js";
import { app } from "./fake_dom.js";

Object.assign(globalThis, { addEventListener: () => undefined, isSecureContext: true });
const { begin } = await import("../../api/client/lib/client.js");
const WORDS = /keeps nothing on this tablet, perhaps because of a private window/;

test("private mode: it is said before anybody signs in, whatever the browser calls it", async () => {
  for (const name of ["InvalidStateError", "SecurityError", "UnknownError"]) {
    fakes.opens = () => new DOMException("private", name);
    app.phase = "start";
    await begin(() => undefined);
    assert.equal(app.phase, "signed_out");
    assert.match(app.state.trouble, WORDS, name);
  }
});

test("private mode: a browser without any store says the same", async () => {
  const { indexedDB } = globalThis;
  delete globalThis.indexedDB;
  app.phase = "start";
  await begin(() => undefined);
  globalThis.indexedDB = indexedDB;
  assert.equal(app.phase, "signed_out");
  assert.match(app.state.trouble, WORDS);
});
