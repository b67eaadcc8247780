//! The pupils of a report as they were on its day.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::{
    attainment::{Answer, PupilFacts, SecureBasis, State, VersionUsed, state},
    rules::{MeasureOf, MeasureRule, RulePack, SecureRule},
    time::Date,
};

use super::release::By;

/// One pupil as of the day.
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
}

impl Cohort {
    /// Optional fields in which something is recorded of a pupil, by their code.
    pub fn fields(&self) -> impl Iterator<Item = String> + use<> {
        let recorded: BTreeSet<String> =
            self.lines.iter().flat_map(|line| line.fields.keys().cloned()).collect();
        recorded.into_iter()
    }
}

/// What is known of a pupil from which measures are counted.
#[derive(Debug)]
pub struct PupilSays<'a> {
    /// Teaching and answers.
    pub facts: &'a PupilFacts,
    /// The outcome of the statutory check; none while it is unknown or the pupil has none.
    pub statutory: Option<bool>,
}

/// Whether a pupil meets a measure; none where nothing tells.
#[must_use]
pub fn met(measure: &MeasureRule, pupil: &PupilSays<'_>, secure: &SecureRule) -> Option<bool> {
    let part = u64::from(measure.percent.unwrap_or(100));
    let enough = |right: u64, of: u64| (of > 0).then(|| 100 * right >= part * of);
    match measure.of {
        MeasureOf::Gpcs => {
            let (mut known, mut right) = (0, 0);
            for (gpc, taught_on) in &pupil.facts.expected {
                let answers: &[Answer] = pupil.facts.gpc_answers.get(gpc).map_or(&[], Vec::as_slice);
                match state(*taught_on, answers, secure) {
                    State::Secure => (known, right) = (known + 1, right + 1),
                    State::Practising | State::Revisit => known += 1,
                    State::Taught | State::Unknown => {}
                }
            }
            enough(right, known)
        }
        MeasureOf::Words => enough(pupil.facts.words_right, pupil.facts.words_offered),
        MeasureOf::Checked => Some(pupil.facts.checked_on.is_some()),
        MeasureOf::Statutory => pupil.statutory,
    }
}
