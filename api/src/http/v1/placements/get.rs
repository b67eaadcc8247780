//! GET /pupils/{id}/placements/{placement_id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilPlacements},
    id::{PlacementId, PupilId},
};

use super::{PlacementBody, body};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a placement check: what to ask next, or what it found
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "placements", operation_id = "get_placement",
    params(("id" = PupilId, Path, description = "The pupil"), ("placement_id" = PlacementId, Path, description = "The placement check")),
    responses((status = 200, description = "The placement check", body = PlacementBody), ReadProblems)
)]
#[get("/pupils/{id}/placements/{placement_id}")]
pub async fn get_placement(
    caller: Caller,
    path: web::Path<(PupilId, PlacementId)>,
) -> Result<Reply, Problem> {
    let (pupil, id) = path.into_inner();
    caller
        .read_logged("placement.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilPlacements { pupil, on: None })?;
            let view = tx.placement(&permit, id)?;
            Reply::ok(&body(&view, &tx.rules()?.placement, tx.today()))
        })
        .await
}
