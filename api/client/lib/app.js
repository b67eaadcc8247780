// What screens stand on. A screen imports `app` from here and nothing else of lib/; lib/ knows no screen but
// through the list in screens/index.js, whose default export is an array of
//
//   { path: "/groups/:group_id/lesson",   // what follows "#" in the address; parameters are ids, never names
//     title: "Lesson",                    // for the window and screen readers; never a name
//     phases: ["open"],                   // when it may be shown (see `app.phase`); ["open"] unless told
//     show(root, params) {...} }          // fills `root`, an empty <main>; may be async; may return a function
//                                         // that is called when the screen is left
//
// and whose `inLine` says in words what is done, which are sealed with it. The first screen whose path fits is shown. "/" is
// home. The phases other than "open" have one screen each, whatever the address: paths "/sign-in" (phase "signed_out"), "/pin" (phase "choose_pin"), "/locked" (phase "locked") and "/cut-off" (phase "cut_off"). The
// address stays, so that what was open before the lock is shown after it. "/sign-in" is for "locked" too (another person)
// and for "open" (the sign-in ended: `state.signed_in` is false, and the same person gives the password again, losing
// nothing); "/invitation/:token" and "/new-password/:token" are for "signed_out" and "locked". After `show` the first <h1> gets the focus.
//
// The page's policy allows scripts and styles of this server only, and no styles written into attributes
// (element.style from a script is allowed). A printed sheet of the server (`app.ask(path, {text: true})`) may be put in with its one <style>.

/**
 * A record as screens see it: the body of the kind (see README, "Sync") with
 * - `id` the record's id, `kind` its kind (of a body with a kind of its own, a check's, that one),
 * - `v` the server's version of it as text, null while the server has none of it,
 * - `waiting` true while something in it was done on this tablet and is not yet acknowledged by the server.
 * @typedef {{kind: string, id: string, v: string | null, waiting: boolean, [field: string]: any}} Row
 */

/** One thing that was done, in words: what, of whom and which day, what it says. @typedef {{what: string, about: string, says: string}} Line */

/** One of them in a file that is carried; `refused` where the server had refused it. @typedef {Line & {at: string, refused?: true}} Carried */

/**
 * Something done on this tablet that the server has not taken yet, or has refused.
 * @typedef {object} Op
 * @property {string} op_id  its id, a UUID of version 7
 * @property {string} type   such as "lesson.record" (README, "Sync")
 * @property {string} at     when, RFC 3339
 * @property {any} set       what `app.act` was given
 * @property {Line} [line]   what it is in words, as they were when it was done; none where it was done before there were any
 * @property {string} [outcome] of what was set aside: "superseded" or "rejected"
 * @property {string} [code]    the problem's code
 * @property {string | null} [field]   the field it is about
 * @property {string | null} [detail]  the reason in words
 * @property {any} [current]    of what is superseded: the record as it stands
 */

/**
 * What the whole client is in. Read it inside `app.watch`.
 * @typedef {object} State
 * @property {boolean} online        whether the last attempt reached the server
 * @property {string | null} trouble a sentence to show: a page that is not the server's, storage full,
 *                                   private mode, sign in again, another version needed; null when all is well
 * @property {number} unsent         ops not yet acknowledged, nor handed to the lead from a revoked tablet
 * @property {string | null} oldest  when the oldest of them was done, RFC 3339
 * @property {Op[]} refused          ops set aside with their reason, oldest first
 * @property {string | null} synced  when everything was last brought from the server, RFC 3339; null: never
 * @property {boolean} stranded      whether the server was reached and takes nothing of what waits, however often it is tried
 * @property {boolean} signed_in     false: the sign-in has ended; what is kept can be used, nothing is sent until "/sign-in"
 * @property {boolean} update        whether a new version of the client is ready (`app.update()` takes it)
 * @property {boolean} kept          whether the browser promised not to clear the store by itself
 */

/**
 * A refusal of the server, or its absence.
 * `status` 0 and `code` "offline": no answer of the server. `detail` is a sentence that may be shown. `errors` are those
 * of fields: [{field, message}]. `current` as the server gave it, if it did.
 */
export { Problem } from "./problem.js";

