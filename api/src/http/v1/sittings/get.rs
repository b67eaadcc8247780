//! GET /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilSittings},
    id::{PupilId, RoundId, SittingId},
};

use super::{SittingBody, body, sitting_here};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a sitting: what to ask next, what was answered, by whom
///
/// To go on with it on another device. Of this pupil and this check alone, without totals. The reading is written to
/// the audit log before the answer is sent.
#[utoipa::path(
    tag = "sittings", operation_id = "get_sitting",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "The sitting", body = SittingBody), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}")]
pub async fn get_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    caller
        .read_logged("check.read", move |tx| {
            let (pupil, on) = (tx.merged_records()?.now(pupil), tx.today());
            let permit = tx.permit::<Read, _>(PupilSittings { round, pupil, on })?;
            let view = sitting_here(tx, &permit, id)?;
            Reply::ok(&body(tx, &permit, &view)?)
        })
        .await
}
