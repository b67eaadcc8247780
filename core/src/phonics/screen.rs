//! Hashed screens: what a made-up word must not be, hold or sound like, and which real words are
//! not for young children. The lists are in the program only as truncated SHA-256 hashes; the
//! nearness of sounds is worked out when they are built (see [`super::near`]).

use sha2::{Digest, Sha256};

use super::data;
use super::phoneme::Phoneme;

/// Bytes of one entry of a screen.
const WIDTH: usize = 4;
/// The shortest and longest strings the blocked-string screen looks for inside a word.
pub const STRING_LENGTHS: std::ops::RangeInclusive<usize> = 3..=8;

/// A sorted array of truncated hashes. Looking up is a binary search; about one in ten thousand
/// innocent texts is refused by chance, which only costs another candidate.
#[derive(Debug, Clone, Copy)]
pub struct HashSet(&'static [u8]);

/// The kinds of text hashed; each has its own space.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Space {
    /// Spellings of real words and names.
    RealWord,
    /// Pronunciations of real words and names, one space an accent.
    RealSound(u8),
    /// Pronunciations near those of offensive words.
    OffensiveSound,
    /// Pronunciations that no syllable of a longer word may have.
    OffensivePart,
    /// Strings blocked anywhere in a word.
    BlockedString,
    /// Real words that are not for young children.
    Unsuitable,
    /// Words of a public list of profanity.
    Listed,
}

/// The hash of a text in a space: the first four bytes of SHA-256.
#[must_use]
pub fn hash(space: Space, text: &str) -> [u8; WIDTH] {
    let (tag, accent) = match space {
        Space::RealWord => (b'w', 0),
        Space::RealSound(accent) => (b's', accent),
        Space::OffensiveSound => (b'o', 0),
        Space::OffensivePart => (b'p', 0),
        Space::BlockedString => (b'b', 0),
        Space::Unsuitable => (b'u', 0),
        Space::Listed => (b'l', 0),
    };
    let mut digest = Sha256::new();
    digest.update([tag, accent]);
    digest.update(text.as_bytes());
    let bytes = digest.finalize();
    let mut out = [0; WIDTH];
    out.copy_from_slice(&bytes[..WIDTH]);
    out
}

impl HashSet {
    /// Whether it holds a text.
    #[must_use]
    pub fn holds(&self, space: Space, text: &str) -> bool {
        let wanted = hash(space, text);
        let (mut low, mut high) = (0, self.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            let at = middle * WIDTH;
            match self.0.get(at..at + WIDTH).map(|e| e.cmp(&wanted[..])) {
                Some(std::cmp::Ordering::Less) => low = middle + 1,
                Some(std::cmp::Ordering::Greater) => high = middle,
                Some(std::cmp::Ordering::Equal) => return true,
                None => return false,
            }
        }
        false
    }

    /// The number of entries.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len() / WIDTH
    }

    /// Whether it has none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Whether a real word may be shown to children of four to seven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Suitability {
    /// Yes.
    Fine,
    /// An adult decides; never shown to children of itself.
    Review(ReviewCause),
    /// Never.
    Blocked,
}

/// Why an adult decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReviewCause {
    /// The list made by hand names it.
    HandList,
    /// Both public lists name it.
    TwoLists,
}

/// The screens.
#[derive(Debug, Clone, Copy)]
pub struct Screen {
    /// Spellings of real words and names.
    pub real_words: HashSet,
    /// Their pronunciations in each supported accent.
    pub real_sounds: HashSet,
    /// Near-sounds of offensive words, and those of syllables.
    pub offensive_sounds: HashSet,
    /// Strings blocked inside words.
    pub blocked_strings: HashSet,
    /// Real words not for young children.
    pub unsuitable: HashSet,
    /// Two public lists of profanity; what both name is put to the vote.
    pub lists: [HashSet; 2],
}

