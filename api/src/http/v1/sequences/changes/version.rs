//! GET /sequences/{id}/versions/{version_id}/changes

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::{SequenceId, VersionId},
};

use super::{ChangesBody, SinceQuery, changes, earlier};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// What differs between two published versions
///
/// Between this one and the one published before it unless told.
#[utoipa::path(
    tag = "sequences", operation_id = "get_version_changes",
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("version_id" = VersionId, Path, description = "The version"), SinceQuery),
    responses((status = 200, description = "What differs", body = ChangesBody), ReadProblems)
)]
#[get("/sequences/{id}/versions/{version_id}/changes")]
pub async fn get_version_changes(
    caller: Caller,
    path: web::Path<(SequenceId, VersionId)>,
    query: Query<SinceQuery>,
) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    let told = query.since;
    let (since, later) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Sequence(id))?;
            let later = tx.version_of(&permit, version)?;
            Ok((earlier(tx, &permit, told, |head| head.number < later.head.number)?, later.content))
        })
        .await?;
    caller.compute(move || Reply::ok(&changes(since, &later))).await
}
