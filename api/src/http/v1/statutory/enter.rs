//! POST /statutory-windows/{id}/results

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Read, resource::StatutoryWindow},
    calendar::Calendar,
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
            let pupils: Vec<PupilId> = asked.iter().map(|one| one.pupil_id).collect();
            let permits = tx.permits_of_results(&window, &pupils)?;
            let staff = known_staff(tx, &window, asked.iter().filter_map(|one| one.taken_by))?;
            let view = tx.statutory_view(&window)?;
            unlocked(&view.window)?;
            let pupils: BTreeMap<PupilId, &StatutoryPupil> =
                view.pupils.iter().map(|pupil| (pupil.row.id, pupil)).collect();
            let calendar = tx.calendar()?;
            let (mut seen, mut wrong, mut decided) = (BTreeSet::new(), Gathered::default(), Vec::new());
            for (n, (permit, one)) in permits.iter().zip(&asked).enumerate() {
                let at = |field: &str| format!("results[{n}].{field}");
                if !seen.insert(one.pupil_id) {
                    wrong.add(at("pupil_id"), "stands twice");
                    continue;
                }
                let pupil = pupils.get(&one.pupil_id).copied();
                match decide(tx, (&view.window.days(), &calendar), one, pupil, &staff) {
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

/// Of some staff those of this school, each asked about once.
pub(super) fn known_staff<'tx, A, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, R>,
    said: impl Iterator<Item = StaffId>,
) -> Result<BTreeSet<StaffId>, Error> {
    let mut known = said.collect::<BTreeSet<_>>();
    for staff in known.clone() {
        match tx.known_staff(permit, staff) {
            Err(Error::Missing) => _ = known.remove(&staff),
            asked => asked?,
        }
    }
    Ok(known)
}

/// Who gave a check that somebody else enters, of the staff there is; of a mark alone. Where nobody is said, who gave it
/// before goes on to, or who enters it.
///
/// # Errors
/// Names the field.
pub(super) fn taken_by(
    me: StaffId,
    said: Option<StaffId>,
    mark: bool,
    current: Option<&StatutoryResultRow>,
    staff: &BTreeSet<StaffId>,
) -> Result<Option<StaffId>, Problem> {
    match said {
        None => Ok(mark.then(|| current.and_then(|row| row.taken_by).unwrap_or(me))),
        Some(_) if !mark => {
            Err(Problem::field("taken_by", "goes with a mark only: a code was given by nobody"))
        }
        Some(one) if staff.contains(&one) => Ok(Some(one)),
        Some(_) => Err(Problem::field("taken_by", "is nobody of this school's staff")),
    }
}

/// What is to be entered for a pupil, and who gave the check; none for a blank.
///
/// # Errors
/// Everything that is wrong with it.
fn decide(
    tx: &Tx<'_>,
    (days, calendar): (&WindowDays, &Calendar),
    one: &ResultToEnter,
    pupil: Option<&StatutoryPupil>,
    staff: &BTreeSet<StaffId>,
) -> Result<Option<(Entry, Option<StaffId>)>, Problem> {
    let rule = &tx.rules()?.statutory_check;
    let typed = Typed { result: &one.result, on: one.on, reason: one.reason.as_deref() };
    let (me, roles) = (tx.actor().staff, tx.actor().roles.iter().copied().collect::<Vec<_>>());
    let stay = pupil.map(StatutoryPupil::stay).unwrap_or_default();
    let mut wrong = Gathered::default();
    let decided = entry(rule, days, calendar, stay, &roles, tx.today(), &typed);
    let decided = wrong.of(decided.map_err(Problem::from))?;
    if decided == Some(None) {
        return Ok(None);
    }
    let decided = decided.flatten();
    let current = pupil.and_then(|pupil| pupil.result.as_ref());
    wrong.of(to_check(pupil.map(|pupil| pupil.reason)))?;
    let mark = decided.as_ref().is_some_and(|entry| entry.result.mark().is_some());
    // Of what is no result nobody can say whether somebody gave it.
    let said = one.taken_by.filter(|_| decided.is_some());
    let taken_by = wrong.of(taken_by(me, said, mark, current, staff))?;
    wrong.of(same_entry(current, one.replaces, me))?;
    wrong.none()?;
    Ok(decided.zip(taken_by))
}