impl Screen {
    /// The screens of this build.
    #[must_use]
    pub fn embedded() -> Self {
        Self {
            real_words: HashSet(data::REAL_WORDS),
            real_sounds: HashSet(data::REAL_SOUNDS),
            offensive_sounds: HashSet(data::OFFENSIVE_SOUNDS),
            blocked_strings: HashSet(data::BLOCKED_STRINGS),
            unsuitable: HashSet(data::UNSUITABLE),
            lists: [HashSet(data::CUSS), HashSet(data::PROFANITY)],
        }
    }

    /// Whether a spelling is that of a real word or name.
    #[must_use]
    pub fn is_real_word(&self, letters: &str) -> bool {
        self.real_words.holds(Space::RealWord, letters)
    }

    /// Whether a pronunciation in an accent (its place in
    /// [`super::accent::Accent::SUPPORTED`]) is that of a real word or name.
    #[must_use]
    pub fn sounds_real(&self, accent: u8, phonemes: &[Phoneme]) -> bool {
        self.sounds_real_key(accent, &sound_key(phonemes))
    }

    /// The same of a sound already written with [`sound_key`].
    pub(super) fn sounds_real_key(&self, accent: u8, key: &str) -> bool {
        self.real_sounds.holds(Space::RealSound(accent), key)
    }

    /// Whether a pronunciation is that of an offensive word, or close to one.
    #[must_use]
    pub fn sounds_offensive(&self, phonemes: &[Phoneme]) -> bool {
        self.sounds_offensive_key(&sound_key(phonemes))
    }

    /// The same of a sound already written with [`sound_key`].
    pub(super) fn sounds_offensive_key(&self, key: &str) -> bool {
        self.offensive_sounds.holds(Space::OffensiveSound, key)
    }

    /// Whether a pronunciation, as [`sound_key`] writes it, is one no syllable of a word may have.
    pub(super) fn part_offends_key(&self, key: &str) -> bool {
        self.offensive_sounds.holds(Space::OffensivePart, key)
    }

    /// Whether a blocked string stands anywhere in the letters, or a word of four letters and more
    /// that both public lists name, or the letters are a word of either.
    #[must_use]
    pub fn holds_blocked(&self, letters: &str) -> bool {
        let part = |s: &str| {
            self.blocked_strings.holds(Space::BlockedString, s) || (s.len() > 3 && self.in_both_lists(s))
        };
        self.lists.iter().any(|l| l.holds(Space::Listed, letters))
            || (0..letters.len())
                .any(|start| STRING_LENGTHS.map_while(|n| letters.get(start..start + n)).any(part))
    }

    /// Whether both public lists name a word.
    #[must_use]
    pub fn in_both_lists(&self, word: &str) -> bool {
        self.lists.iter().all(|l| l.holds(Space::Listed, word))
    }

    /// Whether a real word may be shown to children of four to seven without review.
    #[must_use]
    pub fn suits_children(&self, word: &str) -> bool {
        self.suitability(word) == Suitability::Fine
    }

    /// Whether a real word may be shown to children: what the hand list or both public lists name
    /// is for review, and blocked where the word itself is one of the blocked strings. Children's
    /// own words are not the screen's to judge ([`super::bank::Audience`]).
    #[must_use]
    pub fn suitability(&self, word: &str) -> Suitability {
        let lower = word.to_lowercase();
        if !self.unsuitable.holds(Space::Unsuitable, &lower) {
            if self.in_both_lists(&lower) {
                Suitability::Review(ReviewCause::TwoLists)
            } else {
                Suitability::Fine
            }
        } else if self.blocked_strings.holds(Space::BlockedString, &lower) {
            Suitability::Blocked
        } else {
            Suitability::Review(ReviewCause::HandList)
        }
    }
}

/// A pronunciation as the sound screens hash it: symbols joined by dots, the weak /i/ and /u/
/// taken as the long ones, /ʊə/ as /ɔː/.
#[must_use]
pub fn sound_key(phonemes: &[Phoneme]) -> String {
    let symbols: Vec<&str> = phonemes
        .iter()
        .map(|p| match p.symbol() {
            "i" => "iː",
            "u" => "uː",
            "ʊə" => "ɔː",
            "ʍ" => "w",
            s => s,
        })
        .collect();
    symbols.join(".")
}
