//! GET /groups/{id}/pace/proposals

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupPace},
    id::GroupId,
    pace::{Replan, replan},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::no_version;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// What is to be finished by when.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReplanQuery {
    /// The day by which it is to be finished.
    pub finish_by: Date,
    /// The last step to finish, counted from 1; the last of the sequence unless told.
    pub through_step: Option<usize>,
}

/// What would let a group finish by a day.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "finish_by": "2027-07-20", "interval_percent": 80,
    "proposals": {"through": {"step": 40, "lesson": 3}, "lessons_left": 130, "days_left": 128,
        "as_it_goes": {"earliest": "2027-07-05", "middle": "2027-07-14", "latest": null}, "in_time": false,
        "reached_by_then": {"step": 39, "lesson": 2}, "likely_with": {"lessons": 5, "days": 5},
        "safe_with": {"lessons": 6, "days": 5}, "lessons_too_many": 4,
        "joined": [{"lessons": ["0199f2c4-0000-7000-8000-00000000000c", "0199f2c4-0000-7000-8000-00000000000e"],
                    "titles": ["Going back", "Lesson 4"], "new_items": 1}]},
    "caution": "It says what comes if nothing changes, and is no judgement of a group or an adult."
}))]
pub struct ReplanBody {
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub finish_by: Date,
    /// The rule pack's likelihood, in per cent.
    pub interval_percent: u8,
    /// The proposals; null where nothing is left to teach.
    pub proposals: Option<Replan>,
    /// To be shown with it.
    pub caution: String,
}

/// What would let a group finish by a day?
///
/// By its own pace: how far it comes if nothing changes, how many lessons a week would be enough, and which
/// neighbouring lessons fit into one by the rule pack's bound on what is new in one. Nothing is changed: a plan is
/// saved with `PUT /groups/{id}/pace-plan`, and lessons are joined in the sequence's draft.
#[utoipa::path(
    tag = "pace", operation_id = "propose_group_pace",
    params(("id" = GroupId, Path, description = "The group"), ReplanQuery),
    responses((status = 200, description = "The proposals", body = ReplanBody), ReadProblems)
)]
#[get("/groups/{id}/pace/proposals")]
pub async fn propose_group_pace(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<ReplanQuery>,
) -> Result<Reply, Problem> {
    let ReplanQuery { finish_by, through_step } = query.into_inner();
    let (facts, rules) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(GroupPace(*id))?;
            let today = tx.today();
            if finish_by < today {
                return Err(Problem::field("finish_by", "is past"));
            }
            Ok((tx.pace_facts(&permit, today)?, tx.rules()?))
        })
        .await?;
    caller
        .compute(move || {
            let rule = &rules.pace;
            let ((_, content), pace) = facts.version.as_ref().zip(facts.pace(rule)).ok_or_else(no_version)?;
            let steps = content.steps.len();
            if through_step.is_some_and(|step| !(1..=steps).contains(&step)) {
                let message = format!("must be 1 to {steps}, the steps of the sequence version");
                return Err(Problem::field("through_step", message));
            }
            Reply::ok(&ReplanBody {
                group_id: facts.group.id,
                finish_by,
                interval_percent: rule.interval_percent,
                proposals: replan(
                    &pace.way,
                    through_step,
                    finish_by,
                    pace.days_a_week,
                    rules.lesson.new_items_max,
                ),
                caution: rule.caution.clone(),
            })
        })
        .await
}
