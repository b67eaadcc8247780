//! Version 1 of the API: one folder a noun, one file an operation.

pub mod answering;
pub mod attainment;
pub mod books;
pub mod calendar;
pub mod carried_in;
pub mod catch_ups;
pub mod checks;
pub mod classes;
pub mod confusions;
pub mod cover_links;
pub mod cover_pages;
pub mod events;
pub mod exemptions;
pub mod group_proposals;
pub mod groups;
pub mod handing_on;
pub mod held_ops;
pub mod lessons;
pub mod log;
pub mod optional_fields;
pub mod overview;
pub mod pace;
pub mod phonics_policy;
pub mod placements;
pub mod pseudo_word_sets;
pub mod pupil_decisions;
pub mod pupil_fields;
pub mod pupils;
pub mod report_releases;
pub mod report_snapshots;
pub mod reports;
pub mod rollovers;
pub mod roster_imports;
pub mod school;
pub mod school_words;
pub mod second_marking;
pub mod sequence_proposals;
pub mod sequences;
pub mod sessions;
pub mod sittings;
pub mod staff;
pub mod statutory;
pub mod struck_words;
pub mod sync;
pub mod tablets;
pub mod trust_releases;
pub mod trust_schools;
pub mod trust_shares;
pub mod words;

use plumbline_core::{
    id::StaffId,
    time::{Date, Span},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::problem::{Code, FieldError, Problem};
use crate::store::Assignment;

/// Adults to assign.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000001", "from": "2026-09-01"}]}))]
pub struct AdultsBody {
    /// Everyone, with their days. Adults left out are no longer assigned.
    pub adults: Vec<AdultBody>,
}

/// An adult to assign.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AdultBody {
    /// The adult.
    pub staff_id: StaffId,
    /// First day.
    pub from: Date,
    /// Last day; leave out while it goes on. A cover day has the same first and last day.
    #[serde(default)]
    pub until: Option<Date>,
}

impl AdultsBody {
    /// The assignments, checked: no reversed days, no overlaps for one adult.
    fn spans(&self) -> Result<Vec<(StaffId, Span)>, Problem> {
        let mut spans: Vec<(StaffId, Span)> = Vec::new();
        for (n, adult) in self.adults.iter().enumerate() {
            let span = Span { from: adult.from, until: adult.until };
            let wrong = |field: &str, message: &str| {
                let (field, message) = (format!("adults[{n}].{field}"), message.to_owned());
                Problem::fields([FieldError { field, message }])
            };
            if adult.until.is_some_and(|until| until < adult.from) {
                return Err(wrong("until", "lies before the first day"));
            }
            if spans.iter().any(|(staff, other)| *staff == adult.staff_id && other.meets(&span)) {
                return Err(wrong("from", "overlaps another assignment of the same adult"));
            }
            spans.push((adult.staff_id, span));
        }
        Ok(spans)
    }
}

/// An adult's days with a class or group.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(example = json!({"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "from": "2026-09-01", "until": null}))]
pub struct AdultView {
    /// The adult.
    pub staff_id: StaffId,
    /// The adult's name.
    pub name: String,
    /// First day.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
}

impl From<Assignment> for AdultView {
    fn from(a: Assignment) -> Self {
        Self { staff_id: a.staff_id, name: a.name, from: a.from, until: a.until }
    }
}

/// That something cannot be taken back any more: what was before is kept no longer.
fn no_undo(until: Option<Date>) -> Problem {
    let until = until.map(|day| format!(": what was before was kept until {day}"));
    let message = format!("it can no longer be taken back{}", until.unwrap_or_default());
    Problem::saying(Code::Gone, message)
}

fn adults(list: Vec<Assignment>) -> Vec<AdultView> {
    list.into_iter().map(AdultView::from).collect()
}
