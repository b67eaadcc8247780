//! Optional fields of a pupil: what a school may record beyond the roster, each once it has said
//! what for. The set of fields and their closed values are the jurisdiction's, as data.

use serde::Deserialize;

use super::RulePack;
use crate::text::search_key;

/// The optional fields of a jurisdiction; none is recorded unless a school switches it on.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct OptionalFields {
    /// In the order shown.
    pub fields: Vec<OptionalField>,
}

/// An optional field.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct OptionalField {
    /// Its key, as stored and as the heading of an export.
    pub field: String,
    /// As shown.
    pub name: String,
    /// Headings of pupil files that are taken for it.
    pub headings: Vec<String>,
    /// What it can say.
    pub values: Vec<OptionalValue>,
}

/// A value of an optional field.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct OptionalValue {
    /// As stored.
    pub code: String,
    /// As shown.
    pub name: String,
    /// Whether it says that the school asked and does not know: never the same as "no".
    #[serde(default)]
    pub unknown: bool,
    /// Spellings seen in files, beside code and name.
    pub spellings: Vec<String>,
}

impl RulePack {
    /// The optional field with this key.
    #[must_use]
    pub fn optional_field(&self, key: &str) -> Option<&OptionalField> {
        self.optional_fields.fields.iter().find(|field| field.field == key)
    }

    /// The optional field a heading of a file is taken for, whatever case, accents and signs.
    #[must_use]
    pub fn optional_field_by_heading(&self, heading: &str) -> Option<&OptionalField> {
        let key = search_key(heading);
        let means = |field: &&OptionalField| {
            field.headings.iter().chain([&field.field]).any(|known| search_key(known) == key)
        };
        self.optional_fields.fields.iter().find(means)
    }
}

impl OptionalField {
    /// The value with this code.
    #[must_use]
    pub fn value(&self, code: &str) -> Option<&OptionalValue> {
        self.values.iter().find(|value| value.code == code)
    }

    /// The value a cell of a file means, whatever case, accents and signs.
    #[must_use]
    pub fn value_by_spelling(&self, text: &str) -> Option<&OptionalValue> {
        let key = search_key(text);
        self.values.iter().find(|value| value.spelled().any(|known| search_key(known) == key))
    }

    /// The codes, for a person who wrote something else.
    #[must_use]
    pub fn codes(&self) -> String {
        self.values.iter().map(|value| value.code.as_str()).collect::<Vec<_>>().join(", ")
    }
}

impl OptionalValue {
    fn spelled(&self) -> impl Iterator<Item = &String> {
        [&self.code, &self.name].into_iter().chain(&self.spellings)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use super::*;
    use crate::{
        roster::file::headings,
        rules::{ids, pack},
        spreadsheet::guarded,
    };

    #[test]
    fn nothing_of_a_pack_means_two_things() {
        for id in ids() {
            let pack = pack(id).unwrap();
            let taken = headings(pack, &BTreeMap::new());
            let mut seen = BTreeSet::new();
            for field in &pack.optional_fields.fields {
                let own: BTreeSet<String> =
                    field.headings.iter().chain([&field.field]).map(|text| search_key(text)).collect();
                for heading in own {
                    assert!(!taken.contains_key(&heading), "{id}: {heading} is a heading of the roster");
                    assert!(seen.insert(heading.clone()), "{id}: {heading} means two fields");
                }
                let mut spelled = BTreeMap::new();
                for value in &field.values {
                    for text in value.spelled() {
                        let earlier = spelled.insert(search_key(text), &value.code);
                        assert!(
                            earlier.is_none_or(|code| *code == value.code),
                            "{id} {}: {text} means two values",
                            field.field
                        );
                    }
                    assert_eq!(guarded(&value.code), value.code, "it leaves in files");
                }
                assert_eq!(field.values.iter().filter(|value| value.unknown).count(), 1, "{id}: unknown");
            }
        }
    }

    #[test]
    fn headings_and_cells_of_usual_files_are_understood() {
        let england = pack("england").unwrap();
        let read = |heading: &str, cell: &str| {
            let field = england.optional_field_by_heading(heading)?;
            Some((field.field.as_str(), field.value_by_spelling(cell)?.code.as_str()))
        };
        for (heading, cell, means) in [
            ("Sex", "f", Some(("sex", "F"))),
            ("GENDER", "Male", Some(("sex", "M"))),
            ("sex", "unspecified", Some(("sex", "U"))),
            ("SEN Status", "K", Some(("sen", "K"))),
            ("sen-provision", "EHC plan", Some(("sen", "E"))),
            ("SEN", "No SEN", Some(("sen", "N"))),
            ("EAL", "Yes", Some(("eal", "other"))),
            ("EAL", "N", Some(("eal", "english"))),
            ("Pupil Premium", "Y", Some(("disadvantage", "yes"))),
            ("Disadvantaged", "no", Some(("disadvantage", "no"))),
            ("Disadvantaged", "not known", Some(("disadvantage", "unknown"))),
            // A kind of need is nobody's business here, and nothing is guessed from part of a word.
            ("SEN need", "K", None),
            ("SEN", "SpLD", None),
            ("Sex", "Fe", None),
        ] {
            assert_eq!(read(heading, cell), means, "{heading}: {cell}");
        }
        assert_eq!(pack("south-australia").unwrap().optional_field("sen"), None, "each pack has its own");
    }
}
