//! GET /roster-imports/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::RosterImportId,
};

use super::{ImportBody, reading};
use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::{GoneProblems, ReadProblems},
    reply::Reply,
};

/// Get a roster import
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "roster imports", operation_id = "get_roster_import",
    params(("id" = RosterImportId, Path, description = "The import")),
    responses((status = 200, description = "The import", body = ImportBody), ReadProblems, GoneProblems)
)]
#[get("/roster-imports/{id}")]
pub async fn get_roster_import(caller: Caller, id: web::Path<RosterImportId>) -> Result<Reply, Problem> {
    caller
        .read_logged("roster_import.read", move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let row = tx.import(&permit, *id)?;
            let reading = reading(tx, &permit, &row.sheet, &row.answers)?;
            let v = row.v;
            Ok(Reply::ok(&ImportBody::new(row, reading))?.version(v))
        })
        .await
}
