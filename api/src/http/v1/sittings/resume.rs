//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/resume

use actix_web::{post, web};
use plumbline_core::id::{PupilId, RoundId, SittingId};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Seat, SittingBody, Stands, held_here, in_the_way, shown, sitting_of, taken_up};
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::Tx,
};

/// Going on with a sitting.
#[derive(Clone, Copy, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"take_over": false}))]
pub struct Resume {
    /// Also where another adult is at it and has not paused. What that adult has taken down still comes in.
    #[serde(default)]
    pub take_over: bool,
}

/// Go on with a sitting, on any device
///
/// A paused one anybody may take who may check the pupil. One that another adult is at is only taken over where the
/// request says so.
#[utoipa::path(
    tag = "sittings", operation_id = "resume_sitting", request_body = Resume,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("sitting_id" = SittingId, Path, description = "The sitting")),
    responses((status = 200, description = "The sitting as it stands", body = SittingBody), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/resume")]
pub async fn resume_sitting(
    caller: Caller,
    path: web::Path<(RoundId, PupilId, SittingId)>,
    body: Body<Resume>,
) -> Result<Reply, Problem> {
    let (round, pupil, id) = path.into_inner();
    let take_over = body.value.take_over;
    let seat = Seat { round, pupil, id, on: None };
    caller
        .write("sitting.resume", move |tx| {
            let stands = resume(tx, seat, take_over)?;
            shown(tx, &stands)
        })
        .await
}

/// Goes on with a sitting.
pub(in crate::http) fn resume<'tx>(
    tx: &mut Tx<'tx>,
    seat: Seat,
    take_over: bool,
) -> Result<Stands<'tx>, Problem> {
    let (permit, mut view) = taken_up(tx, seat)?;
    let (mut sitting, me) = (sitting_of(&view)?.clone(), tx.actor().staff);
    if sitting.finished_at.is_some() {
        held_here(tx, &permit, &sitting)?;
    }
    let other = sitting.holder != me;
    if other && sitting.paused_at.is_none() && !take_over {
        let say = |name: &str| format!("{name} is at this sitting: say take_over to go on with it instead");
        return Err(in_the_way(tx, &permit, &sitting, say)?);
    }
    if other || sitting.paused_at.is_some() {
        if other {
            sitting.hand_to(me);
        }
        sitting.paused_at = None;
        tx.save_sitting(&permit, &sitting)?;
        view.sitting = Some(sitting);
    }
    Ok((permit, view))
}
