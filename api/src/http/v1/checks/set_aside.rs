//! GET /check-rounds/{id}/pupils/{pupil_id}/set-aside

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilChecks},
    check::{Outcome, ResponseMode},
    id::{CheckId, CheckItemId, PupilId, RoundId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// An answer that was taken down where another adult's to the same item was there first.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"at": "2026-11-25T09:40:00.000000Z", "by": "0199f2c4-0000-7000-8000-000000000002",
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "item_id": "0199f2c4-0000-7000-8000-00000000000f",
    "outcome": "wrong", "heard": "b.ɪ.n", "mode": "spoken"}))]
pub struct ResponseSetAside {
    /// When it came in.
    pub at: Instant,
    /// Who took it down; none once erased.
    pub by: Option<StaffId>,
    /// The check.
    pub check_id: CheckId,
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it. It counts for nothing; correct the response that stands to take it over.
    pub outcome: Outcome,
    /// What was heard instead, in sounds.
    pub heard: Option<String>,
    /// How the pupil answered, where that was said.
    pub mode: Option<ResponseMode>,
}

/// A pupil's answers within a round that were set aside, earliest first
///
/// Two adults who asked one pupil the same item, neither knowing of the other, both keep what they took down: what came
/// in first stands, and the other is kept here. Answers to a check that one is asked to mark a second time are left out
/// until one's own marks are given. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "list_responses_set_aside",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "What does not stand", body = Page<ResponseSetAside>), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/set-aside")]
pub async fn list_responses_set_aside(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    caller
        .read_logged("check.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilChecks { round, pupil, on: None })?;
            let blind = tx.blind_to(&permit)?;
            let stand = tx.responses(&permit)?;
            let all = tx.answers_set_aside(&permit)?.into_iter().filter_map(|(line, answer)| {
                // Which check it was is said by the answer that stands.
                let check_id = stand.iter().find(|one| one.item_id == answer.item_id)?.check_id;
                (!blind.contains(&check_id)).then_some(ResponseSetAside {
                    at: line.at,
                    by: line.staff_id,
                    check_id,
                    item_id: answer.item_id,
                    outcome: answer.outcome,
                    heard: answer.heard,
                    mode: answer.mode,
                })
            });
            Reply::ok(&Page::whole(all.collect()))
        })
        .await
}
