//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/pause

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilSittings},
    id::{PupilId, RoundId, SittingId},
};

use super::{SittingBody, body, held_here, sitting_here, sitting_of};
use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Pause a sitting, to go on with it later or elsewhere
#[utoipa::path(
    tag = "sittings", operation_id = "pause_sitting",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "The sitting as it stands", body = SittingBody), ActProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/pause")]
pub async fn pause_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    caller
        .write("sitting.pause", move |tx| {
            let (pupil, on) = (tx.merged_records()?.now(pupil), tx.today());
            let permit = tx.permit::<Record, _>(PupilSittings { round, pupil, on })?;
            let mut view = sitting_here(tx, &permit, id)?;
            let mut sitting = sitting_of(&view)?.clone();
            held_here(tx, &permit, &sitting)?;
            if sitting.paused_at.is_none() {
                sitting.paused_at = Some(tx.now());
                tx.save_sitting(&permit, &sitting)?;
            }
            view.sitting = Some(sitting);
            Reply::ok(&body(tx, &permit, &view)?)
        })
        .await
}
