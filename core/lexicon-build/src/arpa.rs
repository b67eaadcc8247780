//! ARPAbet tokens of the CMU dictionary.

/// One token: a phone, and for vowels a stress of 0 or 1 (secondary stress counts as 1 when
/// matching; the digit itself is kept).
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Debug)]
pub struct Arpa {
    phone: u8,
    /// 0, 1, 2; 9 for consonants.
    pub stress: u8,
}

const VOWELS: [&str; 15] =
    ["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"];
const CONSONANTS: [&str; 24] = [
    "B", "CH", "D", "DH", "F", "G", "HH", "JH", "K", "L", "M", "N", "NG", "P", "R", "S", "SH", "T", "TH",
    "V", "W", "Y", "Z", "ZH",
];
const NO_STRESS: u8 = 9;

impl Arpa {
    /// Reads `AE1`, `R`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let bare = text.trim_end_matches(|c: char| c.is_ascii_digit());
        let place = |set: &[&str]| {
            let at = set.iter().position(|s| *s == bare)?;
            u8::try_from(at).ok()
        };
        if let Some(i) = place(&CONSONANTS) {
            return Some(Self { phone: i + 15, stress: NO_STRESS });
        }
        let stress = text.as_bytes().last()?.checked_sub(b'0').filter(|d| *d < 3)?;
        Some(Self { phone: place(&VOWELS)?, stress })
    }

    /// Reads tokens separated by spaces; `None` when one does not read.
    #[must_use]
    pub fn parse_all(text: &str) -> Option<Vec<Self>> {
        text.split_whitespace().map(Self::parse).collect()
    }

    /// Whether it is a vowel (they carry stress).
    #[must_use]
    pub fn is_vowel(self) -> bool {
        self.stress != NO_STRESS
    }

    /// The phone without its stress.
    #[must_use]
    pub fn phone(self) -> &'static str {
        let i = usize::from(self.phone);
        VOWELS.get(i).or_else(|| CONSONANTS.get(i.wrapping_sub(15))).copied().unwrap_or("")
    }

    /// The same token with secondary stress taken as primary, as the conversion table has it.
    #[must_use]
    pub fn folded(self) -> Self {
        let stress = if self.stress == 2 { 1 } else { self.stress };
        Self { stress, ..self }
    }

    /// Whether it is that phone, with that stress after folding.
    #[must_use]
    pub fn is(self, text: &str) -> bool {
        Self::parse(text) == Some(self.folded())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_read_and_fold() {
        let two = Arpa::parse("EH2").unwrap();
        assert_eq!((two.phone(), two.stress, two.folded().stress), ("EH", 2, 1));
        assert!(Arpa::parse("R").is_some_and(|r| !r.is_vowel()));
        assert!(Arpa::parse("QQ").is_none() && Arpa::parse("AE").is_none());
    }
}
