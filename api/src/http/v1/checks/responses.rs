//! GET /check-rounds/{id}/pupils/{pupil_id}/responses

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilChecks},
    id::{PupilId, RoundId},
};

use super::{ResponseBody, bodies};
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// A pupil's answers within a round, corrected ones and corrections alike
///
/// No totals. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "list_responses",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "In order of entry", body = Page<ResponseBody>), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/responses")]
pub async fn list_responses(caller: Caller, path: web::Path<(RoundId, PupilId)>) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    caller
        .read_logged("check.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilChecks { round, pupil })?;
            let rows = tx.responses(&permit)?;
            Reply::ok(&Page::whole(bodies(rows)))
        })
        .await
}
