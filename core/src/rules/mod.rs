//! Rule packs: the local rules of a jurisdiction, as data. Code asks the pack and never
//! knows a threshold, a code or a year name itself.

mod pack;

pub use pack::{
    BookRule, CarriedCells, Caution, Coded, LessonRule, PracticeRule, RulePack, SecureRule, StruggledWeights,
    YearGroup,
};

const PACKS: &[(&str, &str)] = &[
    ("england", include_str!("../../rules/england.json")),
    ("south-australia", include_str!("../../rules/south-australia.json")),
];

/// The ids of the packs built in.
pub fn ids() -> impl Iterator<Item = &'static str> {
    PACKS.iter().map(|(id, _)| *id)
}

/// The pack with this id.
///
/// # Errors
/// Says which packs there are, or what is wrong with the data.
pub fn pack(id: &str) -> Result<RulePack, RulesError> {
    let (_, text) = PACKS.iter().find(|(known, _)| *known == id).ok_or_else(|| RulesError::Unknown {
        id: id.to_owned(),
        known: ids().collect::<Vec<_>>().join(", "),
    })?;
    serde_json::from_str(text)
        .map_err(|error| RulesError::Malformed { id: id.to_owned(), error: error.to_string() })
}

/// Why a rule pack cannot be used.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum RulesError {
    /// Not built in.
    #[error("there is no rule pack \"{id}\"; known: {known}")]
    Unknown {
        /// Asked for.
        id: String,
        /// Built in.
        known: String,
    },
    /// The data does not have the pack's shape.
    #[error("rule pack \"{id}\": {error}")]
    Malformed {
        /// The pack.
        id: String,
        /// What is wrong and where.
        error: String,
    },
}
