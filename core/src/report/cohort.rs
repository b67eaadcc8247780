//! The pupils of a report as they were on its day.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::{
    attainment::{SecureBasis, VersionUsed},
    rules::{MeasureRule, RulePack},
    time::Date,
};

use super::release::By;

/// One pupil as of the day, or of the day of a check.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// A pseudonym: the same in all reports of a school, and nothing outside them.
    pub pupil: u64,
    /// The year group's name.
    pub year_group: Option<String>,
    /// The class's name.
    pub class: Option<String>,
    /// The term of birth, as told.
    pub term_of_birth: Option<String>,
    /// Optional fields by their code, as told.
    pub fields: BTreeMap<String, String>,
    /// Measures by their code: met or not. Those unknown of this pupil are not in it.
    pub met: BTreeMap<String, bool>,
    /// How many GPCs are secure; none where nobody counted, as of a check.
    #[serde(default)]
    pub secure: Option<u32>,
}

/// The pupils of one statutory check: of one year group, in one calendar year, as they were then. Who left since is among
/// them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OfCheck {
    /// The code of the measure that tells of them.
    pub measure: String,
    /// The year group's name.
    pub year_group: String,
    /// The calendar year.
    pub year: i32,
    /// Who was due for it and counts, each once.
    pub lines: Vec<Line>,
}

/// What the figures of a report rest on, to be told with them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReportBasis))]
pub struct Basis {
    /// The school, as it was called then.
    pub school: String,
    /// The half term's name.
    pub half_term: String,
    /// What "secure" means. A working rule, no validated threshold.
    pub secure_means: SecureBasis,
    /// The sequence versions the lessons were taught from.
    pub versions: Vec<VersionUsed>,
    /// To be shown with the figures.
    pub cautions: Vec<String>,
}

/// What the words of a report mean, as the rule pack said it on its day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Definitions {
    /// What was said of each pupil.
    pub measures: Vec<MeasureRule>,
    /// By what pupils are told apart, the names of the parts in their order.
    pub orders: BTreeMap<By, Vec<String>>,
}

impl Definitions {
    /// Those of a rule pack.
    #[must_use]
    pub fn of(rules: &RulePack) -> Self {
        let years = rules.year_groups.iter().map(|year| year.name.clone()).collect();
        let terms = rules.reports.terms_of_birth.iter().map(|term| term.coded.label.clone()).collect();
        let fields = rules.optional_fields.fields.iter().map(|field| {
            let values = field.values.iter().map(|value| value.name.clone()).collect();
            (By::Field(field.field.clone()), values)
        });
        let orders = [(By::YearGroup, years), (By::TermOfBirth, terms)].into_iter().chain(fields);
        Self { measures: rules.reports.measures.clone(), orders: orders.collect() }
    }

    /// A measure by its code.
    #[must_use]
    pub fn measure(&self, code: &str) -> Option<&MeasureRule> {
        self.measures.iter().find(|measure| measure.code == code)
    }

    pub(super) fn order(&self, by: &By) -> &[String] {
        self.orders.get(by).map_or(&[], Vec::as_slice)
    }
}

/// The pupils of a report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cohort {
    /// As of which day.
    pub as_of: Date,
    /// The first day of the half term it is of.
    pub half_term_from: Date,
    /// What figures of them rest on.
    pub basis: Basis,
    /// What is meant.
    pub definitions: Definitions,
    /// Each once.
    pub lines: Vec<Line>,
    /// The checks held by then: of each measure the latest first, as many as may be taken together.
    pub checks: Vec<OfCheck>,
}

impl Cohort {
    /// Optional fields in which something is recorded of a pupil, by their code.
    pub fn fields(&self) -> impl Iterator<Item = String> + use<> {
        let of_checks = self.checks.iter().flat_map(|check| &check.lines);
        let lines = self.lines.iter().chain(of_checks);
        let recorded: BTreeSet<String> = lines.flat_map(|line| line.fields.keys().cloned()).collect();
        recorded.into_iter()
    }

    /// The checks a measure tells of, the latest first.
    pub fn checks_of(&self, measure: &str) -> impl Iterator<Item = &OfCheck> {
        self.checks.iter().filter(move |check| check.measure == measure)
    }

    /// Whether most pupils of a measure's latest check are in its year group no more.
    pub(super) fn has_others_now(&self, measure: &MeasureRule, year_group: &str) -> bool {
        let now: BTreeSet<u64> = (self.lines.iter())
            .filter(|line| line.year_group.as_deref() == Some(year_group))
            .map(|line| line.pupil)
            .collect();
        let of_check = self.checks_of(&measure.code).next();
        of_check.is_some_and(|check| {
            let still = check.lines.iter().filter(|line| now.contains(&line.pupil)).count();
            2 * still < check.lines.len()
        })
    }

    /// Where the statutory check a measure tells of stands among these, the earlier year group first; none of all other
    /// measures.
    pub(super) fn place_of_check(&self, measure: &str) -> Option<usize> {
        let code = self.definitions.measure(measure)?.year_group.as_ref()?;
        let measures = self.definitions.measures.iter().filter_map(|one| one.year_group.as_ref());
        measures.collect::<Vec<_>>().into_iter().position(|one| one == code)
    }
}
