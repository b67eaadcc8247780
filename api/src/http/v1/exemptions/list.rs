//! GET /check-rounds/{id}/pupils/{pupil_id}/exemptions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilExemptions},
    id::{PupilId, RoundId},
};

use super::ExemptionBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// Why a pupil is or was left out of a round
///
/// What ended stays on record. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "list_exemptions",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "In the order they were said", body = Page<ExemptionBody>), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/exemptions")]
pub async fn list_exemptions(caller: Caller, path: web::Path<(RoundId, PupilId)>) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    caller
        .read_logged("check.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilExemptions { round, pupil })?;
            let rows = tx.exemptions(&permit)?;
            Reply::ok(&Page::whole(rows.into_iter().map(ExemptionBody::from).collect()))
        })
        .await
}
