// Opens a cover link. Its secret stands behind the "#", which browsers send to nobody: it goes to the server
// in the body of one request, and out of the address and the history at once.
"use strict";

const token = location.hash.slice(1);
history.replaceState(null, "", location.pathname);
// Another link pasted into the same tab.
addEventListener("hashchange", () => location.reload());

const say = (text) => {
  document.getElementById("said").textContent = text;
};

const open = async () => {
  if (!token) {
    return say("Open the link you were given once more: it is not kept in this page.");
  }
  const answer = await fetch("api/v1/cover-pages?format=html", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ token }),
    credentials: "omit",
    cache: "no-store",
    referrerPolicy: "no-referrer",
  });
  if (answer.status === 429) {
    return say("Too many attempts with this link. Wait a quarter of an hour.");
  }
  if (answer.status === 404) {
    return say("This link opens no page: it is for another day, or is over, or was taken back. Ask the school for another.");
  }
  if (!answer.ok) {
    return say("The server did not answer as it should. Open the link again in a minute.");
  }
  const sheet = new DOMParser().parseFromString(await answer.text(), "text/html");
  document.documentElement.replaceWith(document.adoptNode(sheet.documentElement));
};

open().catch(() => say("The server cannot be reached. Open the link again in a minute."));
