// Tabs of one person after another, each with a store and a server of their own.

import { beforeEach } from "node:test";

import { fakes } from "./fake_idb.js";
import { FakeServer, waits } from "./fake_server.js";

const { Kept } = await import("../../api/client/lib/kept.js");
const { Person } = await import("../../api/client/lib/person.js");
const { Session } = await import("../../api/client/lib/session.js");
const { Sync } = await import("../../api/client/lib/sync.js");
const { make } = await import("../../api/client/lib/vault.js");

const { keys } = await make("carpet-27");
let staff = 0;
/** @type {FakeServer} */
export let server;

beforeEach(() => {
  server = new FakeServer();
  globalThis.fetch = server.fetch;
  fakes.refuses = undefined;
  waits.length = 0;
  staff += 1;
});

export const granted = { access_token: "a", refresh_token: "r", expires_in: 600 };

/** A tab of a person whose store is open. */
export const tabOf = (person, told) => {
  const session = new Session(person);
  const sync = new Sync(person, session, new Kept(person, session), {
    changed: () => (told.changed += 1),
    revoking: async () => void (told.revoking += 1),
    revoked: (handed) => told.revoked.push(handed),
  });
  return { person, session, sync, told };
};

export const nothingTold = () => ({ changed: 0, revoking: 0, revoked: [] });

/** A tab of this test's person. */
export const tab = async () => tabOf(await Person.open(`staff-${staff}`, keys), nothingTold());

/** A tab that has signed in, synced once. */
export const ready = async () => {
  const one = await tab();
  await one.session.begin(granted);
  await one.sync.run();
  server.asked.length = 0;
  waits.length = 0;
  return one;
};

export const lesson = (on, more = {}) => ({ group_id: "a", on, lesson_id: "l", outcome: "delivered", ...more });
export const log = ({ person }, on, as_of = null, base_op = null) =>
  person.append("lesson.record", lesson(on), as_of, base_op);
export const done = () => server.log.map((op) => op.set.on);
export const numbers = (push) => push.ops.map((op) => op.n);
