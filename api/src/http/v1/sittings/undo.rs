//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/undo

use actix_web::{post, web};
use plumbline_core::{
    check::{Outcome, counting, last},
    id::{PupilId, ResponseId, RoundId, SittingId, of_device},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Seat, SittingBody, Stands, held_here, responses, shown, sitting_of, taken_up};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{NewResponse, Tx},
};

/// Taking the last answer back.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000013"}))]
pub struct Undo {
    /// Made by the device, a UUID of version 7: the same undo sent again is one, and takes back one answer.
    #[serde(deserialize_with = "of_device")]
    pub id: ResponseId,
    /// The answer meant, by the id its device gave it; the last one unless told. One that does not count, as it was set
    /// aside where another adult's was there first, is taken back by changing nothing.
    #[serde(default)]
    pub of: Option<ResponseId>,
}

/// Take back the last answer of a sitting
///
/// The answer stays on record and no longer counts: the undo is a correction of it, and the item is asked again. Again,
/// and the answer before it is taken back. A sitting that is finished is corrected instead.
#[utoipa::path(
    tag = "sittings", operation_id = "undo_sitting_answer", request_body = Undo,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "The sitting as it stands", body = SittingBody), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/undo")]
pub async fn undo_sitting_answer(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
    body: Body<Undo>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    let undo = body.value;
    let seat = Seat { round, pupil, id, on: None };
    caller
        .write("sitting.undo", move |tx| {
            let stands = undo_last(tx, seat, undo)?;
            shown(tx, &stands)
        })
        .await
}

/// Takes an answer of a sitting back.
pub(in crate::http) fn undo_last<'tx>(
    tx: &mut Tx<'tx>,
    seat: Seat,
    Undo { id: undo, of }: Undo,
) -> Result<Stands<'tx>, Problem> {
    let (permit, mut view) = taken_up(tx, seat)?;
    let known = view.responses.iter().find(|row| row.id == undo);
    if known.is_some_and(|row| row.sitting_id == Some(seat.id) && row.corrects.is_some()) {
        return Ok((permit, view));
    }
    if !tx.response_ids(&permit, &[undo])?.is_empty() {
        return Err(Problem::field("id", "is the id of another answer").with_code(Code::Conflict));
    }
    let sitting = sitting_of(&view)?.clone();
    held_here(tx, &permit, &sitting)?;
    let (mut given, here) = responses(&view, Some(seat.id));
    given.retain(|one| here.contains(&one.id));
    let meant = of.map_or_else(|| last(&given), |of| counting(&given, of));
    let elsewhere = |of| view.responses.iter().any(|row| row.id == of && row.sitting_id != Some(seat.id));
    if meant.is_none() && of.is_some_and(|of| !elsewhere(of)) {
        return Ok((permit, view));
    }
    let last = meant.and_then(|one| view.responses.iter().find(|row| row.id == one.response));
    let last = last.ok_or_else(|| {
        Problem::saying(Code::Conflict, "nothing was answered in this sitting that could be taken back")
    })?;
    let back = NewResponse {
        id: Some(undo),
        check: last.check_id,
        item: last.item_id,
        on: last.on_date,
        outcome: Outcome::NotOffered,
        heard: None,
        mode: last.mode,
        taken_by: last.taken_by,
        corrects: Some(last.id),
        reason: None,
        sitting: Some(seat.id),
        late: last.late,
    };
    view.responses.extend(tx.answer_sitting(&permit, &[back])?);
    Ok((permit, view))
}
