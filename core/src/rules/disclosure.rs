//! How figures may leave the school, by who is to have them.

use serde::{Deserialize, Serialize};

/// How figures may leave the school.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct DisclosureRule {
    /// To those who answer for the pupils.
    pub internal: InternalRule,
    /// To readers who may not see every pupil's results: governors, staff.
    pub closed: ReleaseRule,
    /// To everybody.
    pub published: ReleaseRule,
    /// What stands in the place of a figure.
    pub symbols: Vec<SymbolLabel>,
}

/// Figures for those who answer for the pupils: exact.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct InternalRule {
    /// To be shown with them.
    pub banner: String,
}

/// Figures for others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct ReleaseRule {
    /// The fewest pupils a figure may be about.
    pub minimum_group: usize,
    /// The fewest where a school chose the smaller group.
    #[serde(default)]
    pub minimum_group_option: Option<usize>,
    /// The fewest who met.
    pub minimum_met: u32,
    /// The fewest who did not.
    pub minimum_not_met: u32,
    /// Values a figure that is left out must still be able to have, from the least to the most, less one.
    pub hidden_width: u32,
    /// Populations that differ by fewer pupils than this, and not by none, are not both told about.
    pub differing_pupils: usize,
    /// Whether figures about the pupils of one class leave.
    pub class_level: bool,
    /// How many there are is told to the nearest of this; none where exact.
    #[serde(default)]
    pub round_group_to: Option<u32>,
    /// Percentages above 100 less this, and below this, are told as no more than that; none where exact.
    #[serde(default)]
    pub extreme_percent: Option<u8>,
}

/// What stands in the place of a figure, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SymbolLabel {
    /// As in a table.
    pub code: String,
    /// As told.
    pub label: String,
}

#[cfg(test)]
mod tests {
    use crate::{
        report::Symbol,
        rules::{ids, pack},
    };

    /// A wider audience is told less, and no symbol stands for two things.
    #[test]
    fn every_pack_tells_the_public_no_more_than_governors() {
        for id in ids() {
            let rule = &pack(id).unwrap().disclosure;
            for audience in [&rule.closed, &rule.published] {
                assert!(audience.minimum_met > 0 && audience.minimum_not_met > 0, "{id}");
                let sides = (audience.minimum_met + audience.minimum_not_met) as usize;
                assert!(audience.minimum_group.max(sides) >= 5 && audience.hidden_width >= 3, "{id}");
                assert!(audience.differing_pupils >= 2, "{id}");
            }
            let (closed, published) = (&rule.closed, &rule.published);
            assert!(published.minimum_group >= closed.minimum_group, "{id}");
            assert!(published.minimum_group_option.is_none_or(|least| least >= closed.minimum_group), "{id}");
            assert!(closed.class_level || !published.class_level, "{id}");
            // Who is told counts is told them exactly: differences are worked out of them.
            assert!(closed.round_group_to.is_none(), "{id}");
            assert!(published.round_group_to.is_some() && published.extreme_percent.is_some(), "{id}");
            let codes: Vec<&str> = rule.symbols.iter().map(|one| one.code.as_str()).collect();
            let known: Vec<&str> = Symbol::ALL.iter().map(|symbol| symbol.as_str()).collect();
            assert_eq!(codes, known, "{id}");
        }
    }
}
