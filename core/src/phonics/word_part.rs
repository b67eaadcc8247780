//! Parts and kinds of words that a lesson may be about, read from how the curriculum and schools
//! name them: *suffix -er for a person*, *un-*, *contractions*, *words with adjacent consonants*.

use super::Engine;
use super::gpc::Gpc;
use super::inventory::Inventory;
use super::lexicon::{LexWord, Reading};
use super::stem::{Joined, ending_units, stems, takes};
use super::unit::Unit;

/// What words of a lesson have in common beside correspondences.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WordPart {
    /// A word with this ending, without a hyphen.
    Suffix {
        /// The ending.
        ending: String,
        /// How it must join, if the label says.
        joined: Joined,
        /// Another ending the word must take as well: -er of *bigger* goes with -est, that of
        /// *teacher* with -ing, and that of *hammer* with neither.
        beside: Option<&'static str>,
    },
    /// A word with this beginning, without a hyphen.
    Prefix(String),
    /// A word shortened with an apostrophe.
    Contraction,
    /// A word with the apostrophe of an owner.
    Possessive,
    /// Two words in one.
    Compound,
    /// Words named one by one, in lower case: *to*, *too*, *two*.
    Named(Vec<String>),
    /// So many consonants in a row, at a place.
    Adjacent {
        /// At least how many sounds.
        sounds: usize,
        /// Where.
        at: Place,
    },
    /// At least two syllables.
    Syllables,
}

/// How well children know what a word of a kind is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Made {
    /// Of words nearly every child of six knows.
    OfKnownWords,
    /// Of others.
    OfOthers,
}

/// A place in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// At its beginning.
    Beginning,
    /// At its end.
    End,
    /// Anywhere.
    Anywhere,
}

impl WordPart {
    /// What a label names; nothing where it is not understood. Capitals and the kind of apostrophe
    /// do not matter.
    #[must_use]
    pub fn parse(label: &str) -> Vec<Self> {
        let label = label.replace('\u{2019}', "'").to_lowercase();
        let mut out = affixes(&label);
        let says = |what: &str| says(&label, what);
        if says("contraction-") {
            out.push(Self::Contraction);
        }
        if says("possess-") || says("apostrophe-") && says("owner-") {
            out.push(Self::Possessive);
        } else if says("apostrophe-") {
            out.extend([Self::Contraction, Self::Possessive]);
        }
        if says("compound-") {
            out.push(Self::Compound);
        }
        if says("adjacent consonant-") {
            let at = match (says("beginning") || says("start"), says("end") || says("ends")) {
                (true, false) => Place::Beginning,
                (false, true) => Place::End,
                _ => Place::Anywhere,
            };
            out.push(Self::Adjacent { sounds: if says("three") { 3 } else { 2 }, at });
        } else if says("syllable-") {
            out.push(Self::Syllables);
        }
        out.extend(named(&label));
        out
    }

    /// Whether a word, as one of its readings, is of the kind, and of what it is made.
    #[must_use]
    pub fn fits(&self, engine: &Engine, word: &LexWord<'_>, reading: &Reading<'_>) -> Option<Made> {
        let shown = word.shown();
        let made = |of: &LexWord<'_>| match of.child_band() {
            1 | 2 => Made::OfKnownWords,
            _ => Made::OfOthers,
        };
        let whole = |fits: bool| fits.then(|| made(word));
        let named = |fits: bool| fits.then_some(Made::OfKnownWords);
        let alike = |kind: &str| engine.look_alikes().has(kind, shown);
        match self {
            Self::Suffix { ending, .. } if !shown.ends_with(ending.as_str()) => None,
            Self::Suffix { ending, joined, beside } => stems(engine, shown, ending, reading)
                .filter(|(_, how)| how.is(*joined, ending))
                .filter(|(stem, _)| beside.is_none_or(|b| takes(engine, stem.shown(), b)))
                // *slower* says how slow, not who slows.
                .filter(|(stem, _)| *beside != Some("ing") || !takes(engine, stem.shown(), "est"))
                .map(|(stem, _)| made(&stem))
                .min(),
            Self::Prefix(start) => before_a_word(engine, shown, reading, start)
                .filter(|_| !alike(&format!("{start}-")))
                .map(|rest| made(&rest)),
            Self::Contraction => named(shortened(shown) && !of_an_owner(shown) && !alike("contraction")),
            Self::Possessive => named(of_an_owner(shown)),
            Self::Compound => whole(
                (3..shown.len().saturating_sub(2))
                    .any(|at| shown.is_char_boundary(at) && two_words(engine, shown.split_at(at), reading))
                    && !alike("compound"),
            ),
            Self::Named(words) => named(words.contains(&shown.to_lowercase())),
            Self::Adjacent { sounds, at } => whole(adjacent(engine.inventory(), reading.units, *sounds, *at)),
            Self::Syllables => whole(vowels(engine.inventory(), reading.units) > 1),
        }
    }

    /// How many of the last units of a word of the kind are the ending it is about.
    pub(super) fn own_units(&self, engine: &Engine, reading: &Reading<'_>) -> usize {
        match self {
            Self::Suffix { ending, .. } => ending_units(engine.inventory(), reading.units, ending),
            _ => 0,
        }
    }
}

