// One person's store on this tablet as the server has it: a replica of a tablet.

import { uuid } from "./ids.js";
import { entry, setTablet, tablet } from "./people.js";
import { Problem } from "./problem.js";

/** Refusals that are mended in a row until it is given up for now. */
const MENDS = 8;

/**
 * Makes a store known to the server: once, after every sign-in, which is the tablet's from then on, and where the server
 * does not know it any more. The tablet is added where the server does not know that, which whoever has no role any more
 * may not do and need not.
 * @param {import("./person.js").Person} person
 * @param {(path: string, body: any) => Promise<any>} post
 * @throws {Problem}
 */
export const register = async (person, post) => {
  // A store that outlived the revoking of its tablet is that tablet's: nothing of it passes for another's.
  const old = (await entry(person.staff_id))?.revoked;
  const here = old ? { id: old, name: "Tablet" } : await tablet() ?? await setTablet({ id: uuid(), name: "Tablet" });
  const add = () => post("/sync/replicas", { id: person.sync.replica, tablet_id: here.id });
  const mend = async (/** @type {unknown} */ error) => {
    if (error instanceof Problem && error.status === 404) {
      await post("/tablets", { id: here.id, name: here.name });
    } else if (error instanceof Problem && error.status === 409 && error.errors[0]?.field === "id") {
      await person.remint();
    } else {
      throw error;
    }
  };
  let made = null;
  for (let tries = 0; !made; tries += 1) {
    made = await add().catch((error) => {
      if (tries === MENDS) {
        throw error;
      }
      return mend(error);
    });
  }
  await person.note({ registered: true, epoch: person.sync.epoch ?? made.epoch });
};
