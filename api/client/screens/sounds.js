// A pad of sounds, so that nobody has to write phonetic letters: each key is a sound of the school's sequence, shown by
// the letters that stand for it first and a word it is known by.

import { app } from "../lib/app.js";
import { button, fill, h } from "./dom.js";
import { lessons } from "./order.js";
import { inLetters, withWords } from "./sound_words.js";
import { spelled } from "./words.js";

/** Vowels of the International Phonetic Alphabet that English uses; a sound that begins with one is a vowel. */
const VOWEL = /^[iɪeɛæaɑʌəɜɔɒoʊu]/;

/**
 * The single sounds of the sequences kept here, by their letters: the sound, the letters that stand for it first, and a
 * word. What stands for several sounds, as x does, is two keys.
 * @returns {{phoneme: string, letters: string, keyword: string | null}[]}
 */
export function inventory() {
  const known = new Map();
  for (const version of app.store.list("sequence_version")) {
    for (const item of lessons(version).flatMap((lesson) => lesson.items)) {
      if (item.gpc && !/[. ]/.test(item.gpc.phoneme) && !known.has(item.gpc.phoneme)) {
        const { phoneme, grapheme } = item.gpc;
        known.set(phoneme, { phoneme, letters: spelled(grapheme), keyword: item.keyword ?? null });
      }
    }
  }
  return [...known.values()].sort((a, b) => a.letters.localeCompare(b.letters));
}

/**
 * What was heard, in letters: `b.ɪ.n` is "b · i · n".
 * @param {string} sounds
 */
export const heardAs = (sounds) => inLetters(sounds, inventory());

/**
 * Sounds with their words: "sh as in shop".
 * @param {string} sounds
 */
export const sounding = (sounds) => withWords(sounds, inventory());

/**
 * A reading to accept: a sound with its word, or a word in letters and below it the words of its sounds; the signs last.
 * @param {string} reading      in phonetic signs
 * @param {string | null} [word]  the word the sound of the item is told by, where there is one
 */
export function accepted(reading, word) {
  const known = inventory();
  const told = word ? `as in ${word}` : withWords(reading, known);
  const letters = inLetters(reading, known);
  return h(
    "li",
    {},
    letters.includes(" · ") && !word && [h("span", { class: "read" }, letters), ": "],
    told,
    told.includes("/") ? null : h("span", { class: "quiet" }, ` (/${reading}/)`),
  );
}

/**
 * The pad. `heard` gets the sounds as the API takes them, `b.ɪ.n`; null where none was touched.
 * @param {(heard: string | null) => void} done
 * @param {() => void} left  taken back without saying anything
 */
export function pad(done, left) {
  const all = inventory();
  /** @type {{phoneme: string, letters: string}[]} */
  const said = [];
  const shown = h("p", { class: "heard", role: "status" });
  const back = button(
    () => {
      said.pop();
      draw();
    },
    { class: "button" },
  );
  const draw = () => {
    fill(shown, said.length ? said.map((one) => one.letters).join(" · ") : "Nothing yet");
    fill(back, `Take back “${said.at(-1)?.letters}”`);
    back.hidden = !said.length;
  };
  const press = (/** @type {{phoneme: string, letters: string}} */ sound) => {
    said.push(sound);
    draw();
  };
  const keys = (/** @type {string} */ title, /** @type {typeof all} */ sounds) =>
    h(
      "div",
      { role: "group", "aria-label": title, class: "keys" },
      sounds.map((sound) =>
        button(
          () => press(sound),
          { class: "key" },
          h("span", { class: "read" }, sound.letters),
          h("span", { class: "apart" }, sound.keyword ?? `/${sound.phoneme}/`),
        ),
      ),
    );
  draw();
  return h(
    "section",
    { class: "pad", "aria-labelledby": "pad" },
    h("h2", { id: "pad" }, "What was heard?"),
    shown,
    keys(
      "Consonants",
      all.filter((sound) => !VOWEL.test(sound.phoneme)),
    ),
    keys(
      "Vowels",
      all.filter((sound) => VOWEL.test(sound.phoneme)),
    ),
    h(
      "p",
      { class: "acts foot" },
      button(
        () => done(said.length ? said.map((one) => one.phoneme).join(".") : null),
        { class: "button main" },
        "Wrong, as heard",
      ),
      back,
      button(left, { class: "button" }, "Not wrong after all"),
    ),
  );
}
