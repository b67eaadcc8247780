//! Pupils who are not asked in a round, or not one of its checks: a coded reason, looked at again.

pub mod add;
pub mod end;
pub mod list;

use plumbline_core::{
    id::{CheckId, ExemptionId, PupilId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::ExemptionRow;

/// That a pupil is not asked.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000015", "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "check_id": null,
    "reason": "newly_arrived", "review_on": "2026-11-06", "said_by": "0199f2c4-0000-7000-8000-000000000002",
    "said_at": "2026-10-14T09:50:00.000000Z", "ended_by": null, "ended_at": null
}))]
pub struct ExemptionBody {
    /// Its id.
    pub id: ExemptionId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The check; null for every check of the round.
    pub check_id: Option<CheckId>,
    /// Why: a code of the rule pack.
    pub reason: String,
    /// When to look at it again.
    pub review_on: Date,
    /// Who said so.
    pub said_by: StaffId,
    /// When.
    pub said_at: Instant,
    /// Who ended it, or said it anew; null while it holds.
    pub ended_by: Option<StaffId>,
    /// When.
    pub ended_at: Option<Instant>,
}

impl From<ExemptionRow> for ExemptionBody {
    fn from(row: ExemptionRow) -> Self {
        Self {
            id: row.id,
            pupil_id: row.pupil_id,
            check_id: row.check_id,
            reason: row.reason,
            review_on: row.review_on,
            said_by: row.said_by,
            said_at: row.said_at,
            ended_by: row.ended_by,
            ended_at: row.ended_at,
        }
    }
}
