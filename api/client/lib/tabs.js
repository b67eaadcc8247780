// What the tabs of this browser tell each other. Nothing personal passes: who it is about, and what happened.

/** @typedef {{what: "changed" | "lock" | "touched", staff_id: string}} Message */

const channel = new BroadcastChannel("plumbline");

/** @param {Message} message */
export const tellTabs = (message) => channel.postMessage(message);

/** @param {(message: Message) => void} heard */
export const onTab = (heard) => channel.addEventListener("message", (event) => heard(event.data));
