//! Unique pupil numbers of England: a check letter and twelve characters. Never a key, never on a
//! list, masked on screens, kept with those a pupil had before.
//!
//! Source: Department for Education, Unique pupil numbers: guidance.

use serde::{Deserialize, Serialize};

/// Check letters by remainder: the alphabet without I, O and S.
const LETTERS: &[u8; 23] = b"ABCDEFGHJKLMNPQRTUVWXYZ";

/// A number whose check letter is right.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Upn(String);

/// Why a text is no unique pupil number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UpnError {
    /// Not a letter and twelve digits, or a letter, eleven digits and a letter.
    #[error("a UPN is a letter and 12 digits, or a letter, 11 digits and a letter")]
    Form,
    /// The first letter does not fit the others.
    #[error("the check letter does not fit: a character is wrong or two are swapped")]
    Check,
}

impl Upn {
    /// Reads a number. Case and spaces do not matter; whether the authority exists is not asked,
    /// because authorities come and go.
    ///
    /// # Errors
    /// [`UpnError`].
    pub fn new(text: &str) -> Result<Self, UpnError> {
        let text: String =
            text.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_uppercase()).collect();
        let bytes = text.as_bytes();
        let (Some(first), Some(middle), Some(last)) = (bytes.first(), bytes.get(1..12), bytes.get(12)) else {
            return Err(UpnError::Form);
        };
        let well_formed = bytes.len() == 13
            && first.is_ascii_uppercase()
            && middle.iter().all(u8::is_ascii_digit)
            && (last.is_ascii_digit() || LETTERS.contains(last));
        if !well_formed {
            return Err(UpnError::Form);
        }
        if check_letter(&bytes[1..]) == Some(*first) { Ok(Self(text)) } else { Err(UpnError::Check) }
    }

    /// Whether it is a temporary one, which ends in a letter.
    #[must_use]
    pub fn is_temporary(&self) -> bool {
        self.0.ends_with(|c: char| c.is_ascii_uppercase())
    }

    /// For screens: the last three characters only.
    #[must_use]
    pub fn masked(&self) -> String {
        format!("••••••••••{}", self.0.get(10..).unwrap_or(""))
    }

    /// The whole number, for files between schools.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// The sum over positions 2 to 13 of position times value, modulo 23, as a letter.
fn check_letter(rest: &[u8]) -> Option<u8> {
    let mut sum = 0;
    for (position, byte) in (2..).zip(rest) {
        let value = match byte {
            b'0'..=b'9' => usize::from(byte - b'0'),
            letter => LETTERS.iter().position(|known| known == letter)?,
        };
        sum += position * value;
    }
    LETTERS.get(sum % LETTERS.len()).copied()
}

impl TryFrom<String> for Upn {
    type Error = UpnError;
    fn try_from(text: String) -> Result<Self, UpnError> {
        Self::new(&text)
    }
}

impl From<Upn> for String {
    fn from(upn: Upn) -> Self {
        upn.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_letters_are_those_of_the_guidance() {
        // Sums worked by hand: 93, 266 and 80, modulo 23 are 1, 13 and 11.
        for good in ["B801200005001", "P207000016049", "M80120000500A", "y999000124201", "K9990 0012 4301"] {
            assert!(Upn::new(good).is_ok(), "{good}");
        }
        // A copy of this vector with Q goes round.
        assert_eq!(Upn::new("Q207000016049"), Err(UpnError::Check));
        assert_eq!(Upn::new("B801200005010"), Err(UpnError::Check));
        for bad in ["", "B80120000500", "B8012000050011", "B80120000500I", "1801200005001", "B80120000é001"]
        {
            assert_eq!(Upn::new(bad), Err(UpnError::Form), "{bad}");
        }
    }

    #[test]
    fn a_temporary_number_ends_in_a_letter_and_all_are_masked() {
        let temporary = Upn::new("M80120000500A").unwrap();
        assert!(temporary.is_temporary());
        assert_eq!(temporary.masked(), "••••••••••00A");
        assert!(!Upn::new("B801200005001").unwrap().is_temporary());
    }
}
