//! GET /check-rounds/{id}/log-sheet

use std::collections::BTreeSet;

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Checks, Group, Round, SchoolProfile},
    },
    id::{CheckId, GroupId, PupilId, RoundId},
};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::{
    http::{
        caller::Caller,
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
        sheets::log::{LogSheet, page},
        v1::pupils::apart_without_birthdays,
    },
    store::Tx,
};

/// Of which check, and of whom.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct LogSheetQuery {
    /// The check, one of the round's.
    pub check_id: CheckId,
    /// A group, with the pupils in it today; everybody of the round whom one checks unless told.
    pub group_id: Option<GroupId>,
}

/// A log sheet to print and fill in
///
/// The pupils of the round whom one may check by the name they are called by, namesakes told apart without dates of
/// birth, with a box for each item and columns for day and adult. Who is exempt, or cannot be asked in this way, is
/// counted and not named. No marks. Enter it with `POST /check-rounds/{id}/responses`. The
/// reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "get_log_sheet", params(("id" = RoundId, Path, description = "The round"), LogSheetQuery),
    responses((status = 200, description = "A4, black on white", content(
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Log sheet</title></html>")
    )), ReadProblems)
)]
#[get("/check-rounds/{id}/log-sheet")]
pub async fn get_log_sheet(
    caller: Caller,
    id: web::Path<RoundId>,
    query: Query<LogSheetQuery>,
) -> Result<Reply, Problem> {
    let (id, check, group) = (*id, query.check_id, query.group_id);
    caller.read_logged("check.log_sheet", move |tx| Ok(Reply::sheet(sheet(tx, id, check, group)?))).await
}

fn sheet(tx: &mut Tx<'_>, id: RoundId, check: CheckId, group: Option<GroupId>) -> Result<String, Problem> {
    let permit = tx.permit::<Read, _>(Round(id))?;
    tx.note_log_sheet(&permit);
    let round = tx.round(&permit)?;
    if !round.checks.contains(&check) {
        return Err(Problem::field("check_id", "is not a check of this round"));
    }
    let checks = tx.permit::<Read, _>(Checks)?;
    let check = tx.check(&checks, check)?;
    let (of, members) = match group {
        None => ("everybody you check".to_owned(), None),
        Some(group) => {
            let permit = tx.permit_if_allowed::<Read, _>(Group(group))?;
            let permit = permit.ok_or_else(|| Problem::field("group_id", "is not a group you have"))?;
            let members = tx.group_members(&permit, tx.today())?;
            let members: BTreeSet<PupilId> = members.iter().map(|member| member.pupil.id).collect();
            (tx.group(&permit)?.name, Some(members))
        }
    };
    let mut rows = tx.round_progress(&permit)?;
    rows.retain(|row| members.as_ref().is_none_or(|members| members.contains(&row.pupil.id)));
    let all = rows.len();
    rows.retain(|row| !row.exempt.contains(&check.id));
    let exempt = all - rows.len();
    rows.retain(|row| !row.not_accessible.contains(&check.id));
    let left_out = (exempt, all - exempt - rows.len());
    let named: Vec<_> = rows.iter().map(|row| (&row.pupil, row.class.as_ref())).collect();
    let apart = apart_without_birthdays(&named);
    let pupils: Vec<_> = rows.iter().map(|row| row.pupil.shown_name()).zip(apart).collect();
    let profile = tx.permit::<Read, _>(SchoolProfile)?;
    let school = tx.school_profile(&profile)?.name;
    Ok(page(&LogSheet {
        school: &school,
        round: &round.name,
        days: (round.opens_on, round.closes_on),
        check: &check.name,
        kind: check.kind,
        version: check.version,
        of: &of,
        items: &check.items,
        pupils: &pupils,
        left_out,
        cells: &tx.rules()?.carried_cells,
    }))
}
