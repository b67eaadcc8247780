//! Snapshots: the pupils of a report as they were on its day, and what is released of them.

pub mod get;
pub mod list;
pub mod preview;
pub mod progress;
pub mod release;
pub mod take;

use plumbline_core::{
    calendar::HalfTerm,
    id::{HalfTermId, ReportSnapshotId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, Problem},
    store::{SnapshotHead, Tx},
};

/// A snapshot, without any pupil.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000031", "as_of": "2026-12-18", "half_term": "Autumn 2",
    "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_at": "2026-12-18T15:40:00.000000Z",
    "kept_until": "2028-01-22T15:40:00.000000Z"
}))]
pub struct SnapshotLine {
    /// Its id.
    pub id: ReportSnapshotId,
    /// As of which day.
    pub as_of: Date,
    /// The half term's name.
    pub half_term: String,
    /// Who made it.
    pub made_by: StaffId,
    /// When.
    pub made_at: Instant,
    /// Until when its pupils are kept, under pseudonyms. What was released of them stays.
    pub kept_until: Instant,
}

impl From<SnapshotHead> for SnapshotLine {
    fn from(head: SnapshotHead) -> Self {
        Self {
            id: head.id,
            as_of: head.as_of,
            half_term: head.half_term,
            made_by: head.created_by,
            made_at: head.created_at,
            kept_until: head.kept_until,
        }
    }
}

/// The half term a report is of and the day it is as of: the half term told, or that of the day; the day told, or the
/// half term's last, or today if that comes first.
pub fn half_term_and_day(
    tx: &mut Tx<'_>,
    half_term: Option<HalfTermId>,
    as_of: Option<Date>,
) -> Result<(HalfTerm, Date), Problem> {
    let (calendar, today) = (tx.calendar()?, tx.today());
    let found = match half_term {
        Some(id) => calendar.half_term(id).ok_or_else(|| {
            Problem::field("half_term_id", "is no half term of the school").with_code(Code::NotFound)
        })?,
        None => calendar
            .half_term_of(as_of.unwrap_or(today))
            .ok_or_else(|| Problem::field("half_term_id", "that day lies in no half term: name one"))?,
    };
    let as_of = as_of.unwrap_or_else(|| found.ends_on.min(today));
    if as_of > today {
        return Err(Problem::field("as_of", "is in the future"));
    }
    if as_of < found.starts_on {
        return Err(Problem::field("as_of", "lies before the half term"));
    }
    Ok((found.clone(), as_of))
}
