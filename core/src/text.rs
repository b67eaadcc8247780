//! Text that people type. Stored in Unicode normal form C, trimmed, without control or
//! invisible direction characters, and never altered otherwise: names are spelled as given.

use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization;

/// Why a text was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Nothing but white space.
    #[error("must not be empty")]
    Empty,
    /// Longer than the field allows, in characters.
    #[error("must be at most {0} characters")]
    TooLong(usize),
    /// A control character, U+0000 among them, or a character that hides or reorders text.
    #[error("must not contain control or invisible formatting characters")]
    Control,
    /// Not an address.
    #[error("must be an e-mail address such as name@school.example")]
    Email,
}

/// One line of text of 1 to `MAX` characters.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Line<const MAX: usize>(String);

/// A person's, class's or group's name.
pub type Name = Line<100>;
/// A title, label or short description.
pub type Title = Line<200>;

impl<const MAX: usize> Line<MAX> {
    /// Normalises and checks a text.
    pub fn new(text: &str) -> Result<Self, TextError> {
        let text: String = text.trim().nfc().collect();
        if text.is_empty() {
            return Err(TextError::Empty);
        }
        if text.chars().any(is_unwanted) {
            return Err(TextError::Control);
        }
        if text.chars().count() > MAX {
            return Err(TextError::TooLong(MAX));
        }
        Ok(Self(text))
    }

    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Control characters, and those that hide or reorder other text (zero-width space, word
/// joiner, direction overrides and isolates, byte-order mark). The joiners U+200C and
/// U+200D stay: Persian, Urdu and Indic names need them.
fn is_unwanted(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

impl<const MAX: usize> TryFrom<String> for Line<MAX> {
    type Error = TextError;
    fn try_from(text: String) -> Result<Self, TextError> {
        Self::new(&text)
    }
}

impl<const MAX: usize> From<Line<MAX>> for String {
    fn from(line: Line<MAX>) -> Self {
        line.0
    }
}

impl<const MAX: usize> std::fmt::Display for Line<MAX> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(feature = "schema")]
impl<const MAX: usize> utoipa::PartialSchema for Line<MAX> {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{ObjectBuilder, Type};
        ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(MAX)).into()
    }
}
#[cfg(feature = "schema")]
impl<const MAX: usize> utoipa::ToSchema for Line<MAX> {
    fn name() -> std::borrow::Cow<'static, str> {
        format!("line_{MAX}").into()
    }
}

/// An e-mail address. Shown as typed; compared by [`Email::key`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Email(String);

impl Email {
    /// Checks that the text could be an address: one `@`, something on both sides, no
    /// space, at most 254 characters. Whether it works only sending can tell.
    pub fn new(text: &str) -> Result<Self, TextError> {
        let line = Line::<254>::new(text)?;
        let mut sides = line.as_str().split('@');
        let (Some(local), Some(domain), None) = (sides.next(), sides.next(), sides.next()) else {
            return Err(TextError::Email);
        };
        if local.is_empty() || domain.is_empty() || line.as_str().contains(char::is_whitespace) {
            return Err(TextError::Email);
        }
        Ok(Self(line.0))
    }

    /// What makes two spellings one account: Unicode lower case without regard to locale.
    /// A dotted capital I keeps its dot, so it never becomes the plain one.
    pub fn key(&self) -> String {
        self.0.to_lowercase()
    }

    /// The address as typed.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Email {
    type Error = TextError;
    fn try_from(text: String) -> Result<Self, TextError> {
        Self::new(&text)
    }
}
impl From<Email> for String {
    fn from(email: Email) -> Self {
        email.0
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Email {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{ObjectBuilder, SchemaFormat, Type};
        ObjectBuilder::new()
            .schema_type(Type::String)
            .format(Some(SchemaFormat::Custom("email".into())))
            .max_length(Some(254))
            .into()
    }
}
#[cfg(feature = "schema")]
impl utoipa::ToSchema for Email {
    fn name() -> std::borrow::Cow<'static, str> {
        "email".into()
    }
}

/// The first so many characters of a text, and a sign where there were more: of what somebody sent,
/// no more is repeated than a person reads.
pub fn shortened(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}\u{2026}", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

/// A text as a terminal may show it: control characters and those that hide or reorder text, which
/// could move the cursor or recolour the screen, by their code point.
pub fn printable(text: &str) -> String {
    text.chars().fold(String::with_capacity(text.len()), |mut shown, c| {
        match is_unwanted(c) {
            true => shown.extend(c.escape_unicode()),
            false => shown.push(c),
        }
        shown
    })
}

