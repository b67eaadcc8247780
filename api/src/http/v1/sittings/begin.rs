//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilSittings},
    check::{answered, as_answered, check_day, next},
    id::{CheckId, PupilId, RoundId, SittingId, of_device_if_any},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{
    Seat, SittingBody, Stands, address, body as shown, in_the_way, not_second, responses, sitting_here,
    sitting_of, taken_up,
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
        v1::checks::{answer_facts, for_this_pupil, not_of_the_round},
    },
    store::{Permit, SittingView, Tx},
};

/// A sitting to begin.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000012", "check_id": "0199f2c4-0000-7000-8000-00000000000e"}))]
pub struct NewSitting {
    /// Made by the device, a UUID of version 7: the same sitting sent again is one. The server makes one where
    /// there is none.
    #[serde(default, deserialize_with = "of_device_if_any")]
    pub id: Option<SittingId>,
    /// The check: one of the round's.
    pub check_id: CheckId,
    /// The day it was begun; today unless told.
    #[serde(default)]
    pub on: Option<Date>,
}

/// Begin a sitting: ask a pupil a check item by item
///
/// One goes on at a time for a pupil and a check: whoever begins second is told who has it and where. Items that were
/// answered in this round are not asked again. In a round that is for other pupils the lead alone begins.
#[utoipa::path(
    tag = "sittings", operation_id = "begin_sitting", request_body = NewSitting,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Begun", body = SittingBody), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings")]
pub async fn begin_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewSitting>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let (new, hash) = (body.value, body.hash);
    caller
        .create_of_pupils(
            "sitting.begin",
            hash,
            move |tx| {
                let (permit, view) = begin(tx, (round, pupil), &new, false)?;
                begun(tx, &permit, &view)
            },
            move |tx, reply| {
                let (permit, view) = taken_up(tx, Seat { round, pupil, id: reply.made()?, on: new.on })?;
                begun(tx, &permit, &view)
            },
        )
        .await
}

/// Begins a sitting, or finds the one the same adult has begun under this id. Beside another that goes on only where
/// it is told afterwards that it was: what was asked by two who did not know of each other comes in from both.
pub(in crate::http) fn begin<'tx>(
    tx: &mut Tx<'tx>,
    (round, pupil): (RoundId, PupilId),
    new: &NewSitting,
    beside: bool,
) -> Result<Stands<'tx>, Problem> {
    let (pupil, on) = (tx.merged_records()?.now(pupil), new.on.unwrap_or_else(|| tx.today()));
    let permit = tx.permit::<Record, _>(PupilSittings { round, pupil, on })?;
    if let Some(id) = new.id
        && let Some(there) = tx.sitting_of_id(&permit, id)?
    {
        let same = (there.round, there.pupil, there.check) == (round, pupil, new.check_id);
        if !same || there.adults.first() != Some(&tx.actor().staff) {
            return Err(Problem::field("id", "is the id of another sitting").with_code(Code::Conflict));
        }
        let view = sitting_here(tx, &permit, id)?;
        return Ok((permit, view));
    }
    let view = tx.before_sitting(&permit, new.check_id).map_err(not_of_the_round)?;
    not_second(&view)?;
    for_this_pupil(tx, round, view.is_asked)?;
    let open = if beside { None } else { tx.open_sitting(&permit, new.check_id)? };
    if let Some(open) = open {
        let mine = open.holder == tx.actor().staff;
        let say = |name: &str| match open.paused_at {
            _ if mine => "you have begun this check with this pupil: go on with that".to_owned(),
            None => format!("{name} is asking this pupil this check"),
            Some(_) => format!("{name} began this check with this pupil and has paused it"),
        };
        return Err(in_the_way(tx, &permit, &open, say)?);
    }
    let (there, here) = responses(&view, None);
    let existing = answered(&there, new.check_id);
    let facts = answer_facts(tx, (&view.round, &view.check), &existing, view.left_on)?;
    check_day(&facts, on)?;
    if !beside && next(&view.check.items, &as_answered(&view.check.items, &there, &here)).is_none() {
        let detail = "every item of this check was answered in this round: correct an answer instead";
        return Err(Problem::saying(Code::Conflict, detail));
    }
    let sitting = tx.begin_sitting(&permit, new.id, new.check_id)?;
    Ok((permit, SittingView { sitting: Some(sitting), ..view }))
}

fn begun<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, PupilSittings>,
    view: &SittingView,
) -> Result<Reply, Problem> {
    Reply::created(address(sitting_of(view)?), &shown(tx, permit, view)?)
}