/// Whether a label has a word, or one that begins with it where it ends in a hyphen.
fn says(label: &str, what: &str) -> bool {
    let words: Vec<&str> =
        label.split(|c: char| !c.is_ascii_alphabetic()).filter(|word| !word.is_empty()).collect();
    let wanted: Vec<&str> = what.split(' ').collect();
    words.windows(wanted.len()).any(|row| {
        { row.iter().zip(&wanted) }.all(|(word, wanted)| {
            let start = wanted.strip_suffix('-');
            start.map_or(word == wanted, |start| word.starts_with(start))
        })
    })
}

/// Whether a word ends in what is left of another one: *'m*, *'ll*, *n't*; not *o'clock*.
fn shortened(word: &str) -> bool {
    word.rsplit_once('\'').is_some_and(|(_, left)| (1..=2).contains(&left.len()))
}

/// A name with *'s*. Of other words, which no list has with an owner's apostrophe, *'s* is *is*, *has*
/// or *us*: *it's*, *let's*.
fn of_an_owner(word: &str) -> bool {
    word.ends_with("'s") && word.starts_with(char::is_uppercase)
}

/// Endings and beginnings: tokens with a hyphen at one side and letters only.
fn affixes(label: &str) -> Vec<WordPart> {
    let tokens = || label.split(|c: char| !c.is_ascii_alphabetic() && c != '-');
    let letters = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_lowercase());
    let endings: Vec<&str> = tokens().filter_map(|t| t.strip_prefix('-')).filter(|t| letters(t)).collect();
    let joined = if label.contains("y changes") {
        Joined::ToY
    } else if label.contains("e is dropped") || label.contains("drop the e") {
        Joined::DroppingE
    } else if label.contains("doubl") {
        Joined::Doubling
    } else {
        Joined::Any
    };
    let beside = |ending: &str| match ending {
        "er" if endings.contains(&"est") && joined == Joined::Any => Some("est"),
        "er" if joined == Joined::Any => Some("ing"),
        "est" => Some("er"),
        _ => None,
    };
    let suffix =
        |ending: &&str| WordPart::Suffix { ending: (*ending).to_owned(), joined, beside: beside(ending) };
    let starts = tokens().filter_map(|t| t.strip_suffix('-')).filter(|t| letters(t));
    endings.iter().map(suffix).chain(starts.map(|t| WordPart::Prefix(t.to_owned()))).collect()
}

/// The words a label lists after a colon, or the one with an apostrophe.
fn named(label: &str) -> Option<WordPart> {
    let listed = label.split_once(':').map_or("", |(_, list)| list);
    let one = |text: &str| text.bytes().all(|b| b.is_ascii_lowercase() || b == b'\'');
    let items = listed.split([',', ';']).flat_map(|t| t.split(" and ")).map(str::trim);
    let mut words: Vec<String> = items.filter(|t| !t.is_empty() && one(t)).map(str::to_owned).collect();
    words.extend(label.split([' ', ',', ';']).filter(|t| t.contains('\'') && one(t)).map(str::to_owned));
    (!words.is_empty()).then_some(WordPart::Named(words))
}

/// The word that a word is with `start` before it, if it sounds as it does alone.
fn before_a_word<'e>(
    engine: &'e Engine,
    word: &str,
    reading: &Reading<'_>,
    start: &str,
) -> Option<LexWord<'e>> {
    let rest = engine.lexicon().find(word.strip_prefix(start).filter(|rest| rest.len() > 2)?)?;
    rest.readings().any(|r| ids(reading.units).ends_with(&ids(r.units))).then_some(rest)
}

/// Whether two common words together are written and sound like this one.
fn two_words(engine: &Engine, (first, second): (&str, &str), reading: &Reading<'_>) -> bool {
    let common = |text: &str| engine.lexicon().find(text).filter(|word| word.band() <= 20);
    let (Some(first), Some(second)) = (common(first), common(second)) else { return false };
    let whole = ids(reading.units);
    let mut firsts = first.readings();
    firsts.any(|one| second.readings().any(|two| [ids(one.units), ids(two.units)].concat() == whole))
}

fn ids(units: &[Unit]) -> Vec<u16> {
    units.iter().map(|u| u.id().0).collect()
}

