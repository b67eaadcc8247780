//! PUT /roster-imports/{id}/answers

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::RosterImportId,
    roster::file::Answers,
};

use super::{ImportBody, keep_out, preview};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::{EditProblems, GoneProblems},
        reply::Reply,
    },
    store::ImportStatus,
};

/// Answer what a pupil file leaves open, and see what it would change by that
///
/// All answers at once, in place of those before. Columns go by their letters; rows by their line.
#[utoipa::path(
    tag = "roster imports", operation_id = "answer_roster_import", request_body = Answers,
    params(("id" = RosterImportId, Path, description = "The import"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "The preview; ETag", body = ImportBody), EditProblems, GoneProblems)
)]
#[put("/roster-imports/{id}/answers")]
pub async fn answer_roster_import(
    caller: Caller,
    id: web::Path<RosterImportId>,
    answers: Body<Answers>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("roster_import.answer", move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let mut row = tx.import(&permit, *id)?;
            if row.status != ImportStatus::Preview {
                return Err(Problem::saying(Code::Conflict, "the import is carried out already"));
            }
            same_version(row.v, base)?;
            row.answers = answers.value.clone();
            if let Some(year) = row.answers.year
                && !tx.calendar()?.years.iter().any(|known| known.year == year)
            {
                return Err(Problem::field("year", "is no school year of the calendar; save the year first"));
            }
            if keep_out(tx, &permit, &mut row.sheet, &row.answers)? {
                tx.keep_sheet(&permit, &row)?;
            }
            let (reading, plan) = preview(tx, &permit, &row.sheet, &row.answers)?;
            row.plan = plan;
            tx.answer_import(&permit, &mut row)?;
            let v = row.v;
            Ok(Reply::ok(&ImportBody::new(row, reading))?.version(v))
        })
        .await
}
