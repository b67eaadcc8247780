//! What a sequence teaches in which order, in a form two schools can compare without showing each other their sequences.

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::{
    phonics::word::Word,
    sequence::{Content, Item, ItemKind},
    text::hex,
};

/// What is taught, lesson by lesson: SHA-256 as 64 hexadecimal digits. Ids, titles and words to remember something by are
/// not in it, so that two schools that typed in the same sequence have the same one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SequenceFingerprint, value_type = String))]
pub struct Fingerprint(String);

/// A text that is no fingerprint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("must be the 64 hexadecimal digits of a sequence's fingerprint, in lower case")]
pub struct NoFingerprint;

impl TryFrom<String> for Fingerprint {
    type Error = NoFingerprint;

    fn try_from(text: String) -> Result<Self, NoFingerprint> {
        let digit = |c: char| matches!(c, '0'..='9' | 'a'..='f');
        if text.len() == 64 && text.chars().all(digit) { Ok(Self(text)) } else { Err(NoFingerprint) }
    }
}

impl From<Fingerprint> for String {
    fn from(fingerprint: Fingerprint) -> Self {
        fingerprint.0
    }
}

impl Fingerprint {
    /// That of a version's content. The marks between parts stand in no text of a sequence.
    #[must_use]
    pub fn of(content: &Content) -> Self {
        let mut hash = Sha256::new_with_prefix(b"plumbline sequence 1");
        for step in &content.steps {
            hash.update(b"\x1c");
            for lesson in &step.lessons {
                hash.update(b"\x1d");
                for item in &lesson.items {
                    hash.update(b"\x1e");
                    hash.update(item.kind.as_str());
                    hash.update(b"\x1f");
                    hash.update(taught(item));
                }
            }
        }
        Self(hex(&hash.finalize()))
    }
}

/// What an item teaches, whatever it is called. Going back over things teaches nothing new.
fn taught(item: &Item) -> String {
    match (&item.gpc, item.kind) {
        (Some(gpc), _) => format!("{}\u{1f}{}", gpc.grapheme, gpc.phoneme),
        (None, ItemKind::Review) => String::new(),
        (None, ItemKind::ExceptionWord) => match Word::parse(item.label.as_str()) {
            Ok(word) => word.key(),
            Err(_) => item.label.as_str().to_lowercase(),
        },
        (None, _) => item.label.as_str().to_lowercase(),
    }
}
