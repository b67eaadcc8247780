//! Codes of a rule pack, with what they mean.

use serde::Deserialize;

/// A code with what it means.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct Coded {
    /// As stored.
    pub code: String,
    /// As shown.
    pub label: String,
}

/// A code that is none of the rule pack's.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("must be one of {0}")]
pub struct UnknownCode(String);

impl Coded {
    /// What a list says of a code.
    pub fn find<'a>(list: &'a [Self], code: &str) -> Option<&'a Self> {
        list.iter().find(|one| one.code == code)
    }

    /// The same of a code that has to be one of the list.
    ///
    /// # Errors
    /// [`UnknownCode`], with those there are.
    pub fn known<'a>(list: &'a [Self], code: &str) -> Result<&'a Self, UnknownCode> {
        let codes = || list.iter().map(|one| one.code.as_str()).collect::<Vec<_>>().join(", ");
        Self::find(list, code).ok_or_else(|| UnknownCode(codes()))
    }
}
