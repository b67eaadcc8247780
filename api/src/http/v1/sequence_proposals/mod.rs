//! Proposals of a sequence, searched for under constraints while the caller does something else.

pub mod cancel;
pub mod create;
pub mod get;
pub mod list;

use plumbline_core::{
    id::{ProposalId, StaffId},
    phonics::proposal::{Constraints, Progress, Proposed},
    sequence::ProposalStatus,
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, Problem},
    store::ProposalRow,
};

/// How far a proposal is.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({"done": 0.14, "doing": "step 14 of 90"}))]
pub struct ProposalProgress {
    /// The part that is done, 0 to 1.
    pub done: f64,
    /// What is being done, for a person.
    pub doing: String,
}

/// A proposal without its result.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000e", "status": "running", "progress": {"done": 0.14, "doing": "step 14 of 90"},
    "constraints": Constraints::default(), "created_by": "0199f2c4-0000-7000-8000-000000000002",
    "created_at": "2026-11-25T10:00:00.000000Z", "finished_at": null, "problem": null
}))]
pub struct ProposalLine {
    /// Its id.
    pub id: ProposalId,
    /// How it stands.
    pub status: ProposalStatus,
    /// How far it is.
    pub progress: ProposalProgress,
    /// What it must keep to, defaults filled in.
    pub constraints: Constraints,
    /// Who asked.
    pub created_by: StaffId,
    /// When.
    pub created_at: Instant,
    /// When it ended.
    pub finished_at: Option<Instant>,
    /// Why there is no result, where it failed.
    pub problem: Option<String>,
}

/// A proposal.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000e", "status": "queued", "progress": {"done": 0.0, "doing": "waiting"},
    "constraints": Constraints::default(), "created_by": "0199f2c4-0000-7000-8000-000000000002",
    "created_at": "2026-11-25T10:00:00.000000Z", "finished_at": null, "problem": null, "result": null
}))]
pub struct ProposalBody {
    /// All but the result.
    #[serde(flatten)]
    pub line: ProposalLine,
    /// The draft and what it achieves, once it is done.
    pub result: Option<Proposed>,
}

/// A row as shown; `live` is what this server knows of a search it has in hand.
fn line(row: ProposalRow, live: Option<Progress>) -> Result<ProposalLine, Problem> {
    let constraints: Constraints = serde_json::from_value(row.constraints).map_err(|error| {
        tracing::error!(%error, "stored constraints");
        Problem::new(Code::Internal)
    })?;
    let written = usize::try_from(row.step).ok().filter(|step| *step > 0);
    let searching = live.map(|live| (live.done, live.step)).or_else(|| {
        let step = written?;
        Some(((step - 1) as f64 / constraints.steps.max(1) as f64, step))
    });
    let progress = match (row.status, searching) {
        (ProposalStatus::Queued, _) => ProposalProgress { done: 0.0, doing: "waiting".into() },
        (ProposalStatus::Done, _) => ProposalProgress { done: 1.0, doing: "done".into() },
        (ProposalStatus::Running, None) => ProposalProgress { done: 0.0, doing: "beginning".into() },
        (status, None) => ProposalProgress { done: 0.0, doing: status.to_string() },
        (status, Some((done, step))) => {
            let at = format!("step {step} of {}", constraints.steps);
            let doing = if status == ProposalStatus::Running { at } else { format!("{status} at {at}") };
            ProposalProgress { done, doing }
        }
    };
    Ok(ProposalLine {
        id: row.id,
        status: row.status,
        progress,
        constraints,
        created_by: row.created_by,
        created_at: row.created_at,
        finished_at: row.finished_at,
        problem: row.problem,
    })
}

/// A row with its result as shown.
fn body(
    row: ProposalRow,
    result: Option<serde_json::Value>,
    live: Option<Progress>,
) -> Result<ProposalBody, Problem> {
    let result = result.map(serde_json::from_value).transpose().map_err(|error| {
        tracing::error!(%error, "a stored proposal");
        Problem::new(Code::Internal)
    })?;
    Ok(ProposalBody { line: line(row, live)?, result })
}