/// Consonant sounds in a row, each spelt by itself, so that *x* and *ng* are none.
fn adjacent(inventory: &Inventory, units: &[Unit], sounds: usize, at: Place) -> bool {
    let consonant = |u: &Unit| {
        inventory
            .gpc(*u)
            .is_some_and(|g| g.phonemes().len() == 1 && g.phonemes().iter().all(|p| !p.is_vowel()))
    };
    let first = units.iter().take_while(|u| consonant(u)).count();
    let last = units.iter().rev().take_while(|u| consonant(u)).count();
    match at {
        Place::Beginning => first >= sounds,
        Place::End => last >= sounds,
        Place::Anywhere => units.windows(sounds).any(|row| row.iter().all(consonant)),
    }
}

fn vowels(inventory: &Inventory, units: &[Unit]) -> usize {
    let sounds = units.iter().filter_map(|u| inventory.gpc(*u)).flat_map(Gpc::phonemes);
    sounds.filter(|p| p.is_vowel()).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The words of a list that a label's parts fit, each as its first reading.
    fn fitting(engine: &Engine, label: &str, words: &[&'static str]) -> Vec<&'static str> {
        let parts = WordPart::parse(label);
        let fits = |word: &&&str| {
            let found = engine.lexicon().find(word).unwrap();
            let reading = found.readings().next().unwrap();
            parts.iter().any(|part| part.fits(engine, &found, &reading).is_some())
        };
        words.iter().filter(fits).copied().collect()
    }

    #[test]
    fn labels_name_parts_of_words() {
        let engine = Engine::load().unwrap();
        let fit = |label: &str, words: &[&'static str]| fitting(&engine, label, words);
        let er = [
            "teacher", "singer", "bigger", "hammer", "these", "under", "corner", "dinner", "flower",
            "letter", "slower",
        ];
        assert_eq!(fit("suffix -er for a person or thing that does it", &er), ["teacher", "singer"]);
        assert_eq!(
            fit("Suffixes -er and -est to compare", &["bigger", "biggest", "teacher"]),
            ["bigger", "biggest"]
        );
        assert_eq!(fit("-ing", &["jumping", "king", "jump"]), ["jumping"]);
        assert_eq!(fit("suffix -s", &["cats", "bus", "gas", "dogs"]), ["cats", "dogs"]);
        assert_eq!(fit("suffix -es", &["wishes", "bakes", "boxes", "rates"]), ["wishes", "boxes"]);
        assert_eq!(fit("y changes to i before -es", &["cries", "wishes"]), ["cries"]);
        let y = ["player", "tried", "playing"];
        assert_eq!(fit("y changes to i before -ed and -er, and stays before -ing", &y), ["tried", "playing"]);
        assert_eq!(fit("suffix -ed", &["jumped", "feed", "weed", "shed"]), ["jumped"]);
        assert_eq!(
            fit("a last consonant letter is doubled before -ing and -ed", &["hopping", "hoping"]),
            ["hopping"]
        );
        assert_eq!(fit("e is dropped before -ing", &["hopping", "hoping", "singing", "being"]), ["hoping"]);
        assert_eq!(
            fit("e is dropped before -ed and -y", &["baked", "seed", "tidy", "icy"]),
            ["baked", "icy"]
        );
        assert_eq!(fit("prefix un-", &["unlock", "uncle", "under", "unpack"]), ["unlock", "unpack"]);
        assert_eq!(fit("contraction I\u{2019}m", &["I'm", "can't", "ant"]), ["I'm", "can't"]);
        assert_eq!(fit("apostrophe for one owner", &["it's", "can't"]), [""; 0]);
        assert_eq!(
            fit("two words joined in a compound word", &["football", "carpet", "uncle"]),
            ["football"]
        );
        assert_eq!(fit("homophones: to, too, two", &["to", "too", "two", "ten"]), ["to", "too", "two"]);
        let consonants = ["stop", "help", "strap", "cat", "box"];
        assert_eq!(fit("adjacent consonants, for blending", &consonants), ["stop", "help", "strap"]);
        assert_eq!(fit("adjacent consonants at the beginning: blending", &consonants), ["stop", "strap"]);
        assert_eq!(fit("words with adjacent consonants at the beginning", &consonants), ["stop", "strap"]);
        assert_eq!(fit("words with adjacent consonants at the end", &consonants), ["help"]);
        assert_eq!(fit("words with three adjacent consonants", &consonants), ["strap"]);
        assert_eq!(fit("words of two syllables", &["rabbit", "cat"]), ["rabbit"]);
        assert_eq!(WordPart::parse("k, not c, before e, i and y"), []);
        assert_eq!(WordPart::parse("review of a_e /eɪ/"), []);
    }
}
