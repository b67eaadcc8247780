// Signing in, choosing a PIN, opening a locked tablet, accepting an invitation or a new password.

import { app } from "../lib/app.js";
import { cutOff } from "./cut_off.js";
import { button, choice, field, fill, h, link, name } from "./dom.js";
import { trying } from "./frame.js";

/** @typedef {Awaited<ReturnType<typeof app.people>>[number]} Person */

/**
 * A form with a way to say what went wrong. What `act` throws is shown.
 * @param {HTMLElement} root
 * @param {import("./dom.js").Child} title
 * @param {import("./dom.js").Child[]} fields
 * @param {string} does      what its button says
 * @param {() => Promise<void>} act
 * @param {...import("./dom.js").Child} below
 */
function form(root, title, fields, does, act, ...below) {
  const said = h("div", { role: "alert" });
  const submit = h("button", { class: "button main" }, does);
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    submit.disabled = true;
    await trying(said, act);
    submit.disabled = false;
  };
  const trouble = app.state.trouble && h("p", { class: "notice" }, app.state.trouble);
  fill(
    root,
    h(
      "div",
      { class: "door" },
      h("p", { class: "quiet" }, "Plumbline"),
      h("h1", { tabindex: "-1" }, title),
      trouble,
      h("form", { onsubmit: send }, fields, said, submit),
      below,
    ),
  );
}

/** @param {HTMLElement} root */
async function signIn(root) {
  if (app.me && app.state.signed_in) {
    return app.go("/");
  }
  const email = field("email", "E-mail address", { type: "email", autocomplete: "username" });
  const password = field("password", "Password", { type: "password", autocomplete: "current-password" });
  const schools = h("div", {});
  /** @type {string | undefined} */
  let school;
  const enter = async () => {
    try {
      await app.signIn(email.input.value.trim(), password.input.value, school);
    } catch (/** @type {any} */ error) {
      if (error.code !== "choose_school") {
        throw error;
      }
      const all = error.schools.map((/** @type {any} */ one) => [one.id, one.name]);
      fill(
        schools,
        choice("school", "Which school?", all, null, (id) => (school = id)),
      );
      throw new Error("This address belongs to several schools. Choose one, and sign in.");
    }
    if (app.me) {
      app.go("/");
    }
  };
  const back = app.phase === "locked" && h("p", {}, link("/", { class: "button" }, "Back to the PIN"));
  const without = app.phase === "open" && h("p", {}, link("/", { class: "button" }, "Go on without signing in"));
  const gone = app.cut_off && cutOff(await app.people());
  const title = gone ? "This tablet was cut off" : "Sign in";
  const about = gone && [gone, h("h2", {}, "Sign in")];
  form(root, title, [about, email.shown, password.shown, schools], "Sign in", enter, back, without);
}

/** @param {HTMLElement} root */
function pin(root) {
  return app.pin?.known ? knownPin(root, app.pin.unsent) : newPin(root);
}

/**
 * For who chose a PIN here before, and has come in by the password.
 * @param {HTMLElement} root
 * @param {number} unsent
 */
function knownPin(root, unsent) {
  const entered = field("pin", "Your PIN on this tablet", { type: "password", autocomplete: "off" });
  const sure = h("div", { role: "alert" });
  const forget = () =>
    fill(
      sure,
      h(
        "div",
        { class: "notice" },
        h(
          "p",
          {},
          unsent
            ? `${unsent} of what you did here is not sent yet. Only your PIN opens it; without it, it is lost for good.`
            : "Nothing of yours waits here to be sent. You can choose another PIN.",
        ),
        button(
          () => void app.forgetPin().then(() => newPin(root)),
          { class: "button" },
          unsent ? "Lose it and choose another PIN" : "Choose another PIN",
        ),
      ),
    );
  form(
    root,
    "Your PIN",
    [whose(), entered.shown],
    "Open",
    () => app.choosePin(entered.input.value),
    h("p", { class: "acts" }, button(forget, { class: "button" }, "I have forgotten it"), somebodyElse()),
    sure,
  );
}

const whose = () => h("p", {}, "For ", name(app.pin?.name ?? ""));

/** Nothing is kept of a sign-in before the PIN, so that beginning anew forgets it. */
const somebodyElse = () => button(() => location.reload(), { class: "button" }, "I am somebody else");

/** @param {HTMLElement} root */
function newPin(root) {
  const secret = { type: "password", autocomplete: "new-password", minlength: 6 };
  const first = field("pin", "PIN, at least 6 digits or letters", secret);
  const second = field("again", "The same again", secret);
  const called = field("tablet", "What this tablet is called, such as “Trolley 2, tablet 5”", {
    type: "text",
    autocomplete: "off",
  });
  const names = app.pin?.names_tablet;
  form(
    root,
    "Choose a PIN for this tablet",
    [
      whose(),
      h(
        "p",
        {},
        "With it you open the tablet, without a connection too, and what is kept here for you is encrypted. Longer is safer, and letters are safer than digits.",
      ),
      first.shown,
      second.shown,
      names && called.shown,
      names && h("p", { class: "quiet" }, "The name helps the school to find a lost tablet. No child’s name, please."),
    ],
    "Keep it",
    async () => {
      if (first.input.value !== second.input.value) {
        throw new Error("The two are not the same.");
      }
      await app.choosePin(first.input.value, names ? called.input.value.trim() : undefined);
    },
    h("p", {}, somebodyElse()),
  );
}

