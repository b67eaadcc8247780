//! POST /roster-imports/{id}/confirm

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::RosterImportId,
    roster::file::forget_unread,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{ImportBody, plan_of, reading};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::{CreateProblems, GoneProblems, StaleProblems},
        reply::Reply,
    },
    store::{ImportStatus, Tx},
};

/// When the classes of the file begin.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-09-01"}))]
pub struct ConfirmImport {
    /// First day in the classes of the file, in the school year its year groups were shown for.
    /// Unless told, today; where that year is another than today's, its first day.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Carry a previewed import out
///
/// Exactly what the preview showed: if the roster has changed since, nothing is written and the answer is
/// `import_stale`; with If-Match, what was answered since is `stale`. Confirming twice changes nothing more.
/// The cells of columns that were not read are kept no longer.
#[utoipa::path(
    tag = "roster imports", operation_id = "confirm_roster_import", request_body = ConfirmImport,
    params(("id" = RosterImportId, Path, description = "The import"),
           ("If-Match" = Option<String>, Header, description = "The ETag read: refused if something was answered since"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "Carried out", body = ImportBody), CreateProblems, GoneProblems, StaleProblems)
)]
#[post("/roster-imports/{id}/confirm")]
pub async fn confirm_roster_import(
    caller: Caller,
    id: web::Path<RosterImportId>,
    body: Body<ConfirmImport>,
) -> Result<Reply, Problem> {
    let (id, from, base) = (*id, body.value.from, caller.base_version_if_told());
    let work = move |tx: &mut Tx<'_>| {
        let permit = tx.permit::<Manage, _>(Roster)?;
        let mut row = tx.import(&permit, id)?;
        let reading = reading(tx, &permit, &row.sheet, &row.answers)?;
        if row.status == ImportStatus::Confirmed {
            return Reply::ok(&ImportBody::new(row, reading));
        }
        if let Some(base) = base {
            same_version(row.v, base)?;
        }
        if !reading.questions.is_empty() {
            return Err(Problem::field("answers", "the preview asks something that is not answered yet"));
        }
        let from = match from {
            Some(from) => from,
            None => tx.day_in_year(row.plan.year)?,
        };
        begins_in(tx, from, row.plan.year)?;
        let mut now = plan_of(tx, &permit, &reading, &row.answers)?;
        match row.answers.leavers {
            Some(leavers) if leavers != now.may_leave() => {
                let (many, why) = match reading.changes_only {
                    true => (now.gone.len(), "are said to have left"),
                    false => (now.absent.len(), "are not in the file"),
                };
                let message = format!("{many} pupils of the school {why}");
                return Err(Problem::field("answers.leavers", message));
            }
            Some(_) => {}
            // Who is not in the file matters only to an import that makes them leave.
            None => now.absent.clone_from(&row.plan.absent),
        }
        if now != row.plan {
            return Err(Problem::new(Code::ImportStale));
        }
        forget_unread(&mut row.sheet, &reading);
        tx.carry_out(&permit, &mut row, &reading.columns, from)?;
        Reply::ok(&ImportBody::new(row, reading))
    };
    // Asked again of what is carried out, it shows that.
    caller.create_of_pupils("roster_import.confirm", body.hash, work, move |tx, _| work(tx)).await
}

/// The year groups shown are of one school year, and the classes begin in the same.
fn begins_in(tx: &mut Tx<'_>, from: Date, shown: i32) -> Result<(), Problem> {
    let year = tx.calendar()?.year_of(from).map(|year| year.year).ok_or_else(|| {
        Problem::field("from", "lies in no school year of the calendar; save the year first")
    })?;
    if year == shown {
        return Ok(());
    }
    let message = format!(
        "lies in the school year that starts in {year}, and the year groups shown are of the one that starts in \
         {shown}: answer `year` with {year}, look again, then confirm"
    );
    Err(Problem::field("from", message))
}
