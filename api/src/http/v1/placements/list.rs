//! GET /pupils/{id}/placements

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilPlacements},
    id::PupilId,
};

use super::{PlacementBody, body};
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List a pupil's placement checks, the latest first
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "placements", operation_id = "list_placements", params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "Placement checks", body = Page<PlacementBody>), ReadProblems)
)]
#[get("/pupils/{id}/placements")]
pub async fn list_placements(caller: Caller, id: web::Path<PupilId>) -> Result<Reply, Problem> {
    caller
        .read_logged("placement.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilPlacements { pupil: *id, on: None })?;
            let (rule, today) = (&tx.rules()?.placement, tx.today());
            let mut list = Vec::new();
            for row in tx.placements(&permit)? {
                list.push(body(&tx.placement(&permit, row.id)?, rule, today));
            }
            Reply::ok(&Page::whole(list))
        })
        .await
}
