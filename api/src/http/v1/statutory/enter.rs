//! POST /statutory-windows/{id}/results

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{StatutoryResult, StatutoryWindow},
    },
    id::{PupilId, StaffId, StatutoryWindowId},
    statutory::{Reason, Standing, Typed, entry},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{EnteredResult, about, same_entry, unlocked};
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::{Error, Permit, Tx},
};

/// The most results of one request: more than any school has pupils in these year groups at one table.
const MOST: usize = 300;

/// Results to enter.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"results": [
    {"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "result": "27", "on": "2026-06-09"}]}))]
pub struct ResultsToEnter {
    /// One a pupil; all are taken or none.
    pub results: Vec<ResultToEnter>,
}

/// A result to enter.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ResultToEnter {
    /// The pupil.
    pub pupil_id: PupilId,
    /// As typed: a mark, or one of the rule pack's codes in its place. Nothing says nothing, and is never 0.
    pub result: String,
    /// The day of the check; a code needs none.
    #[serde(default)]
    pub on: Option<Date>,
    /// Who gave the check, if somebody else than who enters this. Only with a mark.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// Why the pupil did not take it, by its code, where the result's code needs one.
    #[serde(default)]
    pub reason: Option<String>,
    /// The version of the entry this one replaces; none where nothing is entered.
    #[serde(default)]
    pub replaces: Option<i64>,
}

/// What was entered.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"entered": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "version": 812}], "blank": 0}))]
pub struct ResultsEntered {
    /// The entries.
    pub entered: Vec<EnteredResult>,
    /// How many said nothing and changed nothing.
    pub blank: usize,
}

/// Enter results of a window
///
/// Before it is submitted, for one pupil or many. All that is needed for it is the total of the official mark sheet;
/// nothing is worked out from it here. What was entered before is replaced only by who has read it, and stays on
/// record.
#[utoipa::path(
    tag = "statutory check", operation_id = "enter_statutory_results", request_body = ResultsToEnter,
    params(("id" = StatutoryWindowId, Path, description = "The window"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "Entered", body = ResultsEntered), CreateProblems)
)]
#[post("/statutory-windows/{id}/results")]
pub async fn enter_statutory_results(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
    body: Body<ResultsToEnter>,
) -> Result<Reply, Problem> {
    let asked = body.value.results;
    if !(1..=MOST).contains(&asked.len()) {
        return Err(Problem::field("results", format!("must be 1 to {MOST}")));
    }
    caller
        .create("statutory_result.enter", body.hash, move |tx| {
            let window = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let reasons = reasons(tx, &window)?;
            let mut seen = BTreeSet::new();
            let mut entered = Vec::new();
            for (n, one) in asked.iter().enumerate() {
                let path = format!("results[{n}]");
                let permit = tx.permit::<Record, _>(StatutoryResult { window: *id, pupil: one.pupil_id })?;
                if !seen.insert(one.pupil_id) {
                    return Err(Problem::field(format!("{path}.pupil_id"), "stands twice"));
                }
                entered.extend(enter(tx, &permit, &window, one, &path, &reasons)?);
            }
            let blank = asked.len() - entered.len();
            Reply::ok(&ResultsEntered { entered, blank })
        })
        .await
}

/// Why each pupil of the window is to be checked or not.
fn reasons<'tx>(
    tx: &mut Tx<'tx>,
    window: &Permit<'tx, Read, StatutoryWindow>,
) -> Result<BTreeMap<PupilId, Reason>, Problem> {
    let pupils = tx.statutory_pupils(window)?;
    Ok(pupils.into_iter().map(|pupil| (pupil.row.id, pupil.reason)).collect())
}

/// Refuses a pupil who is not to be checked.
pub(super) fn to_check(reason: Option<Reason>, field: String) -> Result<(), Problem> {
    let why = match reason {
        Some(reason) if reason.standing() != Standing::NotToCheck => return Ok(()),
        Some(Reason::ReachedBefore) => "was checked before and is not to be checked again",
        Some(Reason::LeftBefore) => "left before the window",
        Some(Reason::JoinedAfter) => "came after the window",
        _ => "is of a year group that is not checked in this window",
    };
    Err(Problem::field(field, why))
}

/// Who gave a check that somebody else enters; of a mark alone.
///
/// # Errors
/// Names the field.
pub(super) fn taken_by<'tx, A, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, R>,
    said: Option<StaffId>,
    mark: bool,
    field: String,
) -> Result<Option<StaffId>, Problem> {
    let Some(staff) = said else { return Ok(mark.then_some(tx.actor().staff)) };
    if !mark {
        return Err(Problem::field(field, "goes with a mark only: a code was given by nobody"));
    }
    tx.known_staff(permit, staff).map_err(|error| match error {
        Error::Missing => Problem::field(field, "is nobody of this school's staff"),
        other => other.into(),
    })?;
    Ok(Some(staff))
}

fn enter<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, StatutoryResult>,
    window: &Permit<'tx, Read, StatutoryWindow>,
    one: &ResultToEnter,
    path: &str,
    reasons: &BTreeMap<PupilId, Reason>,
) -> Result<Option<EnteredResult>, Problem> {
    let row = tx.statutory_window(window)?;
    unlocked(&row)?;
    let rule = &tx.rules()?.statutory_check;
    let typed = Typed { result: &one.result, on: one.on, reason: one.reason.as_deref() };
    let roles: Vec<_> = tx.actor().roles.iter().copied().collect();
    let decided =
        entry(rule, &row.days(), &roles, tx.today(), &typed).map_err(|error| about(path, &error))?;
    let Some(decided) = decided else { return Ok(None) };
    to_check(reasons.get(&one.pupil_id).copied(), format!("{path}.pupil_id"))?;
    let mark = decided.result.mark().is_some();
    let taken_by = taken_by(tx, permit, one.taken_by, mark, format!("{path}.taken_by"))?;
    let current = tx.statutory_result(permit)?;
    same_entry(&format!("{path}.replaces"), current.as_ref(), one.replaces)?;
    Ok(Some((&tx.enter_statutory_result(permit, &decided, taken_by)?).into()))
}
