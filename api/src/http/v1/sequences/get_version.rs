//! GET /sequences/{id}/versions/{version_id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::{SequenceId, VersionId},
};

use super::VersionBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a published version with its content
#[utoipa::path(
    tag = "sequences", operation_id = "get_version",
    params(("id" = SequenceId, Path, description = "The sequence"), ("version_id" = VersionId, Path, description = "The version")),
    responses((status = 200, description = "The version", body = VersionBody), ReadProblems)
)]
#[get("/sequences/{id}/versions/{version_id}")]
pub async fn get_version(caller: Caller, path: web::Path<(SequenceId, VersionId)>) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Sequence(id))?;
            let row = tx.version_of(&permit, version)?;
            Reply::ok(&VersionBody::from(row))
        })
        .await
}
