//! Sittings: one adult asks one pupil one check, on any device, item by item. No answer here holds a mark, a
//! total or another child.

pub mod answer;
pub mod begin;
pub mod finish;
pub mod get;
pub mod pause;
pub mod resume;
pub mod undo;

use std::collections::BTreeSet;

use plumbline_core::{
    access::{act::Record, resource::PupilSittings},
    check::{CheckItem, Outcome, Response, ResponseMode, as_answered, next},
    id::{CheckId, CheckItemId, PupilId, ResponseId, RoundId, SittingId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        problem::{Code, Problem},
        reply::Reply,
    },
    store::{Error, Permit, ResponseRow, Sitting, SittingView, Tx, response_of},
};

/// A sitting as it stands.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000012", "round_id": "0199f2c4-0000-7000-8000-000000000010",
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "check_id": "0199f2c4-0000-7000-8000-00000000000e",
    "begun_at": "2026-10-14T09:50:00.000000Z", "held_by": {"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei"},
    "paused_at": null, "finished_at": null, "next": "0199f2c4-0000-7000-8000-000000000014",
    "items": [
        {"item": {"id": "0199f2c4-0000-7000-8000-00000000000f", "prompt": "igh", "gpc_id": "c090554b-55fd-56e2-92da-2bfe29aa5983"},
         "answer": {"response_id": "0199f2c4-0000-7000-8000-000000000011", "outcome": "right", "heard": null, "mode": "spoken",
            "on": "2026-10-14", "taken_by": "0199f2c4-0000-7000-8000-000000000002"}},
        {"item": {"id": "0199f2c4-0000-7000-8000-000000000014", "prompt": "ai", "gpc_id": "7b6c1ed5-94ef-5a1a-9b0a-9e3f1c5b7a21"},
         "answer": null}]
}))]
pub struct SittingBody {
    /// Its id.
    pub id: SittingId,
    /// The round.
    pub round_id: RoundId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The check.
    pub check_id: CheckId,
    /// When it was begun.
    pub begun_at: Instant,
    /// Who has it.
    pub held_by: HolderBody,
    /// Since when it is paused; null while it is not.
    pub paused_at: Option<Instant>,
    /// When it was finished; null while it goes on.
    pub finished_at: Option<Instant>,
    /// What to ask next; null where every item was answered or left out.
    pub next: Option<CheckItemId>,
    /// The items of the check, in order.
    pub items: Vec<SittingItem>,
}

/// The adult who has a sitting.
#[derive(Serialize, ToSchema)]
pub struct HolderBody {
    /// The adult.
    pub staff_id: StaffId,
    /// The adult's name.
    pub name: String,
}

/// An item of a sitting.
#[derive(Serialize, ToSchema)]
pub struct SittingItem {
    /// What is asked.
    pub item: CheckItem,
    /// What stands for it: `not_offered` where this sitting left it out; null while it is still to be asked.
    pub answer: Option<StandingAnswer>,
}

/// The answer that stands for an item.
#[derive(Serialize, ToSchema)]
pub struct StandingAnswer {
    /// The response to correct it by.
    pub response_id: ResponseId,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead, in sounds.
    pub heard: Option<String>,
    /// How the pupil answered.
    pub mode: ResponseMode,
    /// The day.
    pub on: Date,
    /// The adult who asked.
    pub taken_by: StaffId,
}

impl From<&ResponseRow> for StandingAnswer {
    fn from(row: &ResponseRow) -> Self {
        Self {
            response_id: row.id,
            outcome: row.outcome,
            heard: row.heard.clone(),
            mode: row.mode,
            on: row.on_date,
            taken_by: row.taken_by,
        }
    }
}

/// The pupil's responses to the check, as core has them, and which of them are of a sitting.
fn responses(view: &SittingView, of: Option<SittingId>) -> (Vec<Response>, BTreeSet<ResponseId>) {
    let here = view.responses.iter().filter(|row| row.sitting_id.is_some() && row.sitting_id == of);
    let here = here.map(|row| row.id).collect();
    (view.responses.iter().cloned().map(response_of).collect(), here)
}

/// The sitting of a view.
fn sitting_of(view: &SittingView) -> Result<&Sitting, Problem> {
    view.sitting.as_ref().ok_or_else(|| Problem::new(Code::NotFound))
}

/// A sitting of the pupil in the round, for whoever may be shown what was answered in it.
fn sitting_here<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilSittings>,
    id: SittingId,
) -> Result<SittingView, Problem> {
    let view = tx.sitting(permit, id)?;
    not_blind(&view)?;
    Ok(view)
}

