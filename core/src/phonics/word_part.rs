//! Parts and kinds of words that a lesson may be about, read from how the curriculum and schools
//! name them: *suffix -er for a person*, *un-*, *contractions*, *words with adjacent consonants*.

use super::Engine;
use super::gpc::Gpc;
use super::inventory::Inventory;
use super::lexicon::{LexWord, Reading};
use super::phoneme::Phoneme;
use super::unit::{Tag, Unit};

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

/// How an ending joins its stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// In any way.
    Any,
    /// After a stem in y, which stays.
    AfterY,
    /// After a stem in y, which turns to i.
    ToY,
    /// After a stem in e, which goes.
    DroppingE,
    /// With the last consonant doubled.
    Doubling,
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
        let says = |what: &str| label.contains(what);
        if says("contraction") {
            out.push(Self::Contraction);
        }
        if says("possess") || says("apostrophe") && says("owner") {
            out.push(Self::Possessive);
        } else if says("apostrophe") {
            out.extend([Self::Contraction, Self::Possessive]);
        }
        if says("compound") {
            out.push(Self::Compound);
        }
        if says("adjacent consonant") {
            let at = match (says("beginning") || says("start"), says("end")) {
                (true, false) => Place::Beginning,
                (false, true) => Place::End,
                _ => Place::Anywhere,
            };
            out.push(Self::Adjacent { sounds: if says("three") { 3 } else { 2 }, at });
        } else if says("syllable") {
            out.push(Self::Syllables);
        }
        out.extend(named(&label));
        out
    }

    /// Whether a word, as one of its readings, is of the kind.
    #[must_use]
    pub fn fits(&self, engine: &Engine, word: &LexWord<'_>, reading: &Reading<'_>) -> bool {
        let (lexicon, shown) = (engine.lexicon(), word.shown());
        match self {
            Self::Suffix { ending, joined, beside } => stems(engine, shown, ending, reading)
                .any(|(stem, how)| how.is(*joined, ending) && beside.is_none_or(|b| takes(engine, stem, b))),
            Self::Prefix(start) => ends_as_a_word(engine, shown, reading, start),
            Self::Contraction => shown.contains('\'') && !of_an_owner(shown),
            Self::Possessive => of_an_owner(shown),
            Self::Compound => (3..shown.len().saturating_sub(2)).any(|at| {
                shown.is_char_boundary(at)
                    && lexicon.find(&shown[..at]).is_some_and(|first| first.band() <= 20)
                    && lexicon.find(&shown[at..]).is_some_and(|second| second.band() <= 20)
                    && joined_sounds(engine, (&shown[..at], &shown[at..]), reading)
            }),
            Self::Named(words) => words.contains(&shown.to_lowercase()),
            Self::Adjacent { sounds, at } => adjacent(engine.inventory(), reading.units, *sounds, *at),
            Self::Syllables => vowels(engine.inventory(), reading.units) > 1,
        }
    }
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

impl Joined {
    /// Whether an ending that joined in this way shows what a label says of its joining.
    fn is(self, wanted: Self, ending: &str) -> bool {
        // "... and y stays before -ing": any other joining of -ing after y is none of the rule's.
        let kept = wanted == Self::ToY && ending == "ing" && self == Self::AfterY;
        wanted == Self::Any || self == wanted || kept
    }
}

/// The common words that a word can be with an ending as English adds it, and how it joined. The
/// ending has its own units, or *ied* and *ies* of a y turned to i would have, and before it the
/// word sounds as the stem does: *rates* is not *rat* with -es, nor *dinner* *dine* with -er.
fn stems<'e>(
    engine: &'e Engine,
    word: &str,
    ending: &str,
    reading: &Reading<'_>,
) -> impl Iterator<Item = (&'e str, Joined)> {
    let inventory = engine.inventory();
    let own = ends_in(inventory, reading.units, ending);
    let turned = own || ends_in(inventory, reading.units, &format!("i{ending}"));
    let tagged = ending != "s" || reading.units.last().is_some_and(|u| u.has(Tag::Suffix));
    let base = word.strip_suffix(ending).filter(|base| base.len() > 1 && tagged).unwrap_or("");
    let single = base.get(base.len().saturating_sub(1)..).and_then(|last| {
        let one = base.strip_suffix(last)?;
        one.ends_with(last).then(|| one.to_owned())
    });
    let vowel = ending.starts_with(['e', 'i', 'y']);
    let as_is = if base.ends_with('y') { Joined::AfterY } else { Joined::Any };
    let tries = [
        (Some(base.to_owned()).filter(|_| own), as_is),
        (Some(format!("{base}e")).filter(|_| own && vowel && ending != "es"), Joined::DroppingE),
        (single.filter(|_| own && vowel), Joined::Doubling),
        (base.strip_suffix('i').filter(|_| turned).map(|base| format!("{base}y")), Joined::ToY),
    ];
    let sounds = sounds(inventory, reading.units);
    tries.into_iter().filter_map(move |(stem, how)| {
        let stem = engine.lexicon().find(&stem?).filter(|w| w.band() <= 20 || w.child_band() > 0)?;
        let begins = |r: Reading<'_>| sounds.starts_with(&self::sounds(inventory, r.units));
        stem.readings().any(begins).then_some((stem.shown(), how))
    })
}

