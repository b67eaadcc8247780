//! Rule packs: the local rules of a jurisdiction, as data. Code asks the pack and never
//! knows a threshold, a code or a year name itself.

mod attainment;
mod checks;
mod coded;
mod cover;
mod disclosure;
mod handing_on;
mod marking;
mod optional;
mod pack;
mod placement;
mod reports;
mod rounds;
mod tablets;
mod teaching_year;
mod trust;

use std::sync::LazyLock;

pub use attainment::{AskingRule, Bounded, EstimateRule, FitRule};
pub use checks::{CheckRule, PracticeSection};
pub use coded::{Coded, UnknownCode};
pub use cover::CoverRule;
pub use disclosure::{DisclosureRule, InternalRule, ReleaseRule, SymbolLabel};
pub use handing_on::HandingOnRule;
pub use marking::{MarkingRule, NotAccessibleRule, SecondMarkingRule, SpeechNoteRule};
pub use optional::{OptionalField, OptionalFields, OptionalValue};
pub use pack::{
    AttainmentRule, BookRule, CarriedCells, Caution, LessonRule, PracticeRule, RulePack, SecureRule,
    StruggledWeights, YearGroup,
};
pub use placement::PlacementRule;
pub use reports::{MeasureOf, MeasureRule, PoolingRule, ReportRule, TermOfBirth};
pub use rounds::RoundRule;
pub use tablets::TabletRule;
pub use teaching_year::{CatchUpRule, GroupingRule, PaceRule, SchoolDayRule};
pub use trust::TrustRule;

const PACKS: &[(&str, &str)] = &[
    ("england", include_str!("../../rules/england.json")),
    ("south-australia", include_str!("../../rules/south-australia.json")),
];

/// The ids of the packs built in.
pub fn ids() -> impl Iterator<Item = &'static str> {
    PACKS.iter().map(|(id, _)| *id)
}

/// The packs, read when first asked for.
static READ: LazyLock<Vec<Result<RulePack, RulesError>>> = LazyLock::new(|| {
    let read = |(id, text): &(&str, &str)| {
        let malformed = |error: String| RulesError::Malformed { id: (*id).to_owned(), error };
        let pack: RulePack = serde_json::from_str(text).map_err(|error| malformed(error.to_string()))?;
        let year_groups: Vec<&str> = pack.year_groups.iter().map(|year| year.code.as_str()).collect();
        pack.statutory_check.check(&year_groups).map_err(malformed)?;
        Ok(pack)
    };
    PACKS.iter().map(read).collect()
});

/// The pack with this id.
///
/// # Errors
/// Says which packs there are, or what is wrong with the data.
pub fn pack(id: &str) -> Result<&'static RulePack, RulesError> {
    let known = PACKS.iter().zip(READ.iter()).find(|((known, _), _)| *known == id);
    match known {
        Some((_, read)) => read.as_ref().map_err(Clone::clone),
        None => Err(RulesError::Unknown { id: id.to_owned(), known: ids().collect::<Vec<_>>().join(", ") }),
    }
}

/// Why a rule pack cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
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
