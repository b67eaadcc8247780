//! One child or two: records alike, and what people decided about them.

pub mod decide;
pub mod list;
pub mod suspects;
pub mod take_back;

use plumbline_core::{
    id::{PupilDecisionId, PupilId, StaffId},
    roster::Verdict,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::pupils::Named;
use crate::{http::reply::etag, store::DecisionView};

/// What somebody decided about two records.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000021", "etag": "\"v31\"", "verdict": "same",
    "pupil": {"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Rory Hale"},
    "other": {"id": "0199f2c4-0000-7000-8000-000000000017", "name": "Rory Hail"},
    "decided_by": "0199f2c4-0000-7000-8000-000000000002", "decided_at": "2026-11-25T10:00:00.000000Z", "undo_until": "2027-05-24"
}))]
pub struct DecisionBody {
    /// Its id.
    pub id: PupilDecisionId,
    /// To send as If-Match when it is taken back.
    pub etag: String,
    /// One child or two.
    pub verdict: Verdict,
    /// One pupil; of one child, the record that was kept.
    pub pupil: Named<PupilId>,
    /// The other; of one child, the record that is gone, by the name it had.
    pub other: Named<PupilId>,
    /// Who decided.
    pub decided_by: StaffId,
    /// When.
    pub decided_at: Instant,
    /// Of one child, the last day on which the two can be taken apart.
    pub undo_until: Option<Date>,
}

impl From<DecisionView> for DecisionBody {
    fn from(view: DecisionView) -> Self {
        let DecisionView { row, names: [name, other] } = view;
        Self {
            id: row.id,
            etag: etag(row.v),
            verdict: row.verdict,
            pupil: Named { id: row.pupil_id, name },
            other: Named { id: row.other_id, name: other },
            decided_by: row.decided_by,
            decided_at: row.decided_at,
            undo_until: row.undo_until,
        }
    }
}
