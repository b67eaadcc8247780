//! POST /roster-imports/{id}/undo

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::RosterImportId,
};

use super::{ImportBody, reading};
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::{ActProblems, GoneProblems},
        reply::Reply,
    },
    store::{Dependents, ImportStatus},
};

/// Take an import back
///
/// Whole or not at all: pupils and classes it added go, pupils it changed are as they were. It is refused once
/// other work depends on them: a pupil who is no longer as the import left them, or one it added who was put in
/// a group, marked in a lesson or checked, or of whom something was carried in; a pupil of whom an optional
/// field was said since, or who was made one with another record; a class given an adult or another pupil; or
/// when the rule pack's days are over. The rows of the file are not kept any longer.
#[utoipa::path(
    tag = "roster imports", operation_id = "undo_roster_import",
    params(("id" = RosterImportId, Path, description = "The import")),
    responses((status = 200, description = "Taken back", body = ImportBody), ActProblems, GoneProblems)
)]
#[post("/roster-imports/{id}/undo")]
pub async fn undo_roster_import(caller: Caller, id: web::Path<RosterImportId>) -> Result<Reply, Problem> {
    caller
        .write("roster_import.undo", move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            match tx.import_status(&permit, *id)? {
                ImportStatus::Confirmed => {}
                ImportStatus::Preview | ImportStatus::Expired => {
                    return Err(Problem::saying(Code::Conflict, "the import was not carried out"));
                }
                ImportStatus::Undone => {
                    return Err(Problem::saying(Code::Conflict, "the import is taken back already"));
                }
            }
            let mut row = tx.import(&permit, *id)?;
            let reading = reading(tx, &permit, &row.sheet, &row.answers)?;
            tx.undo_import(&permit, *id)?.map_err(in_the_way)?;
            // Its rows are gone with it; this answer is the last to show them.
            let v = tx.version();
            (row.status, row.kept_until, row.v) = (ImportStatus::Undone, None, v);
            Ok(Reply::ok(&ImportBody::new(row, reading))?.version(v))
        })
        .await
}

fn in_the_way(found: Dependents) -> Problem {
    let parts = [
        (found.changed, "pupils of it were changed since"),
        (found.used, "pupils it added are in a group, a lesson, a check or what was carried in"),
        (
            found.classes,
            "classes it added have adults or other pupils, now or before something that can be taken back",
        ),
    ];
    let parts: Vec<String> =
        parts.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
    Problem::saying(Code::Conflict, format!("other work depends on the import: {}", parts.join("; ")))
}
