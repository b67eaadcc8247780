//! DELETE /pupils/{id}/earlier-statutory-results/{earlier_id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::EarlierResults},
    id::{EarlierResultId, PupilId},
};

use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Take away a result that was brought in
///
/// It stays on record with who took it away.
#[utoipa::path(
    tag = "statutory check", operation_id = "remove_earlier_statutory_result",
    params(("id" = PupilId, Path, description = "The pupil"), ("earlier_id" = EarlierResultId, Path, description = "The result"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Taken away"), ActProblems)
)]
#[delete("/pupils/{id}/earlier-statutory-results/{earlier_id}")]
pub async fn remove_earlier_statutory_result(
    caller: Caller,
    path: web::Path<(PupilId, EarlierResultId)>,
) -> Result<Reply, Problem> {
    let (pupil, id) = *path;
    let base = caller.base_version();
    caller
        .write("earlier_statutory_result.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(EarlierResults(pupil))?;
            let found = tx.earlier_results(&permit)?.into_iter().find(|row| row.id == id);
            let row = found.ok_or_else(|| Problem::new(Code::NotFound))?;
            same_version(row.v, base)?;
            tx.remove_earlier_result(&permit, id)?;
            Ok(Reply::nothing())
        })
        .await
}
