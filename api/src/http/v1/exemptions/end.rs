//! DELETE /check-rounds/{id}/pupils/{pupil_id}/exemptions/{exemption_id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Record, resource::PupilExemptions},
    id::{ExemptionId, PupilId, RoundId},
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Ask a pupil after all
///
/// The exemption ends and stays on record.
#[utoipa::path(
    tag = "checks", operation_id = "end_exemption",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("exemption_id" = ExemptionId, Path, description = "The exemption")),
    responses((status = 204, description = "Ended"), ActProblems)
)]
#[delete("/check-rounds/{id}/pupils/{pupil_id}/exemptions/{exemption_id}")]
pub async fn end_exemption(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, ExemptionId)>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    caller
        .write("exemption.end", move |tx| {
            let pupil = tx.merged_records()?.now(pupil);
            let permit = tx.permit::<Record, _>(PupilExemptions { round, pupil })?;
            tx.end_exemption(&permit, id)?;
            Ok(Reply::nothing())
        })
        .await
}
