// Sounds in letters and in words that they are known by: few who stand on a carpet read phonetic signs. Pure.

/**
 * A sound of the school's sequence: the letters that stand for it first, and a word it is known by.
 * @typedef {{phoneme: string, letters: string, keyword: string | null}} Sound
 */

/**
 * A reading taken apart into the sounds that are known, the longest first; a sign that belongs to none stands by itself.
 * @param {string} reading  in phonetic signs, `ʃɪp`; with dots between the sounds, `ʃ.ɪ.p`, where they are known
 * @param {Sound[]} known
 * @returns {Sound[]} of what is unknown the sign with slashes for its letters
 */
export function soundsOf(reading, known) {
  const longest = [...known].sort((a, b) => b.phoneme.length - a.phoneme.length);
  const found = [];
  for (let rest = reading; rest;) {
    const sound = longest.find((one) => rest.startsWith(one.phoneme));
    // A sign with the marks that belong to it, as ː does.
    const sign = sound?.phoneme ?? (/^.[ːˑ\p{M}]*/su.exec(rest)?.[0] || rest);
    if (!/^[.\s]$/.test(sign)) {
      found.push(sound ?? { phoneme: sign, letters: `/${sign}/`, keyword: null });
    }
    rest = rest.slice(sign.length);
  }
  return found;
}

/**
 * A reading in letters: "sh · i · p". Letters that stand for several sounds have a word beside them: "b · oo (moon) · t".
 * @param {string} reading
 * @param {Sound[]} known
 */
export const inLetters = (reading, known) =>
  soundsOf(reading, known)
    .map((sound) => {
      const shared = known.some((one) => one.letters === sound.letters && one.phoneme !== sound.phoneme);
      return shared && sound.keyword ? `${sound.letters} (${sound.keyword})` : sound.letters;
    })
    .join(" · ");

/**
 * Each sound of a reading with its word, once: "sh as in shop, i as in ink".
 * @param {string} reading
 * @param {Sound[]} known
 */
export const withWords = (reading, known) => [
  ...new Set(
    soundsOf(reading, known).map((sound) =>
      sound.keyword ? `${sound.letters} as in ${sound.keyword}` : sound.letters,
    ),
  ),
].join(", ");

/**
 * A title or label with the words of its sounds in the place of their signs: "th /θ/" is "th as in thin".
 * @param {string} text
 * @param {(gpc: string) => string | null} keyword  of a correspondence as the API writes it, `th:θ`
 */
export const withoutSigns = (text, keyword) =>
  text.replace(/(\p{L}[\p{L}_]*) \/([^/]+)\//gu, (all, letters, phoneme) => {
    const word = keyword(`${letters}:${phoneme.replaceAll(" ", ".")}`);
    return word ? `${letters} as in ${word}` : all;
  });
