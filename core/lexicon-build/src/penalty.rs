//! What makes a reading of a word less likely in British than the arcs alone would say.

use plumbline_core::phonics::inventory::Correspondence;

use crate::arcs::YOD;
use crate::arpa::Arpa;

/// A place in a word: letters and American phones, and how many of each are read.
#[derive(Clone, Copy)]
pub struct Spot<'a> {
    /// The word's letters.
    pub letters: &'a [u8],
    /// Its American phones.
    pub phones: &'a [Arpa],
    /// Letters read.
    pub i: usize,
    /// Phones read.
    pub j: usize,
}

impl Spot<'_> {
    fn letter_before(&self) -> Option<u8> {
        self.letters.get(self.i.checked_sub(1)?).copied()
    }

    fn phone_before(&self) -> &'static str {
        self.j.checked_sub(1).and_then(|j| self.phones.get(j)).map_or("", |p| p.phone())
    }

    fn vowel_phone_after(&self) -> bool {
        self.phones.get(self.j + 1).is_some_and(|p| p.is_vowel())
    }

    /// Whether the first vowel after the phones of `heard` carries stress.
    fn stress_follows(&self, heard: &[Arpa]) -> bool {
        let rest = self.phones.get(self.j + heard.len()..).unwrap_or(&[]);
        let next = rest.iter().find(|p| p.is_vowel());
        next.is_some_and(|p| p.stress > 0)
    }

    /// Whether one consonant and a -ed without a vowel of its own end the word (*liked*): the
    /// vowel is then a split digraph.
    fn before_silent_ed(&self, heard: &[Arpa]) -> bool {
        let letters = matches!(self.letters.get(self.i + 1..), Some([_, b'e', b'd']));
        letters && self.phones.len() == self.j + heard.len() + 2
    }

    /// Whether some letters stand here.
    fn starts(&self, letters: &str) -> bool {
        self.letters.get(self.i..).is_some_and(|rest| rest.starts_with(letters.as_bytes()))
    }

    /// The phone `n` places on.
    fn phone_at(&self, n: usize) -> &'static str {
        self.phones.get(self.j + n).map_or("", |p| p.phone())
    }

    fn phone_after(&self) -> &'static str {
        self.phones.get(self.j + 1).map_or("", |p| p.phone())
    }
}

/// What is known about the whole word.
pub struct Penalties<'a> {
    word: &'a str,
    bath: bool,
    short_o: bool,
    prefix_un: bool,
}

impl<'a> Penalties<'a> {
    /// Looks at the word once.
    #[must_use]
    pub fn new(word: &'a str, bath: bool) -> Self {
        Self {
            word,
            bath,
            short_o: short_o_before_r(word),
            prefix_un: word.starts_with("un")
                && !word.starts_with("uni")
                && word != "under"
                && word != "uncle",
        }
    }

    /// The penalty of reading `item` for `american` at a spot, in nats; negative favours it.
    #[must_use]
    pub fn of(&self, item: &Correspondence, american: &[Arpa], spot: &Spot<'_>) -> f32 {
        let first = american.first().copied();
        let own = item.gpc.phonemes();
        let sound = own.first().map_or("", |p| p.symbol());
        let is = |text: &str| first.is_some_and(|a| a.is(text));
        let phone = first.map_or("", |a| a.phone());
        let mut sum = 0.0;
        if phone == "AE" && sound == "ɑː" && !self.bath {
            sum += 9.0;
        }
        if is("AE1") && sound == "æ" && self.bath {
            sum += 6.0;
        }
        if american.last().is_some_and(|a| a.is("UH1"))
            && spot.phone_at(american.len()) == "R"
            && !item.gpc.grapheme().letters().contains('r')
            && own.last().is_some_and(|p| matches!(p.symbol(), "ʊ" | "u"))
        {
            sum += 9.0;
        }
        sum + self.by_spelling(item, sound, american, spot) + yod(item, sound, phone, spot)
    }

