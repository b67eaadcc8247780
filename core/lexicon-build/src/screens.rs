//! Building the hashed screens: real spellings and sounds from the public lists, and offensive
//! words from a plain list that is given on the command line and never kept in the project.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::align::Costs;
use plumbline_core::phonics::guess;
use plumbline_core::phonics::inventory::Inventory;
use plumbline_core::phonics::near::neighbours;
use plumbline_core::phonics::phoneme::Phoneme;
use plumbline_core::phonics::screen::{STRING_LENGTHS, Space, hash, sound_key};
use plumbline_core::phonics::unit::Unit;

use crate::Error;
use crate::convert::Converter;
use crate::rows::{Built, phonemes};
use crate::sources::{Bands, Cmu, Lines, latin1};

/// A screen before it is written: sorted truncated hashes.
pub type Hashes = BTreeSet<[u8; 4]>;

/// Words longer than this are no neighbours of a made-up word.
const LONGEST_SPELLING: usize = 10;
const LONGEST_SOUND: usize = 8;

/// Every spelling of SCOWL up to a size, names and abbreviations included, of the CMU dictionary,
/// and of `more`.
///
/// # Errors
/// When the folder cannot be read.
pub fn real_words(scowl: &Path, largest: u8, cmu: &Cmu, more: &BTreeSet<String>) -> Result<Hashes, Error> {
    let mut out = Hashes::new();
    let mut add = |word: &str| {
        let lower = word.trim().to_lowercase();
        if lower.len() <= LONGEST_SPELLING && lower.bytes().all(|b| b.is_ascii_lowercase()) {
            out.insert(hash(Space::RealWord, &lower));
        }
    };
    for entry in fs::read_dir(scowl).map_err(|e| Error::read(scowl, &e))? {
        let path = entry.map_err(|e| Error::read(scowl, &e))?.path();
        let size = path.extension().and_then(|e| e.to_str()).unwrap_or("");
        if size.parse::<u8>().is_ok_and(|s| s <= largest) {
            let bytes = fs::read(&path).map_err(|e| Error::read(&path, &e))?;
            latin1(&bytes).lines().for_each(&mut add);
        }
    }
    cmu.keys().chain(more).for_each(|w| add(w));
    Ok(out)
}

/// The sounds of the lexicon and of every short word and name of the CMU dictionary, in each
/// supported accent; and by rule those of one syllable that only SCOWL lists (*thrum*), and of `more`.
#[must_use]
pub fn real_sounds(from: &Sounds<'_>, built: &Built, listed: &Bands, more: &BTreeSet<String>) -> Hashes {
    let Sounds { inventory, costs, converter, cmu } = *from;
    let mut out = Hashes::new();
    let mut add = |units: &[Unit]| {
        for (n, accent) in (0u8..).zip(Accent::SUPPORTED) {
            let sound = accent.pronounce(inventory, units);
            if sound.len() <= LONGEST_SOUND {
                out.insert(hash(Space::RealSound(n), &sound_key(&sound)));
            }
        }
    };
    for row in built.rows.values() {
        row.variants.iter().for_each(|v| add(&v.units));
    }
    for (word, list) in cmu {
        let plain = word.bytes().all(|b| b.is_ascii_lowercase() || b == b'\'');
        if plain && word.len() <= LONGEST_SPELLING {
            for american in list {
                let syllables = american.bytes().filter(u8::is_ascii_digit).count();
                if syllables <= 2
                    && let Some(c) = converter.run(word, american)
                {
                    add(&c.units);
                }
            }
        }
    }
    let guess = |word: &String| guess::by_rule(inventory, costs, word.as_bytes()).into_iter().next();
    let one_syllable =
        |units: &[Unit]| phonemes(inventory, units).iter().filter(|p| p.is_vowel()).count() == 1;
    let only_listed =
        listed.keys().filter(|w| plain(w) && !cmu.contains_key(*w) && !built.rows.contains_key(*w));
    only_listed.filter_map(guess).filter(|g| one_syllable(&g.units)).for_each(|g| add(&g.units));
    more.iter().filter_map(guess).for_each(|g| add(&g.units));
    out
}

/// The plain list: `[section]` headings, words separated by spaces.
#[derive(Debug, Default)]
pub struct Plain {
    /// Near-sounds to a wide limit are refused.
    pub severe: BTreeSet<String>,
    /// Near-sounds to a narrow limit are refused.
    pub offensive: BTreeSet<String>,
    /// Real words not for young children.
    pub unsuitable: BTreeSet<String>,
    /// Strings blocked anywhere.
    pub strings: BTreeSet<String>,
}

