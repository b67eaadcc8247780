//! POST /pupils/{id}/placements

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{PupilPlacements, Sequence},
    },
    check::placement::in_teaching_order,
    id::{PlacementId, PupilId, SequenceId},
    rules::PlacementRule,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{PlacementBody, body as shown};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, PlacementView, Tx},
};

/// What to walk.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"sequence_id": "0199f2c4-0000-7000-8000-00000000000a"}))]
pub struct NewPlacement {
    /// The sequence: the version in force on the day.
    pub sequence_id: SequenceId,
    /// The day it was begun; today unless told. Not longer ago than late records are taken.
    #[serde(default)]
    pub on: Option<Date>,
}

/// Begin a placement check of a pupil
///
/// Walks the sequence's GPCs, easy ones first: each answer decides what is asked next, and it stops by itself.
/// It can be gone on with on another device and another day, as many as the rule pack says. One goes on at a
/// time. The answers count like those of any check; what is not asked stays unknown.
#[utoipa::path(
    tag = "placements", operation_id = "begin_placement", request_body = NewPlacement,
    params(("id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Begun", body = PlacementBody), CreateProblems)
)]
#[post("/pupils/{id}/placements")]
pub async fn begin_placement(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewPlacement>,
) -> Result<Reply, Problem> {
    let (id, new) = (*id, body.value);
    caller
        .create_of_pupils(
            "placement.begin",
            body.hash,
            move |tx| begun(&begin(tx, id, &new, None)?, &tx.rules()?.placement, tx.today()),
            move |tx, reply| {
                let pupil = tx.merged_records()?.now(id);
                let permit = tx.permit::<Record, _>(PupilPlacements { pupil, on: new.on })?;
                let view = tx.placement(&permit, reply.made()?)?;
                begun(&view, &tx.rules()?.placement, tx.today())
            },
        )
        .await
}

/// Begins a placement check, or finds the one of the pupil that was begun under this id.
pub(in crate::http) fn begin(
    tx: &mut Tx<'_>,
    pupil: PupilId,
    &NewPlacement { sequence_id, on }: &NewPlacement,
    id: Option<PlacementId>,
) -> Result<PlacementView, Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilPlacements { pupil, on })?;
    let there = tx.placements(&permit)?;
    if let Some(row) = there.iter().find(|row| Some(row.id) == id) {
        return Ok(tx.placement(&permit, row.id)?);
    }
    let of_school = tx.permit::<Read, _>(Sequence(sequence_id)).map_err(|error| match error {
        Error::Refused(_) => Problem::field("sequence_id", "is not a sequence of this school"),
        other => other.into(),
    })?;
    let on = day_of(tx, on)?;
    let version = tx
        .version_on(&of_school, on)?
        .ok_or_else(|| Problem::field("sequence_id", "has no published version in force on the day"))?;
    if in_teaching_order(&version.content).is_empty() {
        return Err(Problem::field("sequence_id", "teaches no GPC"));
    }
    let rule = &tx.rules()?.placement;
    for row in there {
        let view = tx.placement(&permit, row.id)?;
        if shown(&view, rule, on).end.is_none() {
            let detail = "a placement check of this pupil goes on: go on with it, or end it";
            return Err(Problem::saying(Code::Conflict, detail));
        }
    }
    let row = tx.begin_placement(&permit, id, &version, rule.days_open)?;
    Ok(tx.placement(&permit, row.id)?)
}

/// The day something was done, told late; today unless told.
fn day_of(tx: &Tx<'_>, on: Option<Date>) -> Result<Date, Problem> {
    let today = tx.today();
    let Some(on) = on else { return Ok(today) };
    let late = today.signed_duration_since(on).num_days();
    match late {
        ..0 => Err(Problem::field("on", "is in the future")),
        late if late > i64::from(tx.rules()?.handover.late_records_days) => {
            Err(Problem::field("on", "is longer ago than late records are taken"))
        }
        _ => Ok(on),
    }
}

fn begun(view: &PlacementView, rule: &PlacementRule, today: Date) -> Result<Reply, Problem> {
    let at = format!("/api/v1/pupils/{}/placements/{}", view.row.pupil_id, view.row.id);
    Reply::created(at, &shown(view, rule, today))
}