/// A key for finding names whatever the accents, case, apostrophes, hyphens and spaces:
/// "O’Neill", "o neill" and "ONEILL" share one. Only for finding; never shown or stored
/// in place of the name. Only the accents of Latin, Greek and Cyrillic letters are looked
/// through: the vowel signs of other scripts are letters, and without them two names are one.
pub fn search_key(text: &str) -> String {
    text.nfkd()
        .filter(|c| !matches!(c, '\u{300}'..='\u{36f}'))
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphanumeric())
        .map(|c| match c {
            'ı' => 'i',
            'ł' => 'l',
            'ø' => 'o',
            'đ' => 'd',
            other => other,
        })
        .collect()
}

/// A text for the name of a file: its words in small Latin letters and digits, with hyphens between; letters of other scripts
/// are left out.
#[must_use]
pub fn slug(text: &str) -> String {
    let plain = |word: &str| search_key(word).chars().filter(char::is_ascii_alphanumeric).collect::<String>();
    let words = text.split(|c: char| !c.is_alphanumeric() && !matches!(c, '\'' | '’'));
    words.map(plain).filter(|word| !word.is_empty()).collect::<Vec<_>>().join("-")
}

/// Bytes as hexadecimal digits, two each.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Whether two names are one to whoever reads them.
pub fn one_name(one: &str, other: &str) -> bool {
    let same_key = || {
        let key = search_key(one);
        !key.is_empty() && key == search_key(other)
    };
    one == other || same_key()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_named_in_small_latin_letters() {
        let slugs = [
            ("Farholt Infant School", "farholt-infant-school"),
            ("St Anne’s C.E. (VA) Primary", "st-annes-c-e-va-primary"),
            ("Ysgol Llŷn / École", "ysgol-llyn-ecole"),
            ("../../etc", "etc"),
            ("مدرسة", ""),
        ];
        for (text, expected) in slugs {
            assert_eq!(slug(text), expected);
        }
    }

    #[test]
    fn a_name_is_one_name_however_it_is_written() {
        assert!(one_name("Owls", "owls ") && one_name("Autumn 1", "autumn  1"));
        assert!(!one_name("Owls", "Owls 2") && !one_name("★", "☆") && one_name("★", "★"));
    }

    #[test]
    fn lines_are_composed_and_trimmed_but_never_respelled() {
        assert_eq!(Name::new("  Zoe\u{308} O’Neill ").map(String::from), Ok("Zoë O’Neill".into()));
        assert_eq!(Name::new("van  der Meer").map(String::from), Ok("van  der Meer".into()));
    }

    #[test]
    fn lines_refuse_what_cannot_be_a_name() {
        assert_eq!(Name::new(" \t "), Err(TextError::Empty));
        assert_eq!(Name::new("a\0b"), Err(TextError::Control));
        assert_eq!(Name::new("a\u{202e}b"), Err(TextError::Control));
        assert_eq!(Name::new(&"x".repeat(101)), Err(TextError::TooLong(100)));
        assert!(Name::new(&"é".repeat(100)).is_ok());
    }

    #[test]
    fn what_a_terminal_would_obey_is_shown_instead() {
        assert_eq!(printable("Zo\u{eb}\u{1b}[2J\n\u{202e}x"), "Zoë\\u{1b}[2J\\u{a}\\u{202e}x");
        assert_eq!(printable("می\u{200c}خواهم 👩\u{200d}🎓"), "می\u{200c}خواهم 👩\u{200d}🎓");
    }

    #[test]
    fn one_account_whatever_the_case() {
        let key = |s| Email::new(s).map(|e| e.key());
        assert_eq!(key("IREM@school.example "), key("irem@school.example"));
        assert_ne!(key("İrem@school.example"), key("irem@school.example"));
        assert_eq!(key("two@at@signs"), Err(TextError::Email));
        assert_eq!(key("nobody"), Err(TextError::Email));
        assert_eq!(key("a b@school.example"), Err(TextError::Email));
    }

    #[test]
    fn search_sees_through_spelling() {
        for spelling in ["oneill", "o neill", "O’Neill", "O'Neill"] {
            assert_eq!(search_key(spelling), "oneill");
        }
        assert_eq!(search_key("van der Meer"), "vandermeer");
        assert_eq!(search_key("Łukasz"), search_key("lukasz"));
        assert_eq!(search_key("Zoë"), "zoe");
        assert_ne!(search_key("मीना"), search_key("मोना"));
    }
}