/// The same for whoever may go on asking: not whoever marks a second time, before or after.
fn sitting_to_ask<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilSittings>,
    id: SittingId,
) -> Result<SittingView, Problem> {
    let view = tx.sitting(permit, id)?;
    not_second(&view)?;
    Ok(view)
}

/// Keeps first marks from whoever is still to give second ones.
fn not_blind(view: &SittingView) -> Result<(), Problem> {
    match view.second_marks_given {
        Some(false) => Err(Problem::saying(
            Code::Conflict,
            "you are asked to mark this check of this pupil a second time: give your marks first",
        )),
        _ => Ok(()),
    }
}

/// The first marks are somebody else's than the second.
fn not_second(view: &SittingView) -> Result<(), Problem> {
    not_blind(view)?;
    match view.second_marks_given {
        Some(_) => Err(Problem::saying(
            Code::Conflict,
            "you marked this check of this pupil a second time: somebody else asks first",
        )),
        None => Ok(()),
    }
}

/// A sitting of one pupil in a round, as a device names it.
#[derive(Clone, Copy)]
pub(in crate::http) struct Seat {
    pub round: RoundId,
    pub pupil: PupilId,
    pub id: SittingId,
    /// The day it is about; today unless told.
    pub on: Option<Date>,
}

/// A sitting as it stands, for whoever may record in it.
pub(in crate::http) type Stands<'tx> = (Permit<'tx, Record, PupilSittings>, SittingView);

/// Asks the policy about a sitting, under the record there is of the pupil, and finds it.
fn taken_up<'tx>(tx: &mut Tx<'tx>, seat: Seat) -> Result<Stands<'tx>, Problem> {
    let (pupil, on) = (tx.merged_records()?.now(seat.pupil), seat.on.unwrap_or_else(|| tx.today()));
    let permit = tx.permit::<Record, _>(PupilSittings { round: seat.round, pupil, on })?;
    let view = sitting_to_ask(tx, &permit, seat.id)?;
    Ok((permit, view))
}

/// The answer of an operation on a sitting.
fn shown<'tx>(tx: &mut Tx<'tx>, (permit, view): &Stands<'tx>) -> Result<Reply, Problem> {
    Reply::ok(&body(tx, permit, view)?)
}

/// The sitting as shown.
fn body<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilSittings>,
    view: &SittingView,
) -> Result<SittingBody, Problem> {
    let sitting = sitting_of(view)?;
    let (all, here) = responses(view, Some(sitting.id));
    let standing = as_answered(&view.check.items, &all, &here);
    let row = |id: ResponseId| view.responses.iter().find(|row| row.id == id);
    let items = view.check.items.iter().zip(&standing).map(|(item, stands)| SittingItem {
        item: item.clone(),
        answer: stands.and_then(|one| row(one.response)).map(StandingAnswer::from),
    });
    Ok(SittingBody {
        id: sitting.id,
        round_id: sitting.round,
        pupil_id: sitting.pupil,
        check_id: sitting.check,
        begun_at: sitting.begun_at,
        held_by: HolderBody { staff_id: sitting.holder, name: tx.staff_name(permit, sitting.holder)? },
        paused_at: sitting.paused_at,
        finished_at: sitting.finished_at,
        next: next(&view.check.items, &standing),
        items: items.collect(),
    })
}

/// Where a sitting is.
fn address(sitting: &Sitting) -> String {
    format!("/api/v1/check-rounds/{}/pupils/{}/sittings/{}", sitting.round, sitting.pupil, sitting.id)
}

/// That a sitting stands in the way, and with whom.
fn in_the_way<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilSittings>,
    sitting: &Sitting,
    say: impl Fn(&str) -> String,
) -> Result<Problem, Problem> {
    let who = sitting.finished_by.unwrap_or(sitting.holder);
    let name = match tx.staff_name(permit, who) {
        Ok(name) => name,
        Err(Error::Missing) => "Another adult".to_owned(),
        Err(other) => return Err(other.into()),
    };
    Ok(Problem::saying(Code::Conflict, say(&name)).standing_at(address(sitting)))
}

/// Checks that a sitting goes on and that the actor has it.
fn held_here<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilSittings>,
    sitting: &Sitting,
) -> Result<(), Problem> {
    if sitting.finished_at.is_some() {
        let say = |name: &str| {
            format!("{name} finished this sitting: what was answered stands and can be corrected")
        };
        return Err(in_the_way(tx, permit, sitting, say)?);
    }
    if sitting.holder != tx.actor().staff {
        let say =
            |name: &str| format!("{name} goes on with this sitting: take it over first, if that is right");
        return Err(in_the_way(tx, permit, sitting, say)?);
    }
    Ok(())
}
