//! Checks, rounds, responses.

pub mod answer;
pub mod answer_many;
pub mod correct;
pub mod create;
pub mod create_round;
pub mod forms;
pub mod get;
pub mod get_round;
pub mod list;
pub mod list_round;
pub mod log_sheet;
pub mod mine;
pub mod progress;
pub mod propose;
pub mod responses;
pub mod rounds;
pub mod set_aside;
pub mod sheet;
pub mod update_round;

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::{
    access::{
        act::{Manage, Record},
        resource::{PupilChecks, Round},
    },
    check::{
        AnswerError, CheckItem, CheckKind, Checker, CorrectionReason, Dates, Facts, Heard, HeardIs, Outcome,
        ResponseMode, RoundPlan, Whom, build::Recipe,
    },
    id::{CheckId, CheckItemId, ResponseId, RoundId, SittingId, StaffId},
    rules::RulePack,
    time::{Date, Instant, Span},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        able::able,
        problem::{Code, Problem},
    },
    store::{CheckRow, Error, Permit, ResponseRow, RoundRow, Tx},
};

/// A check.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000e", "name": "Autumn 1 sounds", "kind": "gpc_recognition",
    "items": [{"id": "0199f2c4-0000-7000-8000-00000000000f", "prompt": "igh", "gpc_id": "c090554b-55fd-56e2-92da-2bfe29aa5983"}],
    "series_id": "0199f2c4-0000-7000-8000-00000000000e", "version": 1, "recipe": null, "edited": false, "earlier": [], "cautions": []
}))]
pub struct CheckBody {
    /// Its id. Answers name it, so they keep the version they were given to.
    pub id: CheckId,
    /// Its name.
    pub name: String,
    /// What it asks for.
    pub kind: CheckKind,
    /// Its items, in order.
    pub items: Vec<CheckItem>,
    /// What its versions have in common; another wording is the next version.
    pub series_id: CheckId,
    /// Which version it is, counted from 1.
    pub version: i32,
    /// What it was built from; null where its items were written by hand.
    pub recipe: Option<Recipe>,
    /// Whether an adult changed what was built.
    pub edited: bool,
    /// The versions before it, latest first.
    pub earlier: Vec<EarlierVersion>,
    /// To be heeded.
    pub cautions: Vec<String>,
}

/// An earlier version of a check.
#[derive(Serialize, ToSchema)]
pub struct EarlierVersion {
    /// Its id.
    pub id: CheckId,
    /// Its name.
    pub name: String,
    /// Which version it is.
    pub version: i32,
}

impl CheckBody {
    /// A check, given those of its school.
    pub(in crate::http) fn of(row: CheckRow, all: &[CheckRow], rules: &RulePack) -> Self {
        let before = all.iter().filter(|other| other.series == row.series && other.version < row.version);
        let mut earlier: Vec<EarlierVersion> = before
            .map(|other| EarlierVersion { id: other.id, name: other.name.clone(), version: other.version })
            .collect();
        earlier.sort_by_key(|other| std::cmp::Reverse(other.version));
        Self {
            id: row.id,
            name: row.name,
            kind: row.kind,
            items: row.items,
            series_id: row.series,
            version: row.version,
            edited: row.built.as_ref().is_some_and(|built| built.edited),
            recipe: row.built.map(|built| built.recipe),
            earlier,
            cautions: cautions(row.kind, rules),
        }
    }
}

/// What is to be heeded of a kind of check. The words of a live statutory check belong in none, least of all in one
/// of its shape.
fn cautions(kind: CheckKind, rules: &RulePack) -> Vec<String> {
    let wanted = rules.cautions.iter().filter(|caution| caution.code == "statutory_guidance_first");
    let live = "Practice only, and no result of the statutory check. Never put words of a statutory check into it \
                before they are released.";
    match kind {
        CheckKind::PracticeCheck => {
            std::iter::once(live.to_owned()).chain(wanted.map(|caution| caution.text.clone())).collect()
        }
        _ => Vec::new(),
    }
}

/// A round of checks.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000010", "name": "Autumn 1", "opens_on": "2026-10-12", "closes_on": "2026-10-23",
    "check_ids": ["0199f2c4-0000-7000-8000-00000000000e"], "whom": {"class_ids": ["0199f2c4-0000-7000-8000-000000000006"],
    "group_ids": [], "pupil_ids": []}, "checkers": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002",
    "class_id": "0199f2c4-0000-7000-8000-000000000006"}]
}))]
pub struct RoundBody {
    /// Its id.
    pub id: RoundId,
    /// Its name.
    pub name: String,
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// Its checks.
    pub check_ids: Vec<CheckId>,
    /// Whom it is for; null for everybody.
    pub whom: Option<Whom>,
    /// Who checks whom. Whoever may see a pupil's checks may check all the same.
    pub checkers: Vec<Checker>,
}

impl From<RoundRow> for RoundBody {
    fn from(row: RoundRow) -> Self {
        Self {
            id: row.id,
            name: row.name,
            opens_on: row.opens_on,
            closes_on: row.closes_on,
            check_ids: row.checks,
            whom: row.plan.whom,
            checkers: row.plan.checkers,
        }
    }
}

