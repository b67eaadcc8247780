//! DELETE /statutory-windows/{id}/results/{pupil_id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{StatutoryResult, StatutoryWindow},
    },
    id::{PupilId, StatutoryWindowId},
};

use super::unlocked;
use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Take back a result that was entered
///
/// Before the window is submitted, as where it was entered for another pupil. It stays on record.
#[utoipa::path(
    tag = "statutory check", operation_id = "take_back_statutory_result",
    params(("id" = StatutoryWindowId, Path, description = "The window"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("If-Match" = String, Header, description = "The version of the entry, as an ETag")),
    responses((status = 204, description = "Taken back"), ActProblems)
)]
#[delete("/statutory-windows/{id}/results/{pupil_id}")]
pub async fn take_back_statutory_result(
    caller: Caller,
    path: web::Path<(StatutoryWindowId, PupilId)>,
) -> Result<Reply, Problem> {
    let (window, pupil) = *path;
    let base = caller.base_version();
    caller
        .write("statutory_result.take_back", move |tx| {
            let of_window = tx.permit::<Read, _>(StatutoryWindow(window))?;
            let permit = tx.permit::<Record, _>(StatutoryResult { window, pupil })?;
            unlocked(&tx.statutory_window(&of_window)?)?;
            let current = tx.statutory_result(&permit)?;
            let current = current
                .ok_or_else(|| Problem::saying(Code::NotFound, "nothing is entered for this pupil"))?;
            same_version(current.v, base)?;
            tx.take_back_statutory_result(&permit)?;
            Ok(Reply::nothing())
        })
        .await
}
