// Sounds in letters and words, for who does not read phonetic signs.

import assert from "node:assert/strict";
import { test } from "node:test";

import { inLetters, soundsOf, withWords, withoutSigns } from "../../api/client/screens/sound_words.js";

const sound = (phoneme, letters, keyword = null) => ({ phoneme, letters, keyword });
const known = [sound("ʃ", "sh", "shed"), sound("e", "e", "egg"), sound("l", "l", "log"), sound("f", "f"), sound("eɪ", "ai", "tail"),
  sound("t", "t", "tub"), sound("tʃ", "ch", "chip"), sound("uː", "oo", "moon"), sound("ʊ", "oo", "foot"), sound("b", "b", "bus")];

test("a reading without separators comes apart into the longest sounds there are", () => {
  assert.deepEqual(soundsOf("ʃelf", known).map((one) => one.phoneme), ["ʃ", "e", "l", "f"]);
  assert.deepEqual(soundsOf("teɪl", known).map((one) => one.letters), ["t", "ai", "l"]);
  assert.deepEqual(soundsOf("tʃe", known).map((one) => one.letters), ["ch", "e"]);
  assert.deepEqual(soundsOf("t.ʃ.e", known).map((one) => one.letters), ["t", "sh", "e"]);
  // Of a sentence, whose words are apart.
  assert.deepEqual(soundsOf("let bʊf", known).map((one) => one.letters), ["l", "e", "t", "b", "oo", "f"]);
});

test("it is told in letters, with a word where letters stand for several sounds", () => {
  assert.equal(inLetters("ʃelf", known), "sh · e · l · f");
  assert.equal(inLetters("buːt", known), "b · oo (moon) · t");
  assert.equal(inLetters("b.ʊ", known), "b · oo (foot)");
});

test("each sound has its word, once; what is unknown stays a sign, with the marks that belong to it", () => {
  assert.equal(withWords("eɪ", known), "ai as in tail");
  assert.equal(withWords("tet", known), "t as in tub, e as in egg");
  assert.equal(withWords("fɑː", known), "f, /ɑː/");
  assert.equal(withWords("ɛ̃", known), "/ɛ̃/");
  assert.equal(withWords("", known), "");
});

test("titles say a word where the sequence has one for the sound", () => {
  const words = { "th:θ": "thin", "th:ð": "this", "a_e:eɪ": "cake", "x:k.s": "box" };
  const told = (text) => withoutSigns(text, (gpc) => words[gpc] ?? null);
  assert.equal(told("Read and spell with th /θ/ and th /ð/"), "Read and spell with th as in thin and th as in this");
  assert.equal(told("review of a_e /eɪ/"), "review of a_e as in cake");
  assert.equal(told("x /k s/"), "x as in box");
  assert.equal(told("zh /ʒ/, and/or m"), "zh /ʒ/, and/or m");
});
