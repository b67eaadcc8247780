//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/pause

use actix_web::{post, web};
use plumbline_core::id::{PupilId, RoundId, SittingId};

use super::{Seat, SittingBody, Stands, held_here, shown, sitting_of, taken_up};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply},
    store::Tx,
};

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
    let seat = Seat { round, pupil, id, on: None };
    caller
        .write("sitting.pause", move |tx| {
            let stands = pause(tx, seat)?;
            shown(tx, &stands)
        })
        .await
}

/// Pauses a sitting; one that is paused stays so.
pub(in crate::http) fn pause<'tx>(tx: &mut Tx<'tx>, seat: Seat) -> Result<Stands<'tx>, Problem> {
    let (permit, mut view) = taken_up(tx, seat)?;
    let mut sitting = sitting_of(&view)?.clone();
    held_here(tx, &permit, &sitting)?;
    if sitting.paused_at.is_none() {
        sitting.paused_at = Some(tx.now());
        tx.save_sitting(&permit, &sitting)?;
    }
    view.sitting = Some(sitting);
    Ok((permit, view))
}
