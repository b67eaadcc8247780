//! What schools showed their trust, read by its lead.

pub mod compare;
pub mod drop_file;
pub mod get;
pub mod list;
pub mod take;

use plumbline_core::{
    id::{SchoolId, TrustShareId},
    time::{Date, Instant},
    trust::Shared,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{http::problem::Problem, store::TrustShown};

/// Something a school showed, without its figures.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000041", "school_id": "0199f2c4-0000-7000-8000-000000000001",
    "school": "Farholt Infant School", "school_year": 2026, "half_term": "Autumn 2", "as_of": "2026-12-18",
    "shown_at": "2026-12-18T16:10:00.000000Z", "by_file": false
}))]
pub struct TrustReleaseLine {
    /// Its id.
    pub id: TrustShareId,
    /// The school.
    pub school_id: SchoolId,
    /// As it was called in the release.
    pub school: String,
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The half term's name.
    pub half_term: String,
    /// As of which day the figures are.
    pub as_of: Date,
    /// When it was shared, or came as a file.
    pub shown_at: Instant,
    /// Whether it came as a file.
    pub by_file: bool,
}

impl TrustReleaseLine {
    fn of(shown: &TrustShown) -> Result<Self, Problem> {
        let Shared { figures, .. } = serde_json::from_str(&shown.body)?;
        Ok(Self {
            id: shown.id,
            school_id: shown.member_id,
            school: figures.release.basis.school,
            school_year: figures.school_year,
            half_term: figures.release.basis.half_term,
            as_of: figures.release.as_of,
            shown_at: shown.at,
            by_file: shown.by_file,
        })
    }
}
