//! GET /check-rounds/{id}/pupils/{pupil_id}/responses

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilChecks},
    id::{PupilId, RoundId},
};

use super::{ResponseBody, bodies};
use crate::http::{
    caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply, words::told::told,
};

/// A pupil's answers within a round, corrected ones and corrections alike
///
/// No totals. Answers to a check that one is asked to mark a second time are left out until one's own marks are given.
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "list_responses",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "In order of entry", body = Page<ResponseBody>), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/responses")]
pub async fn list_responses(caller: Caller, path: web::Path<(RoundId, PupilId)>) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let words = caller.words().await?;
    caller
        .read_logged("check.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilChecks { round, pupil, on: None })?;
            let blind = tx.blind_to(&permit)?;
            let mut rows = tx.responses(&permit)?;
            rows.retain(|row| !blind.contains(&row.check_id));
            let told = told(tx, &permit, Some(&words), &rows)?;
            Reply::ok(&Page::whole(bodies(rows, &told)))
        })
        .await
}
