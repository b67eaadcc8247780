//! GET /groups/{id}/pace

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupPace},
    id::{GroupId, VersionId},
    pace::{Pace, Sessions, Standing, StepForecast, WhatIf, steps_ahead},
    rules::PaceRule,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{PlanBody, no_version};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
    store::PaceFacts,
};

/// Which day, and what might be otherwise after it.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PaceQuery {
    /// The day; today unless told.
    pub on: Option<Date>,
    /// What if days are lost: the first of them.
    pub lost_from: Option<Date>,
    /// The last of them.
    pub lost_until: Option<Date>,
    /// What if so many lessons a week are held. A week is as many teaching days as the group has in one.
    pub lessons_a_week: Option<u32>,
}

/// How a group stands, and when it will be where.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "on": "2026-11-25",
    "version_id": "0199f2c4-0000-7000-8000-00000000000d",
    "plan": {"from": null, "lessons": 1, "days": 1, "chosen": false},
    "standing": {"since": "2026-09-01", "days": 53, "planned": 53, "finished": 50, "lessons_ahead": -3, "days_ahead": -3},
    "sessions": {"taught": 52, "parts": 2, "retaught": 1, "not_taught": 1},
    "recent": {"days": 40, "sessions": 40, "lessons": 37}, "days_without_record": 0, "days_a_week": 5,
    "lessons_left": 310, "interval_percent": 80,
    "steps": [{"id": "0199f2c4-0000-7000-8000-00000000000b", "step": 18, "title": "Step 18", "lessons_left": 2,
        "reached": {"earliest": "2026-11-25", "middle": "2026-11-25", "latest": "2026-11-26"},
        "finished": {"earliest": "2026-11-26", "middle": "2026-11-26", "latest": "2026-11-30"}}],
    "what_if": null, "caution": "It says what comes if nothing changes, and is no judgement of a group or an adult."
}))]
pub struct PaceBody {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// The day.
    pub on: Date,
    /// The version it is taught from.
    pub version_id: VersionId,
    /// What is planned.
    pub plan: PlanBody,
    /// Planned against finished.
    pub standing: Standing,
    /// Sessions in that time; a lesson split over two is one lesson finished and two sessions.
    pub sessions: Sessions,
    /// What it did on the latest of its teaching days, which the forecast rests on.
    pub recent: Pace,
    /// Teaching days in a row, up to that day, without a record.
    pub days_without_record: u32,
    /// The days a week on which it has lessons.
    pub days_a_week: u32,
    /// Lessons of the sequence not finished.
    pub lessons_left: u32,
    /// How likely a forecast's last and first day are to hold, in per cent.
    pub interval_percent: u8,
    /// The steps with something left, in order, if nothing changes.
    pub steps: Vec<StepForecast>,
    /// The same if what was asked were so; null where nothing was asked.
    pub what_if: Option<Vec<StepForecast>>,
    /// To be shown with it.
    pub caution: String,
}

/// How does a group stand, and when will it be where?
///
/// Everything is counted in teaching days of the group, so a day that was none puts nobody behind; the day itself
/// counts once something is recorded for it. A lesson counts once, on the day its last part was taught; teaching it
/// again changes nothing.
///
/// The forecast takes each session due or held to finish a lesson with one unknown chance, learned from the group's
/// own latest days, and before there are any from what the rule pack believes: the number of sessions then follows the
/// beta negative binomial distribution (Johnson, Kemp and Kotz, Univariate Discrete Distributions, 2005). It knows
/// nothing of what lies outside those days, such as illness that lasts. What might be otherwise is answered beside it
/// and changes nothing.
#[utoipa::path(
    tag = "pace", operation_id = "get_group_pace",
    params(("id" = GroupId, Path, description = "The group"), PaceQuery),
    responses((status = 200, description = "The group's pace", body = PaceBody), ReadProblems)
)]
#[get("/groups/{id}/pace")]
pub async fn get_group_pace(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<PaceQuery>,
) -> Result<Reply, Problem> {
    let asked = query.into_inner();
    let lost = lost(&asked)?;
    let (facts, rule, on) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(GroupPace(*id))?;
            let on = asked.on.unwrap_or(tx.today());
            if on > tx.today() {
                return Err(Problem::field("on", "is in the future"));
            }
            Ok((tx.pace_facts(&permit, on)?, &tx.rules()?.pace, on))
        })
        .await?;
    caller.compute(move || Reply::ok(&body(&facts, rule, on, lost, asked.lessons_a_week)?)).await
}

fn lost(asked: &PaceQuery) -> Result<Option<(Date, Date)>, Problem> {
    match (asked.lost_from, asked.lost_until) {
        (Some(from), Some(until)) if until < from => {
            Err(Problem::field("lost_until", "lies before lost_from"))
        }
        (Some(from), Some(until)) => Ok(Some((from, until))),
        (None, None) => Ok(None),
        (Some(_), None) => Err(Problem::field("lost_until", "is missing: lost days have a first and a last")),
        (None, Some(_)) => Err(Problem::field("lost_from", "is missing: lost days have a first and a last")),
    }
}

fn body(
    facts: &PaceFacts,
    rule: &PaceRule,
    on: Date,
    lost: Option<(Date, Date)>,
    lessons_a_week: Option<u32>,
) -> Result<PaceBody, Problem> {
    let ((version_id, _), pace) = facts.version.as_ref().zip(facts.pace(rule)).ok_or_else(no_version)?;
    let lessons_in_days = lessons_a_week
        .map(|lessons| match pace.most_a_week() {
            most if (1..=most).contains(&lessons) => Ok((lessons, pace.days_a_week)),
            most => Err(Problem::field("lessons_a_week", format!("must be 1 to {most}"))),
        })
        .transpose()?;
    let what_if = WhatIf { lost, lessons_in_days };
    Ok(PaceBody {
        group_id: facts.group.id,
        name: facts.group.name.clone(),
        on,
        version_id: *version_id,
        plan: PlanBody::of(facts.plan, rule),
        standing: pace.standing,
        sessions: pace.sessions,
        recent: pace.pace,
        days_without_record: pace.days_without_record,
        days_a_week: pace.days_a_week,
        lessons_left: pace.way.lessons_left(),
        interval_percent: rule.interval_percent,
        steps: steps_ahead(&pace.way, &WhatIf::default()),
        what_if: (what_if != WhatIf::default()).then(|| steps_ahead(&pace.way, &what_if)),
        caution: rule.caution.clone(),
    })
}