/// A response as recorded.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000011", "check_id": "0199f2c4-0000-7000-8000-00000000000e",
    "item_id": "0199f2c4-0000-7000-8000-00000000000f", "on": "2026-10-14", "outcome": "right", "heard": null, "heard_is": null,
    "mode": "spoken",
    "taken_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
    "entered_at": "2026-10-14T09:50:00.000000Z", "corrects": null, "reason": null, "in_force": true, "sitting_id": null, "late": false
}))]
pub struct ResponseBody {
    /// Its id.
    pub id: ResponseId,
    /// The check.
    pub check_id: CheckId,
    /// The item.
    pub item_id: CheckItemId,
    /// The day.
    pub on: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead, in sounds.
    pub heard: Option<String>,
    /// How that stands to what is expected of the item: one of the readings to accept, one as this pupil usually says
    /// it, or another. An answer marked wrong that is one of the first two is worth a second look; the marker decides.
    pub heard_is: Option<HeardIs>,
    /// How the pupil answered.
    pub mode: ResponseMode,
    /// The adult who asked.
    pub taken_by: StaffId,
    /// The adult who entered it.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
    /// The response it corrects.
    pub corrects: Option<ResponseId>,
    /// Why it does, where that was said.
    pub reason: Option<CorrectionReason>,
    /// Whether it counts: no other response corrects it.
    pub in_force: bool,
    /// The sitting it was given in.
    pub sitting_id: Option<SittingId>,
    /// Whether the round was over when it came.
    pub late: bool,
}

/// Responses with which of them count.
fn bodies(rows: Vec<ResponseRow>, told: &BTreeMap<ResponseId, HeardIs>) -> Vec<ResponseBody> {
    let corrected: Vec<ResponseId> = rows.iter().filter_map(|row| row.corrects).collect();
    rows.into_iter()
        .map(|row| ResponseBody {
            in_force: !corrected.contains(&row.id),
            id: row.id,
            check_id: row.check_id,
            item_id: row.item_id,
            on: row.on_date,
            outcome: row.outcome,
            heard: row.heard,
            heard_is: told.get(&row.id).copied(),
            mode: row.mode,
            taken_by: row.taken_by,
            entered_by: row.entered_by,
            entered_at: row.at,
            corrects: row.corrects,
            reason: row.reason,
            sitting_id: row.sitting_id,
            late: row.late,
        })
        .collect()
}

/// What was heard instead is said of wrong answers only.
pub fn heard_fits(outcome: Outcome, heard: Option<&Heard>, field: impl Into<String>) -> Result<(), Problem> {
    match heard {
        Some(_) if outcome != Outcome::Wrong => Err(Problem::field(field, AnswerError::HeardNotWrong(0))),
        _ => Ok(()),
    }
}

/// What decides about answers of a pupil to a check in a round.
pub fn answer_facts<'a>(
    tx: &Tx<'_>,
    (round, check): (&RoundRow, &'a CheckRow),
    existing: &'a BTreeMap<CheckItemId, ResponseId>,
    left_on: Option<Date>,
) -> Result<Facts<'a>, Problem> {
    Ok(Facts {
        items: &check.items,
        existing,
        opens_on: round.opens_on,
        closes_on: round.closes_on,
        taken_until: round.taken_until(tx.rules()?.rounds.late_answers_days),
        left_on,
        today: tx.today(),
    })
}

/// Checks whom a round is for and who checks whom; who did `before` may go on standing there.
fn check_plan<'tx, A, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, R>,
    plan: &RoundPlan,
    before: &[Checker],
    dates: Dates,
) -> Result<(), Problem> {
    plan.check()?;
    if let Some(field) = tx.unknown_in_plan(permit, plan)? {
        return Err(Problem::field(field, "is not of this school"));
    }
    let days = Span { from: dates.opens_on, until: Some(dates.closes_on) };
    let there: BTreeSet<StaffId> = before.iter().map(|one| one.staff_id).collect();
    let named = plan.checkers.iter().enumerate().filter(|(_, one)| !there.contains(&one.staff_id));
    let named = named.map(|(n, one)| (format!("checkers[{n}].staff_id"), one.staff_id, days));
    able::<Record, PupilChecks, _, _>(tx, permit, named)
}

/// Refuses to ask a pupil in a round that is for others, unless the lead does.
pub fn for_this_pupil(tx: &mut Tx<'_>, round: RoundId, is_asked: bool) -> Result<(), Problem> {
    if is_asked || tx.permit_if_allowed::<Manage, _>(Round(round))?.is_some() {
        return Ok(());
    }
    let message =
        "this round is for other pupils: the lead can say that it is for this one too, or ask the pupil";
    Err(Problem::field("pupil_id", message).with_code(Code::Conflict))
}

/// That a check is none of the round's.
pub fn not_of_the_round(error: Error) -> Problem {
    match error {
        Error::Missing => Problem::field("check_id", "is not a check of this round"),
        other => other.into(),
    }
}