/// Whether the last units together spell an ending.
fn ends_in(inventory: &Inventory, units: &[Unit], ending: &str) -> bool {
    let mut rest = ending;
    for unit in units.iter().rev() {
        let Some(letters) = gpc(inventory, *unit).map(|g| g.grapheme().as_str()) else { return false };
        match rest.strip_suffix(letters) {
            Some("") => return true,
            Some(before) => rest = before,
            None => return false,
        }
    }
    false
}

fn sounds(inventory: &Inventory, units: &[Unit]) -> Vec<Phoneme> {
    units.iter().filter_map(|u| gpc(inventory, *u)).flat_map(Gpc::phonemes).copied().collect()
}

/// Whether a stem takes an ending: a common word is the stem with it, and sounds so.
fn takes(engine: &Engine, stem: &str, ending: &str) -> bool {
    let mut tries = vec![format!("{stem}{ending}")];
    tries.extend(stem.strip_suffix('e').map(|base| format!("{base}{ending}")));
    tries.extend(stem.strip_suffix('y').map(|base| format!("{base}i{ending}")));
    tries.extend(stem.chars().last().map(|last| format!("{stem}{last}{ending}")));
    let known = tries.iter().filter_map(|word| engine.lexicon().find(word)).filter(|w| w.band() <= 20);
    { known }.any(|word| {
        word.readings().any(|r| stems(engine, word.shown(), ending, &r).any(|(found, _)| found == stem))
    })
}

/// Whether a word is `start` before another word that sounds as it does alone.
fn ends_as_a_word(engine: &Engine, word: &str, reading: &Reading<'_>, start: &str) -> bool {
    let rest = word.strip_prefix(start).filter(|rest| rest.len() > 2);
    rest.and_then(|rest| engine.lexicon().find(rest))
        .is_some_and(|rest| rest.readings().any(|r| ids(reading.units).ends_with(&ids(r.units))))
}

fn joined_sounds(engine: &Engine, (first, second): (&str, &str), reading: &Reading<'_>) -> bool {
    let of = |text: &str| -> Vec<Vec<u16>> {
        let word = engine.lexicon().find(text);
        word.map(|w| w.readings().map(|r| ids(r.units)).collect()).unwrap_or_default()
    };
    let whole = ids(reading.units);
    let seconds = of(second);
    of(first).iter().any(|one| seconds.iter().any(|two| [one.as_slice(), two].concat() == whole))
}

fn ids(units: &[Unit]) -> Vec<u16> {
    units.iter().map(|u| u.id().0).collect()
}

fn gpc(inventory: &Inventory, unit: Unit) -> Option<&Gpc> {
    inventory.get(unit.id()).map(|item| &item.gpc)
}

/// Consonant sounds in a row, each spelt by itself, so that *x* and *ng* are none.
fn adjacent(inventory: &Inventory, units: &[Unit], sounds: usize, at: Place) -> bool {
    let consonant = |u: &Unit| {
        gpc(inventory, *u)
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
    let sounds = units.iter().filter_map(|u| gpc(inventory, *u)).flat_map(Gpc::phonemes);
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
            parts.iter().any(|part| part.fits(engine, &found, &reading))
        };
        words.iter().filter(fits).copied().collect()
    }

    #[test]
    fn labels_name_parts_of_words() {
        let engine = Engine::load().unwrap();
        let fit = |label: &str, words: &[&'static str]| fitting(&engine, label, words);
        let er = ["teacher", "singer", "bigger", "hammer", "these", "under", "corner", "dinner", "flower"];
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
        assert_eq!(fit("e is dropped before -ing", &["hopping", "hoping", "singing"]), ["hoping"]);
        assert_eq!(fit("prefix un-", &["unlock", "uncle", "under", "unpack"]), ["unlock", "unpack"]);
        assert_eq!(fit("contraction I\u{2019}m", &["I'm", "can't", "ant"]), ["I'm", "can't"]);
        assert_eq!(fit("apostrophe for one owner", &["it's", "can't"]), [""; 0]);
        assert_eq!(
            fit("two words joined in a compound word", &["football", "carpet", "uncle"]),
            ["football"]
        );
        assert_eq!(fit("homophones: to, too, two", &["to", "too", "two", "ten"]), ["to", "too", "two"]);
        let consonants = ["stop", "help", "strap", "cat", "box"];
        assert_eq!(fit("words with adjacent consonants at the beginning", &consonants), ["stop", "strap"]);
        assert_eq!(fit("words with adjacent consonants at the end", &consonants), ["help"]);
        assert_eq!(fit("words with three adjacent consonants", &consonants), ["strap"]);
        assert_eq!(fit("words of two syllables", &["rabbit", "cat"]), ["rabbit"]);
        assert_eq!(WordPart::parse("k, not c, before e, i and y"), []);
        assert_eq!(WordPart::parse("review of a_e /eɪ/"), []);
    }
}
