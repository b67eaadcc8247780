//! POST /statutory-windows/{id}/results

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{StatutoryResult, StatutoryWindow},
    },
    id::{PupilId, StaffId, StatutoryWindowId},
    statutory::{Entry, Reason, Standing, Typed, WindowDays, entry},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{EnteredResult, same_entry, unlocked};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Gathered, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, Permit, StatutoryPupil, StatutoryResultRow, Tx},
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
    /// Who gave the check, if somebody else than who enters this, or who gave the result that is replaced. Only with a
    /// mark.
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
/// record. All are taken or none; then everything that is wrong with any of them is named.
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
            let of = |one: &ResultToEnter| StatutoryResult { window: *id, pupil: one.pupil_id };
            let permits: Vec<Permit<'_, Record, _>> =
                asked.iter().map(|one| tx.permit(of(one))).collect::<Result<_, _>>()?;
            let view = tx.statutory_view(&window)?;
            unlocked(&view.window)?;
            let pupils: BTreeMap<PupilId, &StatutoryPupil> =
                view.pupils.iter().map(|pupil| (pupil.row.id, pupil)).collect();
            let (mut seen, mut wrong, mut decided) = (BTreeSet::new(), Gathered::default(), Vec::new());
            for (n, (permit, one)) in permits.iter().zip(&asked).enumerate() {
                let at = |field: &str| format!("results[{n}].{field}");
                if !seen.insert(one.pupil_id) {
                    wrong.add(at("pupil_id"), "stands twice");
                    continue;
                }
                let pupil = pupils.get(&one.pupil_id).copied();
                match decide(tx, permit, &view.window.days(), one, pupil) {
                    Ok(entry) => decided.extend(entry.map(|entry| (permit, entry))),
                    Err(problem) => wrong.take(problem, at)?,
                }
            }
            wrong.none()?;
            let enter = |(permit, (entry, taken_by)): (&_, (Entry, _))| {
                Ok(EnteredResult::from(&tx.enter_statutory_result(permit, &entry, taken_by)?))
            };
            let entered: Vec<EnteredResult> =
                decided.into_iter().map(enter).collect::<Result<_, Problem>>()?;
            let blank = asked.len() - entered.len();
            Reply::ok(&ResultsEntered { entered, blank })
        })
        .await
}

/// Refuses a pupil who is not to be checked.
pub(super) fn to_check(reason: Option<Reason>) -> Result<(), Problem> {
    let why = match reason {
        Some(reason) if reason.standing() != Standing::NotToCheck => return Ok(()),
        Some(Reason::ReachedBefore) => "was checked before and is not to be checked again",
        Some(Reason::LeftBefore) => "left before the window",
        Some(Reason::JoinedAfter) => "came after the window",
        _ => "is of a year group that is not checked in this window",
    };
    Err(Problem::field("pupil_id", why))
}

/// Who gave a check that somebody else enters; of a mark alone. Where nobody is said, who gave it before goes on to.
///
/// # Errors
/// Names the field.
pub(super) fn taken_by<'tx, A, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, R>,
    said: Option<StaffId>,
    mark: bool,
    current: Option<&StatutoryResultRow>,
) -> Result<Option<StaffId>, Problem> {
    let Some(staff) = said else {
        let before = current.and_then(|row| row.taken_by);
        return Ok(mark.then(|| before.unwrap_or(tx.actor().staff)));
    };
    if !mark {
        return Err(Problem::field("taken_by", "goes with a mark only: a code was given by nobody"));
    }
    tx.known_staff(permit, staff).map_err(|error| match error {
        Error::Missing => Problem::field("taken_by", "is nobody of this school's staff"),
        other => other.into(),
    })?;
    Ok(Some(staff))
}

/// What is to be entered for a pupil, and who gave the check; none for a blank.
///
/// # Errors
/// Everything that is wrong with it.
fn decide<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, StatutoryResult>,
    days: &WindowDays,
    one: &ResultToEnter,
    pupil: Option<&StatutoryPupil>,
) -> Result<Option<(Entry, Option<StaffId>)>, Problem> {
    let rule = &tx.rules()?.statutory_check;
    let typed = Typed { result: &one.result, on: one.on, reason: one.reason.as_deref() };
    let roles: Vec<_> = tx.actor().roles.iter().copied().collect();
    let mut wrong = Gathered::default();
    let decided = wrong.of(entry(rule, days, &roles, tx.today(), &typed).map_err(Problem::from))?;
    if decided == Some(None) {
        return Ok(None);
    }
    let decided = decided.flatten();
    let current = pupil.and_then(|pupil| pupil.result.as_ref());
    wrong.of(to_check(pupil.map(|pupil| pupil.reason)))?;
    let mark = decided.as_ref().is_some_and(|entry| entry.result.mark().is_some());
    // Of what is no result nobody can say whether somebody gave it.
    let said = one.taken_by.filter(|_| decided.is_some());
    let taken_by = wrong.of(taken_by(tx, permit, said, mark, current))?;
    wrong.of(same_entry(current, one.replaces, tx.actor().staff))?;
    wrong.none()?;
    Ok(decided.zip(taken_by))
}
