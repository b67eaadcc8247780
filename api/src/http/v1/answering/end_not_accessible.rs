//! POST /pupils/{id}/not-accessible/{entry_id}/end

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilAnswering},
    id::{NotAccessibleId, PupilId},
};

use super::NotAccessibleBody;
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ActProblems,
        reply::Reply,
    },
    store::Error,
};

/// End that checks are not accessible to a pupil
///
/// From today on the pupil is counted again. What was said stays on record.
#[utoipa::path(
    tag = "answering", operation_id = "end_not_accessible",
    params(("id" = PupilId, Path, description = "The pupil"), ("entry_id" = NotAccessibleId, Path, description = "What was said")),
    responses((status = 200, description = "Ended", body = NotAccessibleBody), ActProblems)
)]
#[post("/pupils/{id}/not-accessible/{entry_id}/end")]
pub async fn end_not_accessible(
    caller: Caller,
    path: web::Path<(PupilId, NotAccessibleId)>,
) -> Result<Reply, Problem> {
    let (pupil, id) = path.into_inner();
    caller
        .write("pupil.end_not_accessible", move |tx| {
            let permit = tx.permit::<Manage, _>(PupilAnswering(pupil))?;
            let row = tx.end_not_accessible(&permit, id).map_err(|error| match error {
                Error::Conflict => Problem::saying(Code::Conflict, "it holds no longer"),
                other => other.into(),
            })?;
            Reply::ok(&NotAccessibleBody::new(row, &tx.rules()?.marking.not_accessible, tx.today()))
        })
        .await
}