/** @param {HTMLElement} root */
async function locked(root) {
  const all = await app.people();
  const [only] = all;
  if (only && all.length === 1 && !only.wiped && !app.cut_off) {
    return unlock(root, only, all);
  }
  choose(root, all);
}

/**
 * @param {HTMLElement} root
 * @param {Person[]} all
 */
function choose(root, all) {
  fill(
    root,
    h(
      "div",
      { class: "door" },
      h("p", { class: "quiet" }, "Plumbline"),
      h("h1", { tabindex: "-1" }, app.cut_off ? "This tablet was cut off" : "Who are you?"),
      app.cut_off ? [cutOff(all), h("h2", {}, "Who did something here?")] : null,
      people(root, all),
      !app.cut_off && waits(all),
      another(),
    ),
  );
}

/**
 * @param {HTMLElement} root
 * @param {Person[]} all
 */
const people = (root, all) =>
  h(
    "ul",
    { class: "rows" },
    all.map((one) =>
      h(
        "li",
        {},
        one.wiped
          ? link("/sign-in", { class: "row" }, name(one.name), apart(one, all), " (needs the password)")
          : button(() => unlock(root, one, all), { class: "row" }, name(one.name), apart(one, all)),
        one.sealed && button(() => unlock(root, one, all), { class: "button" }, "See what waits, with the PIN"),
      ),
    ),
  );

/**
 * Tells two of one name apart, as one person has two stores where the server came to be another.
 * @param {Person} one
 * @param {Person[]} all
 */
const apart = (one, all) =>
  all.filter(({ name }) => name === one.name).length > 1 && ` (last in touch with the server on ${app.day(app.on(one.seen))})`;

/**
 * That something waits here, and not whose it is: before a PIN nothing is said of what anybody did.
 * @param {Person[]} all
 */
const waits = (all) =>
  all.some((one) => one.unsent > 0) &&
  h(
    "p",
    {},
    h("span", { class: "mark waiting" }, "Something waits here to be sent"),
    " It goes when whoever did it opens the tablet with a connection.",
  );

const another = () => h("p", {}, link("/sign-in", { class: "button" }, "Sign in with a password"));

/**
 * @param {HTMLElement} root
 * @param {Person} who
 * @param {Person[]} all
 */
function unlock(root, who, all) {
  const entered = field("pin", "Your PIN", { type: "password", autocomplete: "off" });
  const open = async () => {
    const { ok, left } = await app.unlock(who.staff_id, entered.input.value);
    entered.input.value = "";
    if (!ok) {
      entered.input.focus();
      throw new Error(
        left > 0
          ? `That is not the PIN. After ${left} more wrong ${left === 1 ? "one" : "ones"} this tablet keeps nothing for you until you sign in with your password; what waits to be sent stays.`
          : "What was kept here for you is wiped; what waits to be sent stays. Sign in with your password.",
      );
    }
  };
  const rest =
    all.length > 1 &&
    h(
      "p",
      {},
      button(() => choose(root, all), { class: "button" }, "I am somebody else"),
    );
  form(root, name(who.name), [entered.shown], "Open", open, waits(all), rest, another());
  entered.input.focus();
}

const JOINING = {
  title: "Join your school",
  about: "You were invited. Choose the password you will sign in with.",
  does: "Join",
  done: "You have joined",
};
const RENEWING = {
  title: "Choose a new password",
  about: "You will sign in with it from now on. Wherever you are signed in, that ends.",
  does: "Take this password",
  done: "You have a new password",
};

/**
 * @param {HTMLElement} root
 * @param {string} token
 * @param {typeof JOINING} words
 */
function accept(root, token, words) {
  const password = field("password", "Password, 12 characters or more", {
    type: "password",
    autocomplete: "new-password",
    minlength: 12,
  });
  form(
    root,
    words.title,
    [h("p", {}, words.about), password.shown],
    words.does,
    async () => {
      try {
        await app.join(token, password.input.value);
      } catch (/** @type {any} */ error) {
        // The server says what to do about a link that does not hold; the usual words for what is not there do not.
        throw error.code === "not_found" ? new Error(error.detail) : error;
      }
      fill(
        root,
        h(
          "div",
          { class: "door" },
          h("h1", { tabindex: "-1" }, words.done),
          h("p", {}, link("/sign-in", { class: "button main" }, "Sign in")),
        ),
      );
    },
  );
}

/** @typedef {{token: string}} Link */
const invitation = (/** @type {HTMLElement} */ root, /** @type {Link} */ { token }) => accept(root, token, JOINING);
const renewal = (/** @type {HTMLElement} */ root, /** @type {Link} */ { token }) => accept(root, token, RENEWING);

/** @type {{path: string, title: string, phases: string[], show: (root: HTMLElement, params: any) => any}[]} */
export default [
  { path: "/sign-in", title: "Sign in", phases: ["signed_out", "locked", "cut_off", "open"], show: signIn },
  { path: "/pin", title: "Choose a PIN", phases: ["choose_pin"], show: pin },
  { path: "/locked", title: "Locked", phases: ["locked"], show: locked },
  { path: "/invitation/:token", title: JOINING.title, phases: ["signed_out", "locked"], show: invitation },
  { path: "/new-password/:token", title: RENEWING.title, phases: ["signed_out", "locked"], show: renewal },
];