    fn by_spelling(&self, item: &Correspondence, sound: &str, american: &[Arpa], spot: &Spot<'_>) -> f32 {
        let first = american.first().copied();
        let is = |text: &str| first.is_some_and(|a| a.is(text));
        let phone = first.map_or("", |a| a.phone());
        let before = spot.letter_before();
        let after_w = matches!(before, Some(b'w' | b'u'));
        let grapheme = item.gpc.grapheme().as_str();
        match (grapheme, sound) {
            ("a", "ɒ") => {
                let usual = after_w || before == Some(b'h');
                (if usual { 0.0 } else { 4.0 }) + if phone == "AO" { 2.0 } else { 0.0 }
            }
            ("a", "ɑː") if after_w && spot.starts("ar") && vowel_follows(spot, 2) => 6.0,
            ("a", "ɑː") if after_w && phone == "AA" => 3.0,
            ("e", "ɪ") if is("IH1") || is("IY1") => {
                if spot.phone_after() == "R" {
                    8.0
                } else {
                    3.0
                }
            }
            ("or", "ɔː") if self.short_o => 6.0,
            // Quarantine has a short o, neuron eu.
            ("ar" | "a", "ɔː") if spot.starts("ar") && vowel_follows(spot, 2) => 6.0,
            ("e", "") if spot.starts("eur") && vowel_follows(spot, 3) => 6.0,
            ("a", "eɪ") | ("e", "iː") | ("i", "aɪ") | ("o", "əʊ") | ("u", "uː" | "j")
                if spot.before_silent_ed(american) =>
            {
                12.0
            }
            ("y", "i") if phone == "IH" && spot.i + 1 < spot.letters.len() => 5.0,
            ("ed", "d" | "t") if before == Some(b'i') => 4.0,
            ("arre" | "urre" | "erre" | "irre", _) => 12.0,
            ("ar" | "er" | "or" | "ur", _) if spot.letters.get(spot.i + 2) == Some(&b'r') => 4.0,
            ("u", "ə") if spot.i == 0 => 8.0,
            ("u", "ʌ") if spot.i == 0 && !self.prefix_un && is("AH0") => -2.0,
            ("u", "ʌ") if spot.i == 0 && self.prefix_un && is("AH0") => -3.0,
            ("ar", "eə") if vowel_follows(spot, 2) => {
                if self.long_a_before_r(spot) {
                    -2.2
                } else {
                    3.0
                }
            }
            ("er" | "ir" | "or", "eə") if vowel_follows(spot, 2) => -2.2,
            ("ar" | "arr" | "or" | "orr" | "err" | "urr" | "our", "ə")
                if spot.stress_follows(american) && !spot.starts("orat") =>
            {
                4.0
            }
            ("e", "ɪ") | ("e" | "a", "ə") if self.final_l(spot) => 4.0,
            ("e", "ə") if spot.letters.ends_with(b"es") && spot.i + 2 == spot.letters.len() => 2.0,
            ("i", "ɪ") if is("AH0") && self.final_l(spot) => 4.0,
            ("i" | "e", "ɪ") if spot.i + 1 == spot.letters.len() => 4.0,
            ("r" | "rr", "r") if !spot.vowel_phone_after() => 12.0,
            _ => 0.0,
        }
    }

    /// Whether the vowel letter here and an l end the word (camel, pencils).
    fn final_l(&self, spot: &Spot<'_>) -> bool {
        matches!(spot.letters.get(spot.i + 1..), Some(b"l" | b"ls"))
    }

    /// American /er/ spelt ar: *carry* has the short a, *parent* has not.
    #[must_use]
    pub fn short_a_before_r(&self, spot: &Spot<'_>) -> bool {
        let heard = spot.phones.get(spot.j).is_some_and(|a| a.is("EH1"))
            && spot.phone_after() == "R"
            && spot.letters.get(spot.i..).is_some_and(|r| r.starts_with(b"ar"));
        heard && !self.long_a_before_r(spot)
    }

    fn long_a_before_r(&self, spot: &Spot<'_>) -> bool {
        const LONG: [&str; 18] = [
            "are", "arious", "arian", "arium", "aria", "aries", "aried", "ariation", "ariety", "aring",
            "arin$", "ario", "ary$", "arah$", "aron$", "aring$", "arent", "area",
        ];
        let rest = self.word.get(spot.i..).unwrap_or("");
        LONG.iter().any(|l| match l.strip_suffix('$') {
            Some(whole) => whole == rest,
            None => rest.starts_with(*l),
        })
    }
}

fn vowel_follows(spot: &Spot<'_>, letters: usize) -> bool {
    spot.letters.get(spot.i + letters).is_some_and(|b| b"aeiouy".contains(b))
}

/// British keeps the /j/ American lost after t, d and n, and only there.
fn yod(item: &Correspondence, sound: &str, phone: &str, spot: &Spot<'_>) -> f32 {
    if !YOD.contains(&item.gpc.grapheme().as_str()) {
        return 0.0;
    }
    let dropped_here = matches!(spot.phone_before(), "T" | "D" | "N");
    match sound {
        "j" if phone != "Y" && !dropped_here => 8.0,
        "uː" | "u" | "ʊə" if dropped_here && phone.starts_with('U') => 2.5,
        _ => 0.0,
    }
}

/// *forest*, *orange*, *moral*: a short o and a sounded r where American has a long vowel.
fn short_o_before_r(word: &str) -> bool {
    const INSIDE: [&str; 18] = [
        "orr", "orest", "oreign", "origin", "orang", "orical", "orence", "orid", "ority", "orities",
        "orator", "orist", "orish", "oracle", "orator", "orib", "oracy", "orality",
    ];
    const FINAL: [&str; 4] = ["oral", "orals", "orally", "oric"];
    INSIDE.iter().any(|s| word.contains(s)) || FINAL.iter().any(|s| word.ends_with(s) && word.len() > s.len())
}
