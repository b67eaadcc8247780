//! GET /weekly-overview

use std::collections::BTreeSet;

use actix_web::get;
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::{Sequence, WeeklyOverview},
    },
    id::{GroupId, PupilId, SequenceId},
    rules::PaceRule,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        caller::Caller,
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
        v1::{groups::get::OnQuery, pupils::lines},
    },
    store::{OpenPupil, PaceFacts, Permit, Tx},
};

/// What to do about a line: an operation of this API.
#[derive(Serialize, ToSchema)]
pub struct Action {
    /// Its id in the OpenAPI document.
    pub operation: &'static str,
    /// Its method.
    pub method: &'static str,
    /// Its address.
    pub path: String,
}

/// A group that nothing is recorded for.
#[derive(Serialize, ToSchema)]
pub struct QuietGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// Teaching days of the group in a row, up to that day, without a record.
    pub days: u32,
    /// The day of its last record; null where there is none.
    pub last_record_on: Option<Date>,
    /// What to do about it.
    pub action: Action,
}

/// A group whose sequence has no version in force for it.
#[derive(Serialize, ToSchema)]
pub struct UntaughtGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// What to do about it.
    pub action: Action,
}

/// A group short of its plan.
#[derive(Serialize, ToSchema)]
pub struct ShortGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// Lessons of its plan not finished.
    pub lessons: u32,
    /// The same in teaching days of the plan.
    pub days: u32,
    /// What to do about it.
    pub action: Action,
}

/// A pupil with a number of items open: missed, and not yet taught and answered right since.
#[derive(Serialize, ToSchema)]
#[schema(as = OverviewPupil)]
pub struct PupilLine {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// The group to look at.
    pub group_id: GroupId,
    /// Its name.
    pub group: String,
    /// How many are to be taught, those answered wrong since they were caught up too.
    pub to_teach: u32,
    /// How many were taught since and wait for a check.
    pub to_check: u32,
    /// The day on which the first of them was missed.
    pub since: Date,
    /// What to do about it.
    pub action: Action,
}

/// What wants doing. Each list is in the order of names; nobody is ranked.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "on": "2026-11-25", "groups": 10, "days_without_record": 3, "days_short": 5, "items_missed": 3,
    "without_record": [{"group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "days": 4, "last_record_on": "2026-11-19",
        "action": {"operation": "record_lesson", "method": "POST", "path": "/api/v1/groups/0199f2c4-0000-7000-8000-000000000008/lesson-records"}}],
    "nothing_to_teach": [], "short_of_plan": [], "pupils": [], "caution": "It says what comes if nothing changes, and is no judgement of a group or an adult."
}))]
pub struct WeeklyOverviewBody {
    /// The day.
    pub on: Date,
    /// Groups looked at: those taught that day with somebody in them.
    pub groups: usize,
    /// From how many teaching days without a record on a group is listed (rule pack).
    pub days_without_record: u32,
    /// From how many teaching days short of its plan on a group is listed (rule pack).
    pub days_short: u32,
    /// From how many items on a pupil is listed (rule pack).
    pub items_missed: u32,
    /// Groups whose sequence has no version in force for them.
    pub nothing_to_teach: Vec<UntaughtGroup>,
    /// Groups without a record.
    pub without_record: Vec<QuietGroup>,
    /// Groups short of their plan.
    pub short_of_plan: Vec<ShortGroup>,
    /// Pupils with items missed.
    pub pupils: Vec<PupilLine>,
    /// To be shown with it.
    pub caution: String,
}

/// What wants doing this week?
///
/// Groups without a record for some teaching days, groups short of their plan, and pupils with some items open:
/// missed, and not yet taught and answered right since. Each with the operation to go on with, of those the reader may
/// do. It is about groups and
/// pupils, and says nothing of adults. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "pace", operation_id = "get_weekly_overview", params(OnQuery),
    responses((status = 200, description = "What wants doing", body = WeeklyOverviewBody), ReadProblems)
)]
#[get("/weekly-overview")]
pub async fn get_weekly_overview(caller: Caller, query: Query<OnQuery>) -> Result<Reply, Problem> {
    let (facts, open, may, rule, on) = caller
        .read_logged("overview.read", move |tx| {
            let permit = tx.permit::<Read, _>(WeeklyOverview)?;
            let on = query.on.unwrap_or(tx.today());
            if on > tx.today() {
                return Err(Problem::field("on", "is in the future"));
            }
            let (facts, open) = tx.overview_facts(&permit, on)?;
            let may = may(tx, &permit, &facts, on)?;
            Ok((facts, open, may, &tx.rules()?.pace, on))
        })
        .await?;
    caller.compute(move || Reply::ok(&body(&facts, open, &may, rule, on))).await
}

