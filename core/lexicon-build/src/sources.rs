//! Reading the sources: the CMU dictionary, SCOWL's lists, and the hand-written files.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::Error;

/// The lines of a hand-written file that hold data: no blanks, nothing after `#`.
pub struct Lines;

impl Lines {
    /// Iterates over them.
    pub fn of(text: &str) -> impl Iterator<Item = &str> {
        text.lines().map(|l| l.split('#').next().unwrap_or("").trim()).filter(|l| !l.is_empty())
    }
}

/// Pronunciations by lower-case word, in the dictionary's order, as ARPAbet text.
pub type Cmu = BTreeMap<String, Vec<String>>;

/// Reads the CMU dictionary: `word[(n)] PHONES [# comment]`.
#[must_use]
pub fn parse_cmu(text: &str) -> Cmu {
    let mut out = Cmu::new();
    for line in text.lines().filter(|l| !l.starts_with(";;;")) {
        let line = line.split('#').next().unwrap_or("").trim();
        if let Some((word, phones)) = line.split_once(char::is_whitespace) {
            let word = word.split('(').next().unwrap_or(word).to_lowercase();
            let phones = phones.split_whitespace().collect::<Vec<_>>().join(" ");
            let list = out.entry(word).or_default();
            if !list.contains(&phones) {
                list.push(phones);
            }
        }
    }
    out
}

/// A word with its frequency band: SCOWL's size, 10 the most common.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Banded {
    /// As written, capitals kept.
    pub shown: String,
    /// SCOWL's size: 10, 20, 35 ...
    pub band: u8,
}

/// Words by lower-case letters.
pub type Bands = BTreeMap<String, Banded>;

/// Reads SCOWL's British lists up to a size. Lower-case spelling wins over a capital one.
///
/// # Errors
/// When the folder cannot be read.
pub fn read_scowl(folder: &Path, largest: u8) -> Result<Bands, Error> {
    let mut names: Vec<(u8, String)> = Vec::new();
    for entry in fs::read_dir(folder).map_err(|e| Error::read(folder, &e))? {
        let entry = entry.map_err(|e| Error::read(folder, &e))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if let Some(size) = wanted(&name).filter(|s| *s <= largest) {
            names.push((size, name));
        }
    }
    names.sort();
    let mut bands = Bands::new();
    for (band, name) in names {
        let path = folder.join(&name);
        let bytes = fs::read(&path).map_err(|e| Error::read(&path, &e))?;
        for word in latin1(&bytes).lines().map(str::trim) {
            keep(&mut bands, word, band);
        }
    }
    Ok(bands)
}

fn wanted(name: &str) -> Option<u8> {
    let (list, size) = name.rsplit_once('.')?;
    let (language, kind) = list.split_once('-')?;
    let fits =
        matches!(language, "english" | "british") && matches!(kind, "words" | "upper" | "contractions");
    if fits { size.parse().ok() } else { None }
}

/// SCOWL's files are in ISO 8859-1, whose bytes are the first 256 code points.
#[must_use]
pub fn latin1(bytes: &[u8]) -> String {
    bytes.iter().map(|b| char::from(*b)).collect()
}

fn keep(bands: &mut Bands, word: &str, band: u8) {
    let plain = word.bytes().all(|b| b.is_ascii_alphabetic() || b == b'\'');
    let possessive = word.ends_with("'s") && !CONTRACTED_S.contains(&word.to_lowercase().as_str());
    let acronym = word.len() > 1 && word.bytes().all(|b| b.is_ascii_uppercase());
    let lower = word.to_lowercase();
    let lone = lower.len() == 1 && lower != "a" && lower != "i";
    if !plain || possessive || acronym || lone || word.is_empty() || word.starts_with('\'') {
        return;
    }
    let entry = bands.entry(lower).or_insert_with(|| Banded { shown: word.to_owned(), band });
    let capital = |w: &str| w.bytes().any(|b| b.is_ascii_uppercase());
    if capital(&entry.shown) && !capital(word) {
        word.clone_into(&mut entry.shown);
    }
}

/// Words in 's that are contractions and not possessives.
const CONTRACTED_S: [&str; 10] =
    ["it's", "he's", "she's", "that's", "what's", "who's", "where's", "there's", "here's", "let's"];

/// Hand-written pronunciations: `word <tab or spaces> variant [| variant]`.
#[must_use]
pub fn parse_overrides(text: &str) -> BTreeMap<String, Vec<String>> {
    Lines::of(text)
        .filter_map(|l| l.split_once(char::is_whitespace))
        .map(|(word, rest)| {
            let variants = rest.split('|').map(|v| v.trim().to_owned()).collect();
            (word.to_owned(), variants)
        })
        .collect()
}

/// The child-word list: `[band]` headings, then words separated by spaces.
#[must_use]
pub fn parse_child_words(text: &str) -> BTreeMap<String, u8> {
    let mut band = 0;
    let mut out = BTreeMap::new();
    for line in Lines::of(text) {
        if let Some(n) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
            band = n.parse().unwrap_or(0);
        } else {
            for word in line.split_whitespace() {
                out.entry(word.to_owned()).or_insert(band);
            }
        }
    }
    out
}

/// Reads a text file.
///
/// # Errors
/// When it cannot be read.
pub fn read(path: &Path) -> Result<String, Error> {
    let bytes = fs::read(path).map_err(|e| Error::read(path, &e))?;
    Ok(String::from_utf8(bytes).unwrap_or_else(|e| latin1(e.as_bytes())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cmu_lines_read_with_variants_and_comments() {
        let cmu = parse_cmu("a AH0\na(2) EY1\naalto AA1 L T # name\n");
        assert_eq!(cmu["a"], ["AH0", "EY1"]);
        assert_eq!(cmu["aalto"], ["AA1 L T"]);
    }

    #[test]
    fn lower_case_wins_and_possessives_go() {
        let mut bands = Bands::new();
        for (w, b) in [("Polish", 35), ("polish", 35), ("dog's", 10), ("it's", 10), ("USA", 10)] {
            keep(&mut bands, w, b);
        }
        assert_eq!(bands.len(), 2);
        assert_eq!(bands["polish"].shown, "polish");
    }
}
