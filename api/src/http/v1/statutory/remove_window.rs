//! DELETE /statutory-windows/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::StatutoryWindow},
    id::StatutoryWindowId,
};

use crate::{
    http::{
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::ActProblems,
        reply::Reply,
    },
    store::Error,
};

/// Remove a window that was opened by mistake
///
/// As with wrong days. Only while nothing was ever entered in it; then it can be opened anew.
#[utoipa::path(
    tag = "statutory check", operation_id = "remove_statutory_window",
    params(("id" = StatutoryWindowId, Path, description = "The window"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Removed"), ActProblems)
)]
#[delete("/statutory-windows/{id}")]
pub async fn remove_statutory_window(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("statutory_window.remove", move |tx| {
            let permit = tx.permit::<Manage, _>(StatutoryWindow(*id))?;
            let row = tx.statutory_window(&permit)?;
            super::unlocked(&row)?;
            same_version(row.v, base)?;
            tx.remove_statutory_window(&permit).map_err(|error| match error {
                Error::Conflict => {
                    Problem::saying(Code::Conflict, "results were entered in this window: it stays on record")
                }
                other => other.into(),
            })?;
            Ok(Reply::nothing())
        })
        .await
}
