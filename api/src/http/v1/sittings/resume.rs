//! POST /check-rounds/{id}/pupils/{pupil_id}/sittings/{sitting_id}/resume

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilSittings},
    id::{PupilId, RoundId, SittingId},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SittingBody, body as shown, held_here, in_the_way, sitting_here, sitting_of};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

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
    caller
        .write("sitting.resume", move |tx| {
            let (pupil, on, me) = (tx.merged_records()?.now(pupil), tx.today(), tx.actor().staff);
            let permit = tx.permit::<Record, _>(PupilSittings { round, pupil, on })?;
            let mut view = sitting_here(tx, &permit, id)?;
            let mut sitting = sitting_of(&view)?.clone();
            if sitting.finished_at.is_some() {
                held_here(tx, &permit, &sitting)?;
            }
            let other = sitting.holder != me;
            if other && sitting.paused_at.is_none() && !take_over {
                let say =
                    |name: &str| format!("{name} is at this sitting: say take_over to go on with it instead");
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
            Reply::ok(&shown(tx, &permit, &view)?)
        })
        .await
}
