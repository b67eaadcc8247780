// What a tired teacher reads on the screens of a lesson, and where the way back leads.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shown } from "./fake_dom.js";

const trail = await import("../../api/client/lib/trail.js");
const { default: board } = await import("../../api/client/screens/board.js");
const { default: groupScreen } = await import("../../api/client/screens/group.js");
const { lines } = await import("../../api/client/screens/in_lesson.js");
const { default: lesson } = await import("../../api/client/screens/lesson.js");
const { change, default: log } = await import("../../api/client/screens/log.js");
const { words: wordsSheet } = await import("../../api/client/screens/print.js");
const { default: pupil } = await import("../../api/client/screens/pupil.js");
const { default: settings } = await import("../../api/client/screens/settings.js");

const TODAY = "2026-11-25";
const gpc = (grapheme, phoneme, keyword, id) => ({ id, kind: "gpc", label: `${grapheme} /${phoneme}/`, gpc: { grapheme, phoneme }, keyword });
const ITEMS = [gpc("sh", "ʃ", "ship", "i1"), { id: "i2", kind: "exception_word", label: "one" }];
const WORDS = { read: [], spell: [], no_words: "too_little_taught", no_spelling: "too_little_taught", review: [], exception_words: [],
  pseudo_words: [], sentences: [], handwriting: [] };
const all = [{ id: "l1", title: "sh", items: ITEMS }, { id: "l2", title: "ch", items: [gpc("ch", "tʃ", "chip", "i3")] },
  { id: "l3", title: "th", items: [gpc("th", "θ", "thin", "i4"), gpc("th", "ð", "this", "i5")] }];
const school = { group: [{ id: "g", name: "Blue", sequence_id: "q", adults: [{ staff_id: "ada", from: "2026-09-01", until: null }] }],
  sequence_version: [{ id: "v", sequence_id: "q", effective_on: "2026-09-01", withdrawn_on: null, steps: [{ title: "One", lessons: all }] }],
  lesson_record: [], pupil: [], group_member: [] };

/** The next lesson as the server has it. */
const next = (which, more = {}) => ({ kept: async () => ({ at: `${TODAY}T09:00:00Z`, fresh: true,
  body: { on: TODAY, day: "teaching", due: [{ slot: 1 }], version_id: "v",
    lesson: { ...all[which], place: { step: 1, lesson: which + 1 }, begun: false, words: WORDS, ...more } } }) });

test("what a lesson teaches and goes back to is one list, each thing once, with why it is there", () => {
  const review = [{ gpc: "sh:ʃ", why: "often_wrong" }, { gpc: "h:h", why: "due" }, { gpc: "ll:l", why: "fill" }, { gpc: "il:ə.l", why: "missed" }, { gpc: "y:i", why: "fill" }];
  const items = [{ id: "r1", kind: "review", label: "review of sh /ʃ/, and il /ə l/" }, { id: "r2", kind: "review", label: "review of y /i/" },
    gpc("ch", "tʃ", "chip", "i3")];
  const said = (lesson) => lines(lesson).map(({ item, gpc: code, why }) => [item?.id ?? code, why.join(", ")]);
  assert.deepEqual(said({ items, begun: false, words: { review } }), [
    ["r1", "planned, often wrong, missed"],
    ["r2", "planned"],
    ["h:h", "due again"],
    ["ll:l", "for practice"],
    ["i3", "new"],
  ]);
  // "sh /ʃ/" names no "h /ʃ/", and the end of a longer spelling is not the shorter.
  assert.deepEqual(said({ items: [{ id: "r", kind: "review", label: "review of all /l/" }], words: { review: [{ gpc: "ll:l", why: "due" }] } }),
    [["r", "planned"], ["ll:l", "due again"]]);
  assert.deepEqual(said({ items: [items[2]], begun: true, words: null }), [["i3", "still to teach"]]);
  // What is new and called back all the same is one line.
  assert.deepEqual(said({ items: [items[2]], begun: false, words: { review: [{ gpc: "ch:tʃ", why: "missed" }] } }), [["i3", "new, missed"]]);
});

