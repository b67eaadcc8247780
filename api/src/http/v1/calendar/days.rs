//! GET /teaching-days

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Calendar},
    calendar::DayKind,
    time::{Date, days},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Which days.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DaysQuery {
    /// First day.
    pub from: Date,
    /// Last day, at most 400 days later.
    pub to: Date,
}

/// A day.
#[derive(Serialize, ToSchema)]
pub struct DayBody {
    /// The day.
    pub on: Date,
    /// What it is to the school.
    pub kind: DayKind,
}

/// Days and how many of them are taught.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"teaching_days": 1, "days": [{"on": "2026-11-25", "kind": "teaching"}]}))]
pub struct DaysBody {
    /// How many are taught.
    pub teaching_days: usize,
    /// Each day.
    pub days: Vec<DayBody>,
}

/// What each day is, and how many are taught
#[utoipa::path(
    tag = "calendar", operation_id = "list_teaching_days", params(DaysQuery),
    responses((status = 200, description = "The days", body = DaysBody), ReadProblems)
)]
#[get("/teaching-days")]
pub async fn list_teaching_days(caller: Caller, query: Query<DaysQuery>) -> Result<Reply, Problem> {
    let DaysQuery { from, to } = query.into_inner();
    if to < from || to.signed_duration_since(from).num_days() > 400 {
        return Err(Problem::field("to", "must be the first day or up to 400 days later"));
    }
    caller
        .read(move |tx| {
            tx.permit::<Read, _>(Calendar)?;
            let calendar = tx.calendar()?;
            let days: Vec<DayBody> =
                days(from, to).map(|on| DayBody { on, kind: calendar.day(on) }).collect();
            let teaching_days = days.iter().filter(|day| day.kind == DayKind::Teaching).count();
            Reply::ok(&DaysBody { teaching_days, days })
        })
        .await
}
