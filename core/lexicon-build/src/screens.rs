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
use crate::sources::{Cmu, Lines, latin1};

/// A screen before it is written: sorted truncated hashes.
pub type Hashes = BTreeSet<[u8; 4]>;

/// Words longer than this are no neighbours of a made-up word.
const LONGEST_SPELLING: usize = 10;
const LONGEST_SOUND: usize = 8;

/// Every spelling of SCOWL up to a size, names and abbreviations included, and of the CMU
/// dictionary.
///
/// # Errors
/// When the folder cannot be read.
pub fn real_words(scowl: &Path, largest: u8, cmu: &Cmu) -> Result<Hashes, Error> {
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
    cmu.keys().for_each(|w| add(w));
    Ok(out)
}

/// The sounds of the lexicon and of every short word and name of the CMU dictionary, in each
/// supported accent.
#[must_use]
pub fn real_sounds(inventory: &Inventory, converter: &Converter<'_>, cmu: &Cmu, built: &Built) -> Hashes {
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
        const ENDINGS: [&str; 6] = ["", "s", "es", "ed", "ing", "er"];
        self.unsuitable
            .iter()
            .chain(&self.severe)
            .flat_map(|w| ENDINGS.map(|e| format!("{w}{e}")))
            .filter(|w| !keep(w))
            .map(|w| hash(Space::Unsuitable, &w))
            .collect()
    }

    /// Near-sounds of severe words (within 0.75) and of offensive ones (within 0.5), in each
    /// supported accent.
    #[must_use]
    pub fn offensive_sounds(
        &self,
        inventory: &Inventory,
        costs: &Costs,
        converter: &Converter<'_>,
        cmu: &Cmu,
    ) -> Hashes {
        let mut out = Hashes::new();
        for (set, limit) in [(&self.severe, 0.75), (&self.offensive, 0.5)] {
            for word in set {
                for sound in readings(inventory, costs, converter, cmu, word) {
                    for near in neighbours(&sound, limit) {
                        out.insert(hash(Space::OffensiveSound, &sound_key(&near)));
                    }
                }
            }
        }
        out
    }
}

fn readings(
    inventory: &Inventory,
    costs: &Costs,
    converter: &Converter<'_>,
    cmu: &Cmu,
    word: &str,
) -> Vec<Vec<Phoneme>> {
    let mut units: Vec<Vec<Unit>> =
        cmu.get(word).into_iter().flatten().filter_map(|p| converter.run(word, p)).map(|c| c.units).collect();
    if units.is_empty() {
        let guesses = guess::by_rule(inventory, costs, word.as_bytes());
        units.extend(guesses.into_iter().take(1).map(|a| a.units));
    }
    let mut out: Vec<Vec<Phoneme>> = units.iter().map(|u| phonemes(inventory, u)).collect();
    for accent in Accent::SUPPORTED {
        out.extend(units.iter().map(|u| accent.pronounce(inventory, u)));
    }
    out.retain(|s| (2..=7).contains(&s.len()));
    out.sort();
    out.dedup();
    out
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
