//! The lexicon: 32,000 words with their British readings, read from the committed file and kept
//! in a few flat arrays. Looking a word up is a binary search without allocation.

use std::cmp::Ordering;
use unicode_normalization::{UnicodeNormalization as _, char::is_combining_mark};

use super::data::{self, DataError};
use super::fixed::Map;
use super::inventory::Inventory;
use super::school::SchoolWord;
use super::unit::{Tag, Unit};

/// All words, sorted by their lower-case letters.
#[derive(Debug, Clone)]
pub struct Lexicon {
    entries: Vec<Entry>,
    variants: Vec<Span>,
    units: Vec<Unit>,
    /// The letters of words that are not in the embedded file.
    added: String,
}

#[derive(Debug, Clone, Copy)]
enum Shown {
    Embedded(&'static str),
    Added { start: u32, len: u8 },
}

#[derive(Debug, Clone, Copy)]
struct Entry {
    shown: Shown,
    first: u32,
    count: u8,
    band: u8,
    child: u8,
    homograph: bool,
}

#[derive(Debug, Clone, Copy)]
struct Span {
    start: u32,
    len: u8,
    stress: &'static str,
}

/// The band of words that are in no frequency list.
const NO_BAND: u8 = 70;

/// The number of a word in the lexicon. Not stable between releases.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct WordId(pub(crate) u32);

/// One word of the lexicon.
#[derive(Debug, Clone, Copy)]
pub struct LexWord<'a> {
    lexicon: &'a Lexicon,
    entry: Entry,
    /// Its number.
    pub id: WordId,
}

/// One reading of a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading<'a> {
    /// The units in order.
    pub units: &'a [Unit],
    /// A stress digit (1 primary, 2 secondary, 0 none) a vowel, or `-` where unknown.
    pub stress: &'a str,
}

impl Lexicon {
    /// Reads the embedded file.
    ///
    /// # Errors
    /// [`DataError`] naming the line, when the file of this build is damaged or out of order.
    pub fn load(inventory: &Inventory) -> Result<Self, DataError> {
        let mut lexicon = Self::parse(data::LEXICON, inventory)?;
        for (line, text) in data::lines(data::HOMOGRAPHS) {
            for word in text.split(' ') {
                let at = lexicon.entries.binary_search_by(|e| compare(lexicon.text(*e), word));
                let entry = at.ok().and_then(|at| lexicon.entries.get_mut(at)).filter(|e| e.count > 1);
                let bad = || DataError::new("homographs.txt", line, format!("{word} has no two readings"));
                entry.ok_or_else(bad)?.homograph = true;
            }
        }
        Ok(lexicon)
    }

    /// Reads lines of `word <tab> band <tab> child band <tab> units|stress <tab> ...`.
    ///
    /// # Errors
    /// As [`Lexicon::load`].
    pub fn parse(text: &'static str, inventory: &Inventory) -> Result<Self, DataError> {
        const FILE: &str = "lexicon.tsv";
        let mut lexicon = Self {
            entries: Vec::with_capacity(34_000),
            variants: Vec::with_capacity(40_000),
            units: Vec::with_capacity(256 * 1024),
            added: String::new(),
        };
        let mut tokens: Map<&'static str, Unit> = Map::default();
        for (line, text) in data::lines(text) {
            lexicon.read_line(text, inventory, &mut tokens).map_err(|why| DataError::new(FILE, line, why))?;
        }
        Ok(lexicon)
    }

    fn read_line(
        &mut self,
        line: &'static str,
        inventory: &Inventory,
        tokens: &mut Map<&'static str, Unit>,
    ) -> Result<(), String> {
        let mut cells = line.split('\t');
        let mut cell = || cells.next().ok_or_else(|| "too few cells".to_owned());
        let shown = cell()?;
        let band = cell()?.parse().map_err(|_| "band".to_owned())?;
        let child = cell()?.parse().map_err(|_| "child band".to_owned())?;
        if let Some(last) = self.entries.last()
            && compare(self.text(*last), shown) != Ordering::Less
        {
            return Err(format!("{shown} is out of order"));
        }
        let first = u32::try_from(self.variants.len()).map_err(|e| e.to_string())?;
        let mut count = 0;
        for cell in cells {
            let (units, stress) = cell.split_once('|').ok_or("no stress")?;
            let start = u32::try_from(self.units.len()).map_err(|e| e.to_string())?;
            for token in units.split(' ') {
                let unit = match tokens.get(token) {
                    Some(unit) => *unit,
                    None => {
                        let unit = inventory.parse_token(token).map_err(|e| e.to_string())?;
                        tokens.insert(token, unit);
                        unit
                    }
                };
                self.units.push(unit);
            }
            mark_weak(inventory, self.units.get_mut(start as usize..), stress);
            let len = self.units.len() - start as usize;
            let len = u8::try_from(len).map_err(|e| e.to_string())?;
            self.variants.push(Span { start, len, stress });
            count += 1;
        }
        if count == 0 {
            return Err(format!("{shown} has no reading"));
        }
        self.entries.push(Entry {
            shown: Shown::Embedded(shown),
            first,
            count,
            band,
            child,
            homograph: false,
        });
        Ok(())
    }

    fn text(&self, entry: Entry) -> &str {
        match entry.shown {
            Shown::Embedded(text) => text,
            Shown::Added { start, len } => {
                let start = start as usize;
                self.added.get(start..start + usize::from(len)).unwrap_or("")
            }
        }
    }

