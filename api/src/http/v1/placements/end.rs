//! POST /pupils/{id}/placements/{placement_id}/end

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilPlacements},
    id::{PlacementId, PupilId},
    time::Date,
};

use super::{PlacementBody, body};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply},
    store::{PlacementView, Tx},
};

/// End a placement check early
///
/// It asks nothing more, and says what the answers so far suggest. One that is over stays as it is.
#[utoipa::path(
    tag = "placements", operation_id = "end_placement",
    params(("id" = PupilId, Path, description = "The pupil"), ("placement_id" = PlacementId, Path, description = "The placement check")),
    responses((status = 200, description = "What it found", body = PlacementBody), ActProblems)
)]
#[post("/pupils/{id}/placements/{placement_id}/end")]
pub async fn end_placement(
    caller: Caller,
    path: web::Path<(PupilId, PlacementId)>,
) -> Result<Reply, Problem> {
    let (pupil, id) = path.into_inner();
    caller
        .write("placement.end", move |tx| {
            let view = end(tx, (pupil, id), None)?;
            Reply::ok(&body(&view, &tx.rules()?.placement, tx.today()))
        })
        .await
}

/// Ends a placement check that goes on.
pub(in crate::http) fn end(
    tx: &mut Tx<'_>,
    (pupil, id): (PupilId, PlacementId),
    on: Option<Date>,
) -> Result<PlacementView, Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilPlacements { pupil, on })?;
    let view = tx.placement(&permit, id)?;
    if body(&view, &tx.rules()?.placement, tx.today()).end.is_some() {
        return Ok(view);
    }
    tx.end_placement(&permit, &view.row)?;
    Ok(tx.placement(&permit, id)?)
}