/**
 * @typedef {object} App
 *
 * Who
 * @property {"start" | "signed_out" | "choose_pin" | "locked" | "cut_off" | "open"} phase
 *   "cut_off": open on a tablet that was revoked, where nothing is but what waits to be handed to the lead
 * @property {{staff_id: string, name: string, school_id: string, school_name: string, roles: string[]} | null} me
 *   who is signed in; known offline too
 * @property {() => Promise<{staff_id: string, name: string, seen: string, unsent: number, wiped: boolean, sealed: boolean}[]>} people
 *   whose stores are on this tablet; `seen`: when the server was last reached; `wiped`: too many wrong PINs, or too long
 *   without the server: needs the password, but where it is `sealed` the PIN opens what waits, and nothing else
 * @property {(email: string, password: string, school_id?: string) => Promise<void>} signIn
 *   then `phase` is "choose_pin", or "open" for who has a store here and gave the PIN before. Throws a Problem; code
 *   "choose_school" with `schools` [{id, name}]: ask which, and call again.
 * @property {(token: string, password: string) => Promise<void>} join
 *   accepts an invitation; then one can sign in. Throws a Problem; the `detail` of "not_found" says what is with the link
 * @property {{name: string, known: boolean, unsent: number, names_tablet: boolean} | null} pin
 *   in phase "choose_pin": who it is, whether this person has a PIN here already, to be given rather than chosen, how much waits
 *   unsent behind it, and whether the tablet still needs a name
 * @property {(pin: string, tablet?: string) => Promise<void>} choosePin
 *   at least 6 digits or letters; throws an Error with a sentence to show. `tablet` is the tablet's name, the first time
 * @property {() => Promise<void>} forgetPin   in phase "choose_pin": the PIN is forgotten; what is unsent here is lost
 * @property {(old: string, pin: string) => Promise<void>} changePin
 * @property {{id: string, name: string} | null} tablet   this tablet, once it has a name
 * @property {{name: string, at: string, handed: number} | null} cut_off
 *   that this tablet was revoked, until it has a name again: how it was called, when it heard of it, and how much that
 *   waited was handed to the lead
 * @property {(staff_id: string, pin: string) => Promise<{ok: boolean, left: number}>} unlock
 *   `left` attempts until what is kept here is wiped. 0: it was wiped; sign in with the password
 * @property {() => void} lock      also after ten minutes without a touch, and from any other tab
 * @property {(anyway?: boolean) => Promise<boolean>} signOut
 *   ends the sign-in and wipes this person's store. False, and nothing done, while something is unsent and `anyway` is
 *   not true: show what would be lost first
 *
 * What is kept here
 * @property {{get(kind: string, id: string): Row | undefined, list(kind: string, where?: object): Row[]}} store
 *   what the server has with what was done here and is not acknowledged laid over it. Synchronous. `where` are fields
 *   that must be equal: app.store.list("group_member", {group_id}). Every row has `group_ids` and `class_ids`: the groups
 *   and classes it came with. A "group_member" has `group_id` and `pupil_id`; its `id` is made of both. Kinds: README, "Sync".
 * @property {(type: string, set: any, as_of?: string | null) => Promise<Op>} act
 *   does one thing: once the promise is kept it is on this tablet for good, and shown. `as_of` is the row's `v` it
 *   changes; null or absent for something new. Throws an Error with a sentence to show if it could not be kept.
 * @property {(op_id: string) => Promise<void>} dismiss   takes a refused op off the list; the person has read it
 * @property {() => Op[]} waiting   what waits to be sent, in order
 * @property {() => Promise<{code: string, file: string}>} parcel
 *   what waits and what was refused, in words, as a file that is sealed under a code that is kept nowhere
 * @property {(file: string, code: string) => Promise<{made_at: string, by: {name: string}, school: string, lines: Carried[]}>} unpack
 *   opens such a file; throws an Error with a sentence to show
 * @property {() => Promise<void>} setAside
 *   what waits is not sent: from now on it is among `state.refused`, with the code "set_aside". On a tablet that was cut
 *   off the person's store is gone with it. Throws an Error with a sentence to show, and does nothing, where something else
 *   waits than was shown
 * @property {(path: string) => Promise<{body: any, at: string, fresh: boolean}>} kept
 *   GET of /api/v1 + path as it is now, else as it was kept when last asked, with when that was. Kept, encrypted, for
 *   computed things that a carpet needs: "/groups/{id}/next-lesson", "/groups/{id}/catch-up", "/my-checks". Fetched
 *   by itself after changes at the server. Throws Problem "offline" if it was never had.
 * @property {(name: string, value?: any) => Promise<any>} draft
 *   something begun that is sent only when it is whole: kept, encrypted, under a name of ids; null as a value takes it away
 * @property {(group_id?: string) => Promise<void>} visit
 *   brings a group that is not kept here into `store`, for this visit and in memory alone, where the person may see all
 *   groups. The router does it for every screen with a `:group_id`
 * @property {(kind: string, id: string) => boolean} holds
 *   whether a record is kept here, and not only looked at for this visit
 * @property {(row: Row) => Promise<Row>} latest   a lesson record of such a group with the version to change it by
 * @property {(path: string, options?: {method?: string, body?: any, etag?: string, text?: boolean}) =>
 *   Promise<any>} ask
 *   the API at once, keeping nothing: /api/v1 + path; the JSON, or with `text` the text (a printed sheet); null for
 *   204. Throws Problem.
 *
 * Around
 * @property {State} state
 * @property {(draw: () => void) => () => void} watch
 *   calls `draw` soon after anything changes in store, state or phase. Ends when the screen is left, or by what it returns
 * @property {() => {path: string, title: string} | null} from
 *   the screen from which one came to this one; null where it was opened by its address
 * @property {(path: string) => void} go          to another screen: app.go("/groups/" + id)
 * @property {() => string} uuid                  a new id, UUID of version 7
 * @property {() => string} today                 the school's date now, YYYY-MM-DD, in its zone
 * @property {(instant: string) => string} on     the date of an instant in the school's zone
 * @property {(instant: string) => string} time   hh:mm of an instant in the school's zone
 * @property {(instant: string) => string} ago    "3 minutes", "2 hours", "4 days" since then
 * @property {(date: string) => string} day       "Wednesday 25 November" of YYYY-MM-DD
 * @property {() => Promise<void>} sync           brings and sends now; resolves when done or given up
 * @property {() => void} update                  takes a new version of the client; what is unsent stays
 */

export { app } from "./client.js";
