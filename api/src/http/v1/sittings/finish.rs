//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/finish

use actix_web::{post, web};
use plumbline_core::{
    check::{Outcome, ResponseMode, as_answered},
    id::{PupilId, RoundId, SittingId},
};

use super::{Seat, SittingBody, Stands, held_here, responses, shown, sitting_of, taken_up};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply},
    store::{NewResponse, Tx},
};

/// Finish a sitting
///
/// Items that were not asked are written down as `not_offered`, which is no wrong answer: another sitting may ask
/// them. By whoever has it; the same adult may say so again. Another adult is told who finished it, or has it.
#[utoipa::path(
    tag = "sittings", operation_id = "finish_sitting",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "The sitting as it stands", body = SittingBody), ActProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/finish")]
pub async fn finish_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    let seat = Seat { round, pupil, id, on: None };
    caller
        .write("sitting.finish", move |tx| {
            let stands = finish(tx, seat)?;
            shown(tx, &stands)
        })
        .await
}

/// Finishes a sitting.
pub(in crate::http) fn finish<'tx>(tx: &mut Tx<'tx>, seat: Seat) -> Result<Stands<'tx>, Problem> {
    let (permit, mut view) = taken_up(tx, seat)?;
    let (mut sitting, today, me) = (sitting_of(&view)?.clone(), tx.today(), tx.actor().staff);
    if sitting.finished_by == Some(me) {
        return Ok((permit, view));
    }
    held_here(tx, &permit, &sitting)?;
    // The last day on which the pupil could have been asked.
    let on = permit.resource().on.min(view.round.closes_on).min(view.left_on.unwrap_or(today));
    let (all, here) = responses(&view, Some(seat.id));
    let standing = as_answered(&view.check.items, &all, &here);
    let left_out = view.check.items.iter().zip(&standing).filter(|(_, stands)| stands.is_none());
    let left_out: Vec<NewResponse> = left_out
        .map(|(item, _)| NewResponse {
            id: None,
            check: view.check.id,
            item: item.id,
            on,
            outcome: Outcome::NotOffered,
            heard: None,
            mode: ResponseMode::Spoken,
            taken_by: me,
            corrects: None,
            reason: None,
            sitting: Some(seat.id),
            late: today > view.round.closes_on,
        })
        .collect();
    if !left_out.is_empty() {
        view.responses.extend(tx.answer_sitting(&permit, &left_out)?);
    }
    sitting.finished_at = Some(tx.now());
    sitting.finished_by = Some(me);
    sitting.paused_at = None;
    tx.save_sitting(&permit, &sitting)?;
    view.sitting = Some(sitting);
    Ok((permit, view))
}