    /// The same lexicon with a school's words: each takes the place of a word of the same letters
    /// or is added, in child band 1. Word numbers change.
    #[must_use]
    pub fn with_words(&self, words: &[SchoolWord]) -> Self {
        let mut out = self.clone();
        for word in words {
            let found = out.entries.binary_search_by(|e| compare(out.text(*e), word.shown()));
            let Some(entry) = out.add(word) else {
                continue;
            };
            match found {
                Ok(at) => {
                    if let Some(old) = out.entries.get_mut(at) {
                        *old = Entry { band: old.band, ..entry };
                    }
                }
                Err(at) => out.entries.insert(at, entry),
            }
        }
        out
    }

    fn add(&mut self, word: &SchoolWord) -> Option<Entry> {
        let first = u32::try_from(self.variants.len()).ok()?;
        let text = u32::try_from(self.added.len()).ok()?;
        for units in word.readings() {
            let start = u32::try_from(self.units.len()).ok()?;
            self.units.extend_from_slice(units);
            self.variants.push(Span { start, len: u8::try_from(units.len()).ok()?, stress: "-" });
        }
        self.added.push_str(word.shown());
        Some(Entry {
            shown: Shown::Added { start: text, len: u8::try_from(word.shown().len()).ok()? },
            first,
            count: u8::try_from(word.readings().len()).ok()?,
            band: NO_BAND,
            child: 1,
            homograph: false,
        })
    }

    /// The number of words.
    #[must_use]
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The word with these letters, in any case; apostrophes count.
    #[must_use]
    pub fn find(&self, word: &str) -> Option<LexWord<'_>> {
        let at = self.entries.binary_search_by(|e| compare(self.text(*e), word)).ok()?;
        self.get(WordId(u32::try_from(at).ok()?))
    }

    /// The word with that number.
    #[must_use]
    pub fn get(&self, id: WordId) -> Option<LexWord<'_>> {
        let entry = *self.entries.get(id.0 as usize)?;
        Some(LexWord { lexicon: self, entry, id })
    }

    /// All words in alphabetical order.
    pub fn iter(&self) -> impl Iterator<Item = LexWord<'_>> {
        (0u32..).zip(&self.entries).map(|(i, entry)| LexWord { lexicon: self, entry: *entry, id: WordId(i) })
    }

    /// Bytes held on the heap (the text itself is part of the program).
    #[must_use]
    pub fn heap_bytes(&self) -> usize {
        self.entries.capacity() * size_of::<Entry>()
            + self.variants.capacity() * size_of::<Span>()
            + self.units.capacity() * size_of::<Unit>()
            + self.added.capacity()
    }
}

impl<'a> LexWord<'a> {
    /// As shown to a child: capitals where the word needs them (*I*, *Monday*).
    #[must_use]
    pub fn shown(&self) -> &'a str {
        self.lexicon.text(self.entry)
    }

    /// SCOWL's size class: 10 the most common words, then 20, 35; 70 where no class is known.
    #[must_use]
    pub fn band(&self) -> u8 {
        self.entry.band
    }

    /// 1 to 3 for words children of 4 to 7 know, commonest first; 0 for others.
    #[must_use]
    pub fn child_band(&self) -> u8 {
        self.entry.child
    }

    /// Its readings, best first; never empty.
    pub fn readings(&self) -> impl ExactSizeIterator<Item = Reading<'a>> + use<'a> {
        let lexicon = self.lexicon;
        let first = self.entry.first as usize;
        let spans = lexicon.variants.get(first..first + usize::from(self.entry.count)).unwrap_or(&[]);
        spans.iter().map(|s| {
            let start = s.start as usize;
            let units = lexicon.units.get(start..start + usize::from(s.len));
            Reading { units: units.unwrap_or(&[]), stress: s.stress }
        })
    }

    /// The readings it may have where it stands alone: all, but of two words of one spelling, such
    /// as *minute*, only the commoner one.
    pub fn readings_alone(&self) -> impl Iterator<Item = Reading<'a>> + use<'a> {
        self.readings().take(if self.entry.homograph { 1 } else { usize::MAX })
    }

    /// A number that orders words for a child: known words first, then common ones.
    #[must_use]
    pub fn rank(&self) -> u8 {
        match (self.entry.child, self.entry.band) {
            (child @ 1..=3, _) => child,
            (_, 0..=10) => 4,
            (_, 11..=20) => 5,
            (_, 21..=35) => 6,
            _ => 7,
        }
    }
}

/// Tags the units whose vowels are unstressed, in words of more than one vowel. Where the stress
/// is not known, only the vowels that are always weak count.
fn mark_weak(inventory: &Inventory, units: Option<&mut [Unit]>, stress: &str) {
    let mut digits = stress.bytes();
    let several = stress.len() > 1 || stress == "-";
    for unit in units.into_iter().flatten() {
        let phonemes = inventory.get(unit.id()).map_or(&[][..], |c| c.gpc.phonemes());
        let mut weak = None;
        for vowel in phonemes.iter().filter(|p| p.is_vowel()) {
            let this = match digits.next() {
                Some(b'-') | None => matches!(vowel.symbol(), "ə" | "i" | "u"),
                Some(digit) => digit == b'0',
            };
            weak = Some(weak.unwrap_or(true) && this);
        }
        if several && weak == Some(true) {
            *unit = unit.with(Tag::Weak);
        }
    }
}

/// Orders words by their letters without regard to case and accents. Only a school's own words
/// have accents.
fn compare(a: &str, b: &str) -> Ordering {
    if !a.is_ascii() || !b.is_ascii() {
        let plain = |text: &str| -> String {
            text.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).collect()
        };
        return plain(a).cmp(&plain(b));
    }
    a.bytes().map(|c| c.to_ascii_lowercase()).cmp(b.bytes().map(|c| c.to_ascii_lowercase()))
}