/// What the reader may do: record lessons of which groups, and publish versions of which sequences.
struct May {
    record: BTreeSet<GroupId>,
    publish: BTreeSet<SequenceId>,
}

fn may<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Read, WeeklyOverview>,
    facts: &[PaceFacts],
    on: Date,
) -> Result<May, Problem> {
    let groups: BTreeSet<GroupId> = facts.iter().map(|facts| facts.group.id).collect();
    let mut may = May { record: tx.groups_to_record(permit, &groups, on)?, publish: BTreeSet::new() };
    let sequences: BTreeSet<SequenceId> = facts.iter().map(|facts| facts.group.sequence_id).collect();
    for sequence in sequences {
        if tx.permit_if_allowed::<Publish, _>(Sequence(sequence))?.is_some() {
            may.publish.insert(sequence);
        }
    }
    Ok(may)
}

fn body(
    facts: &[PaceFacts],
    open: Vec<OpenPupil>,
    may: &May,
    rule: &PaceRule,
    on: Date,
) -> WeeklyOverviewBody {
    let (mut nothing_to_teach, mut without_record, mut short_of_plan) = (Vec::new(), Vec::new(), Vec::new());
    for facts in facts {
        let (group_id, name) = (facts.group.id, facts.group.name.clone());
        let path = |rest: &str| format!("/api/v1/groups/{group_id}/{rest}");
        let Some(pace) = facts.pace(rule) else {
            let path = format!("/api/v1/sequences/{}/versions", facts.group.sequence_id);
            // Who may not do it looks at what there is, under the same address.
            let action = match may.publish.contains(&facts.group.sequence_id) {
                true => Action { operation: "publish_version", method: "POST", path },
                false => Action { operation: "list_versions", method: "GET", path },
            };
            nothing_to_teach.push(UntaughtGroup { group_id, name, action });
            continue;
        };
        // Whoever has come to the end of the sequence has nothing to record.
        if pace.days_without_record >= rule.days_without_record && pace.way.lessons_left() > 0 {
            without_record.push(QuietGroup {
                group_id,
                name: name.clone(),
                days: pace.days_without_record,
                last_record_on: facts.last_record_on(),
                action: match may.record.contains(&group_id) {
                    true => {
                        Action { operation: "record_lesson", method: "POST", path: path("lesson-records") }
                    }
                    false => Action {
                        operation: "list_lesson_records",
                        method: "GET",
                        path: path("lesson-records"),
                    },
                },
            });
        }
        let (lessons, days) = (-pace.standing.lessons_ahead, -pace.standing.days_ahead);
        if let (Ok(lessons), Ok(days)) = (u32::try_from(lessons), u32::try_from(days))
            && days >= rule.days_short
        {
            let action = Action { operation: "get_group_pace", method: "GET", path: path("pace") };
            short_of_plan.push(ShortGroup { group_id, name, lessons, days, action });
        }
    }
    let open: Vec<OpenPupil> =
        open.into_iter().filter(|one| one.to_teach + one.to_check >= rule.items_missed).collect();
    let shown = lines(open.iter().map(|one| (one.pupil.clone(), one.class.clone())).collect());
    let pupils = open.into_iter().zip(shown).map(|(one, line)| PupilLine {
        pupil_id: line.id,
        name: line.name,
        apart: line.apart,
        group_id: one.group,
        group: one.group_name,
        to_teach: one.to_teach,
        to_check: one.to_check,
        since: one.since,
        action: Action {
            operation: "get_catch_up_list",
            method: "GET",
            path: format!("/api/v1/groups/{}/catch-up", one.group),
        },
    });
    WeeklyOverviewBody {
        on,
        groups: facts.len(),
        days_without_record: rule.days_without_record,
        days_short: rule.days_short,
        items_missed: rule.items_missed,
        nothing_to_teach,
        without_record,
        short_of_plan,
        pupils: pupils.collect(),
        caution: rule.caution.clone(),
    }
}
