//! POST /roster-imports/{id}/confirm

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::RosterImportId,
    roster::plan,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::ImportBody;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::ImportStatus,
};

/// When the classes of the file begin.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-09-01"}))]
pub struct ConfirmImport {
    /// First day in the classes of the file; today unless told.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Carry a previewed import out
///
/// Exactly what the preview showed: if the roster has changed since, nothing is written
/// and the answer is `import_stale`. Confirming twice changes nothing more.
#[utoipa::path(
    tag = "roster imports", operation_id = "confirm_roster_import", request_body = ConfirmImport,
    params(("id" = RosterImportId, Path, description = "The import"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "Carried out", body = ImportBody), CreateProblems)
)]
#[post("/roster-imports/{id}/confirm")]
pub async fn confirm_roster_import(
    caller: Caller,
    id: web::Path<RosterImportId>,
    body: Body<ConfirmImport>,
) -> Result<Reply, Problem> {
    let from = body.value.from;
    caller
        .create("roster_import.confirm", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let mut row = tx.import(&permit, *id)?;
            if row.status == ImportStatus::Confirmed {
                return Reply::ok(&ImportBody::from(row));
            }
            let from = from.unwrap_or(tx.today());
            let year = tx.calendar()?.year_of(from).map(|year| year.year).ok_or_else(|| {
                Problem::field("from", "lies in no school year of the calendar; save the year first")
            })?;
            let (pupils, classes) = tx.roster_rows(&permit)?;
            let now = plan(row.reading.rows.clone(), row.reading.rejected.clone(), &pupils, &classes);
            if now != row.plan {
                return Err(Problem::new(Code::ImportStale));
            }
            tx.carry_out(&permit, &row, from, year)?;
            row.status = ImportStatus::Confirmed;
            Reply::ok(&ImportBody::from(row))
        })
        .await
}