test("the lesson names its one list and the common exception words, and says once that there are no words", async () => {
  const words = { ...WORDS, review: [{ gpc: "h:h", why: "due" }], exception_words: ["one", "are"] };
  const text = (await shown(lesson, { group_id: "g" }, school, next(0, { words }))).text();
  assert.match(text, /In this lesson.*h.*due again.*sh.*as in ship.*new.*one.*common exception word.*new.*Words to read and to spell/);
  assert.match(text, /Common exception wordsEach has a part that is not spelled as taught so far.*one.*are/);
  assert.doesNotMatch(text, /Go back to/);
  assert.equal(text.split("Too little was taught for words yet.").length, 2);
});

test("where a lesson cannot be taught in part, it is said why", async () => {
  const one = (await shown(log, { group_id: "g" }, school, next(1))).text();
  assert.match(one, /TaughtTaught againNot taught.*This lesson is one part, so “Taught in part” is no choice/);
  const several = (await shown(log, { group_id: "g" }, school, next(0))).text();
  assert.match(several, /TaughtTaught in partTaught againNot taught/);
  assert.doesNotMatch(several, /is no choice/);
});

test("another lesson than the next is chosen in a labelled box, and what is logged is that one", async () => {
  const screen = await shown(log, { group_id: "g" }, school, next(1));
  assert.match(screen.text(), /Another lesson, day or adultWhich lesson was it\?sh \(lesson 1 of step 1\)ch \(lesson 2 of step 1\)th/);
  await screen.choose("lesson", "l3");
  assert.match(screen.text(), /Log a lesson: Blueth.*Today, lesson 3 of step 1/);
  await screen.press("Save");
  assert.deepEqual(screen.acts.map(([type, set]) => [type, set.lesson_id, set.outcome]), [["lesson.record", "l3", "delivered"]]);
  // Of the next lesson it is what is left of it, also when it was left and chosen again.
  const back = await shown(log, { group_id: "g" }, school, next(0, { items: [ITEMS[1]], begun: true }));
  await back.choose("lesson", "l3");
  assert.match(back.text(), /Taught in part/);
  await back.choose("lesson", "l1");
  assert.match(back.text(), /This lesson is one part/);
});

test("a lesson as it was planned is logged with one touch from its form: Save", async () => {
  const gone = [];
  const screen = await shown(log, { group_id: "g" }, school, { ...next(1), go: (path) => gone.push(path) });
  await screen.press("Save");
  assert.deepEqual([screen.acts.length, gone], [1, ["/"]]);
});

test("what was put right is seen where one came from, and a new lesson at home", async () => {
  const record = { id: "r", v: "4", group_id: "g", on: TODAY, slot: 1, lesson_id: "l2", version_id: "v", outcome: "delivered", register: [],
    taught_by: "ada", entered_by: "ada", entered_at: `${TODAY}T09:00:00Z` };
  const to = async (screen, params, from, rows) => {
    const gone = [];
    const shownForm = await shown(screen, params, { ...school, ...rows }, { ...next(1), from: () => from, go: (path) => gone.push(path) });
    await shownForm.press("Save");
    return gone;
  };
  const right = { group_id: "g", on: TODAY, slot: "1" };
  assert.deepEqual(await to(change, right, { path: "/groups/g", title: "Group" }, { lesson_record: [record] }), ["/groups/g"]);
  assert.deepEqual(await to(change, right, null, { lesson_record: [record] }), ["/"]);
  assert.deepEqual(await to(log, { group_id: "g" }, { path: "/groups/g/lesson", title: "Lesson" }, {}), ["/"]);
});