impl Plain {
    /// Reads the list.
    #[must_use]
    pub fn parse(text: &str) -> Self {
        let mut out = Self::default();
        let mut section = String::new();
        for line in Lines::of(text) {
            if let Some(name) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
                name.clone_into(&mut section);
                continue;
            }
            let set = match section.as_str() {
                "severe" => &mut out.severe,
                "offensive" => &mut out.offensive,
                "unsuitable" => &mut out.unsuitable,
                _ => &mut out.strings,
            };
            set.extend(line.split_whitespace().map(str::to_lowercase));
        }
        out
    }

    /// Strings blocked inside a made-up word: the listed ones, and severe words of four letters
    /// and more.
    #[must_use]
    pub fn blocked_strings(&self) -> Hashes {
        let long = self.severe.iter().filter(|w| w.len() >= 4);
        long.chain(&self.strings)
            .filter(|w| STRING_LENGTHS.contains(&w.len()))
            .map(|w| hash(Space::BlockedString, w))
            .collect()
    }

    /// Real words not for young children, with their plain endings; the `keep` words stay out
    /// (children's own list has the last word).
    #[must_use]
    pub fn unsuitable(&self, keep: impl Fn(&str) -> bool) -> Hashes {
        let listed = self.unsuitable.iter().chain(&self.severe);
        listed.flat_map(|w| forms(w)).filter(|w| !keep(w)).map(|w| hash(Space::Unsuitable, &w)).collect()
    }

    /// What no syllable of a made-up word may sound like: the severe and offensive words as they are,
    /// and with plain endings.
    #[must_use]
    pub fn offensive_parts(&self, sounds: &Sounds<'_>) -> Hashes {
        let all = self.severe.iter().chain(&self.offensive).flat_map(|w| sounds.of(w));
        let forms = all.flat_map(|sound| [with_endings(&sound), vec![sound]].concat());
        forms.map(|sound| hash(Space::OffensivePart, &sound_key(&sound))).collect()
    }

    /// Near-sounds of severe words (within 0.75) and of offensive ones (within 0.5); with a plain
    /// ending, those of severe words within 0.34, one feature of one consonant, and offensive words
    /// as they are; severe words with a sound put in; the words of `also` as they are. Each in every
    /// supported accent.
    #[must_use]
    pub fn offensive_sounds<'w>(&self, sounds: &Sounds<'_>, also: impl Iterator<Item = &'w str>) -> Hashes {
        let mut out = Hashes::new();
        let mut add = |sound: &[Phoneme]| out.insert(hash(Space::OffensiveSound, &sound_key(sound)));
        for (set, limit, inflected) in [(&self.severe, 0.75, 0.34), (&self.offensive, 0.5, 0.0)] {
            for sound in set.iter().flat_map(|w| sounds.of(w)) {
                neighbours(&sound, limit).iter().for_each(|near| _ = add(near));
                let stems = neighbours(&sound, inflected);
                stems.iter().flat_map(|s| with_endings(s)).for_each(|form| _ = add(&form));
            }
        }
        for sound in self.severe.iter().flat_map(|w| sounds.of(w)) {
            with_one_more(&sound).iter().for_each(|longer| _ = add(longer));
        }
        also.flat_map(|w| sounds.of(w)).for_each(|sound| _ = add(&sound));
        out
    }
}

/// A word with its plain endings, spelt as English adds them: *shop*, *shopped*; *bake*, *baking*,
/// *bakers*; *jelly*, *jellies*.
#[must_use]
pub fn forms(word: &str) -> Vec<String> {
    const VOWELS: &[char] = &['a', 'e', 'i', 'o', 'u'];
    let add = |stem: &str, endings: &[&str]| -> Vec<String> {
        endings.iter().map(|e| format!("{stem}{e}")).collect()
    };
    let mut out = add(word, &["", "s", "es", "ed", "er", "ers", "ing"]);
    if !word.ends_with(VOWELS) {
        out.extend(add(word, &["y"]));
    }
    if let Some(stem) = word.strip_suffix('e').filter(|s| !s.ends_with(VOWELS)) {
        out.extend(add(stem, &["ed", "er", "ers", "ing"]));
    }
    if let Some(stem) = word.strip_suffix('y').filter(|s| !s.ends_with(VOWELS)) {
        out.extend(add(stem, &["ies", "ied", "ier"]));
    }
    let letters: Vec<char> = word.chars().collect();
    if let [.., before, vowel, last] = letters[..]
        && VOWELS.contains(&vowel)
        && !VOWELS.contains(&before)
        && !VOWELS.contains(&last)
        && !matches!(last, 'w' | 'x' | 'y')
    {
        out.extend(add(&format!("{word}{last}"), &["ed", "ing"]));
    }
    out
}

