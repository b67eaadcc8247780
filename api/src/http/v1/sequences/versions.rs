//! GET /sequences/{id}/versions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::SequenceId,
};

use super::VersionLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the published versions of a sequence
#[utoipa::path(
    tag = "sequences", operation_id = "list_versions", params(("id" = SequenceId, Path, description = "The sequence")),
    responses((status = 200, description = "Versions, latest first", body = Page<VersionLine>), ReadProblems)
)]
#[get("/sequences/{id}/versions")]
pub async fn list_versions(caller: Caller, id: web::Path<SequenceId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Sequence(*id))?;
            let list: Vec<VersionLine> = tx.versions(&permit)?.into_iter().map(VersionLine::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
