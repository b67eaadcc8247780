//! GET /pupil-decisions

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Roster};

use super::DecisionBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List what was decided about records alike
///
/// What was taken back is not among them; the audit log and the history keep it. The reading is written to
/// the audit log before the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "list_pupil_decisions",
    responses((status = 200, description = "Latest first", body = Page<DecisionBody>), ReadProblems)
)]
#[get("/pupil-decisions")]
pub async fn list_pupil_decisions(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read_logged("pupil_decision.list", |tx| {
            let permit = tx.permit::<Read, _>(Roster)?;
            let decisions: Vec<_> =
                tx.pupil_decisions(&permit)?.into_iter().map(DecisionBody::from).collect();
            Reply::ok(&Page::whole(decisions))
        })
        .await
}