/// A sound with each plain ending: plural, past, -ing, -er, -y.
fn with_endings(sound: &[Phoneme]) -> Vec<Vec<Phoneme>> {
    const ENDINGS: [&str; 10] = ["s", "z", "t", "d", "ɪ.d", "ɪ.z", "ɪ.ŋ", "ə", "ə.z", "i"];
    let endings = ENDINGS.iter().filter_map(|e| Phoneme::parse_sequence(e).ok());
    endings.map(|e| [sound, &e].concat()).collect()
}

/// A sound with a liquid after its first consonant (*blad* of *bad*), or with an s before it.
fn with_one_more(sound: &[Phoneme]) -> Vec<Vec<Phoneme>> {
    let Some((first, rest)) = sound.split_first().filter(|(f, _)| !f.is_vowel()) else {
        return Vec::new();
    };
    let find = |symbol| Phoneme::from_symbol(symbol);
    let liquids = ["l", "r", "w"].into_iter().filter_map(find);
    let mut out: Vec<Vec<Phoneme>> = liquids.map(|l| [&[*first, l], rest].concat()).collect();
    out.extend(find("s").map(|s| [&[s], sound].concat()));
    out
}

/// How words outside and inside the dictionary sound.
pub struct Sounds<'a> {
    /// The correspondences.
    pub inventory: &'a Inventory,
    /// Their costs, to guess what the dictionary lacks.
    pub costs: &'a Costs,
    /// From American to British.
    pub converter: &'a Converter<'a>,
    /// The dictionary.
    pub cmu: &'a Cmu,
}

impl Sounds<'_> {
    /// The sounds of a word in every supported accent, two to seven phonemes long.
    fn of(&self, word: &str) -> Vec<Vec<Phoneme>> {
        let american = self.cmu.get(word).into_iter().flatten();
        let mut units: Vec<Vec<Unit>> =
            american.filter_map(|p| self.converter.run(word, p)).map(|c| c.units).collect();
        if units.is_empty() {
            let guesses = guess::by_rule(self.inventory, self.costs, word.as_bytes());
            units.extend(guesses.into_iter().take(1).map(|a| a.units));
        }
        let mut out: Vec<Vec<Phoneme>> = units.iter().map(|u| phonemes(self.inventory, u)).collect();
        for accent in Accent::SUPPORTED {
            out.extend(units.iter().map(|u| accent.pronounce(self.inventory, u)));
        }
        out.retain(|s| (2..=7).contains(&s.len()));
        out.sort();
        out.dedup();
        out
    }
}

/// The words of the npm package `cuss` rated as at least sometimes profane: lines `word: rating,`.
#[must_use]
pub fn parse_cuss(text: &str) -> BTreeSet<String> {
    let rated = text.lines().filter_map(|l| l.trim().trim_end_matches(',').split_once(": "));
    let words = rated.filter(|(_, rating)| matches!(*rating, "1" | "2")).map(|(word, _)| word);
    words.filter(|w| plain(w)).map(str::to_owned).collect()
}

/// The words of the PyPI package `better-profanity`: one a line.
#[must_use]
pub fn parse_profanity(text: &str) -> BTreeSet<String> {
    text.lines().map(|l| l.trim().to_lowercase()).filter(|w| plain(w)).collect()
}

fn plain(word: &str) -> bool {
    !word.is_empty() && word.bytes().all(|b| b.is_ascii_lowercase())
}

/// A public list as a screen.
#[must_use]
pub fn listed(words: &BTreeSet<String>) -> Hashes {
    words.iter().map(|w| hash(Space::Listed, w)).collect()
}

/// Writes a screen.
///
/// # Errors
/// When the file cannot be written.
pub fn write(path: &Path, hashes: &Hashes) -> Result<String, Error> {
    let bytes: Vec<u8> = hashes.iter().flatten().copied().collect();
    fs::write(path, bytes).map_err(|e| Error::Write(path.display().to_string(), e.to_string()))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    Ok(format!("{name} {}", hashes.len()))
}
