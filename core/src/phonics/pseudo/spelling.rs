//! Whether the letters of a made-up word could be those of an English word.

/// Whether letters are spelt as English words are. English doubles f, l, s, z after one short vowel
/// letter (l and s in words of one syllable), ends no word in c, j, q or v, and writes ff, ck, tch,
/// dge, x and their like, nd and pt after one vowel letter (nd after ou too). A final d after
/// another consonant than l, n or r is a past tense misspelt (*feemd*), th after d and s after f a
/// noun or plural (*deadth*, *thifs*).
pub(super) fn looks_english(letters: &str) -> bool {
    let bytes = letters.as_bytes();
    let plain = bytes.iter().all(u8::is_ascii_lowercase);
    let thrice = bytes.windows(3).any(|w| w[0] == w[1] && w[1] == w[2]);
    let odd = ["uu", "ii", "aa", "iu"].iter().any(|s| letters.contains(s));
    plain && !thrice && !odd && !looks_past(letters) && ends_well(letters)
}

/// Whether letters look like a past tense: *thrued*, *blared*, but not *need* or *sled*.
pub(super) fn looks_past(letters: &str) -> bool {
    letters.strip_suffix("ed").is_some_and(|stem| !stem.ends_with('e') && vowel_groups(stem) > 0)
}

/// How many groups of vowel letters there are.
pub(super) fn vowel_groups(letters: &str) -> usize {
    let starts =
        |at: &usize| is_vowel(letters, *at) && !at.checked_sub(1).is_some_and(|b| is_vowel(letters, b));
    (0..letters.len()).filter(starts).count()
}

fn ends_well(letters: &str) -> bool {
    let ends = |endings: &[&str]| endings.iter().any(|e| letters.ends_with(e));
    let run_before = |ending: &&str| letters.strip_suffix(*ending).map(last_vowels);
    let single =
        ["f", "l", "s", "z"].iter().filter(|e| vowel_groups(letters) == 1 || !matches!(**e, "l" | "s"));
    let after_one = ["ff", "ll", "ss", "zz", "dd", "ck", "tch", "dge", "x", "pt", "nd"];
    let past = letters.strip_suffix('d').and_then(|stem| stem.bytes().last());
    !ends(&["c", "j", "q", "v", "dth", "fs", "ffs", "fss"])
        && !single.filter_map(run_before).any(|run| run == 1)
        && (ends(&["ound"]) || !after_one.iter().filter_map(run_before).any(|run| run != 1))
        && past.is_none_or(|b| b"aeiouylnrwd".contains(&b))
}

/// How many vowel letters stand at the end.
fn last_vowels(letters: &str) -> usize {
    (0..letters.len()).rev().take_while(|at| is_vowel(letters, *at)).count()
}

/// Whether a vowel letter stands there: y but at the beginning, u but after q.
fn is_vowel(letters: &str, at: usize) -> bool {
    let bytes = letters.as_bytes();
    let before = at.checked_sub(1).and_then(|b| bytes.get(b));
    match bytes.get(at) {
        Some(b'a' | b'e' | b'i' | b'o') => true,
        Some(b'u') => before != Some(&b'q'),
        Some(b'y') => before.is_some(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn english_endings_pass_and_others_do_not() {
        for word in
            ["bamp", "frowl", "squirth", "plick", "quiff", "glound", "prend", "sleed", "vibgom", "tromus"]
        {
            assert!(looks_english(word), "{word}");
        }
        for word in [
            "deadth", "criesd", "viesd", "feemd", "boamd", "neand", "kneept", "quifs", "thifs", "quif",
            "plav", "soaff", "peack", "ploux", "thrued", "toved", "mipped", "fraap", "plelll",
        ] {
            assert!(!looks_english(word), "{word}");
        }
    }
}