test("the letters of words are chosen among the tablet's settings and not on the board", async () => {
  const set = { ...WORDS, read: [{ word: "ship", reading: { graphemes: ["sh", "i", "p"], gpcs: ["sh:ʃ", "i:ɪ", "p:p"] } }], exception_words: ["one"] };
  const shownBoard = (await shown(board, { group_id: "g" }, school, next(0, { words: set }))).text();
  assert.match(shownBoard, /ShowNewWords to readCommon exception words.*At a time/);
  assert.doesNotMatch(shownBoard, /[Ll]etters/);
  assert.match((await shown(settings, {}, school, {})).text(), /Letters.*(Letters of words for children|one-storey)/);
});

test("the board opens on what is new: words to read where they begin with it, else the new itself", async () => {
  const opens = async (which, read, more = {}) => {
    const words = { ...WORDS, read, review: [{ gpc: "h:h", why: "due" }], ...more };
    const screen = await shown(board, { group_id: "g" }, school, next(which, { words }));
    return screen.one("set").value;
  };
  const word = (text, ...gpcs) => ({ word: text, reading: { gpcs } });
  const [ship, hop] = [word("ship", "sh:ʃ", "i:ɪ", "p:p"), word("hop", "h:h", "o:ɒ", "p:p")];
  assert.equal(await opens(0, [ship, hop]), "read");
  assert.equal(await opens(0, [hop]), "new");
  // The same letters for another sound are not what is new.
  assert.equal(await opens(1, [word("chef", "ch:ʃ", "e:e", "f:f")]), "new");
  assert.equal(await opens(1, []), "new");
  // Where nothing is new, there is nothing to put before the words.
  const review = { id: "r", kind: "review", label: "review of sh /ʃ/" };
  const words = { ...WORDS, read: [hop], review: [{ gpc: "h:h", why: "due" }] };
  assert.equal((await shown(board, { group_id: "g" }, school, next(0, { items: [review], words }))).one("set").value, "read");
});

test("the way back leads to the screen one came from, and to its own place for who came by the address", async () => {
  const back = async (from) => (await shown(log, { group_id: "g" }, school, { ...next(1), from: () => from })).links("‹ ");
  const words = async (from) => (await shown(groupScreen, { group_id: "g" }, school, { from: () => from })).text();
  assert.deepEqual(await back(null), ["#/"]);
  assert.deepEqual(await back({ path: "/groups/g/lesson", title: "Lesson" }), ["#/groups/g/lesson"]);
  assert.match(await words({ path: "/find", title: "Find a child" }), /^‹ Find a child/);
  assert.match(await words({ path: "/", title: "Today" }), /^‹ Home/);
});

test("a child of whom nothing is recorded has a page that says so", async () => {
  const how = { items: [], caution: "", secure_means: { right_on_days: 3, days_after_teaching: 7 } };
  const says = async (items) => {
    const ask = async (path) => (path.endsWith("/attainment") ? { ...how, items } : { name: "Bo", classes: [], groups: [] });
    return (await shown(pupil, { pupil_id: "p" }, school, { ask })).text();
  };
  assert.match(await says([]), /Bo.*Nothing was taught here or asked in a check yet\./);
  assert.doesNotMatch(await says([{ item_id: "i1", label: "sh /ʃ/", standing: "secure" }]), /Nothing was taught/);
});

test("a sheet of words for a lesson that has none says why", async () => {
  assert.match((await shown(wordsSheet, { group_id: "g" }, school, next(1))).text(), /Too little was taught for words yet\./);
});

test("the trail holds each screen once, so that going back and forth makes no circle", () => {
  trail.forget();
  const walked = (...paths) => {
    paths.forEach((path) => trail.to(path, path.toUpperCase()));
    return trail.from();
  };
  assert.equal(walked("/"), null);
  assert.deepEqual(walked("/g", "/g/lesson", "/g/log"), { path: "/g/lesson", title: "/G/LESSON" });
  assert.deepEqual(walked("/g/lesson"), { path: "/g", title: "/G" });
  assert.deepEqual(walked("/g/board"), { path: "/g/lesson", title: "/G/LESSON" });
  assert.equal(walked("/"), null);
  walked("/g");
  trail.forget();
  assert.equal(walked("/g"), null);
});
