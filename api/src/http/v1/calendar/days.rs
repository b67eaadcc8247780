//! GET /teaching-days

use actix_web::get;
use plumbline_core::{
    access::{
        act::Read,
        resource::{Calendar, Class, Group},
    },
    calendar::{DayKind, OwnCalendar},
    id::{ClassId, GroupId},
    time::{Date, days},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{check_days, code_of};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
    store::Tx,
};

/// Which days, and for whom: the school unless told.
#[derive(Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DaysQuery {
    /// First day.
    pub from: Date,
    /// Last day, at most 400 days later.
    pub to: Date,
    /// As they are to a class.
    #[serde(default)]
    pub class_id: Option<ClassId>,
    /// As they are to a year group.
    #[serde(default)]
    pub year_group: Option<String>,
    /// As they are to a group, with the pupils it has on each day.
    #[serde(default)]
    pub group_id: Option<GroupId>,
}

/// A day.
#[derive(Serialize, ToSchema)]
pub struct DayBody {
    /// The day.
    pub on: Date,
    /// What it is: teaching if half of it is.
    pub kind: DayKind,
    /// What its first half is.
    pub morning: DayKind,
    /// What its second half is.
    pub afternoon: DayKind,
}

/// Days and how many of them are taught.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"teaching_days": 1, "teaching_half_days": 1, "days": [
    {"on": "2026-11-25", "kind": "teaching", "morning": "teaching", "afternoon": "closure"}]}))]
pub struct DaysBody {
    /// How many are taught, at least half of each.
    pub teaching_days: usize,
    /// How many mornings and afternoons are taught.
    pub teaching_half_days: usize,
    /// Each day.
    pub days: Vec<DayBody>,
}

/// What each day is, and how many are taught
///
/// To the school, or to one class, year group or group: it is taught while one of its pupils is.
#[utoipa::path(
    tag = "calendar", operation_id = "list_teaching_days", params(DaysQuery),
    responses((status = 200, description = "The days", body = DaysBody), ReadProblems)
)]
#[get("/teaching-days")]
pub async fn list_teaching_days(caller: Caller, query: Query<DaysQuery>) -> Result<Reply, Problem> {
    let query = query.into_inner();
    let (from, to) = (query.from, query.to);
    check_days(from, to)?;
    caller
        .read(move |tx| {
            let calendar = own_calendar(tx, &query)?;
            let day = |on| {
                let halves = calendar.day(on);
                let body =
                    DayBody { on, kind: halves.kind(), morning: halves.morning, afternoon: halves.afternoon };
                (body, halves.taught().count())
            };
            let (days, taught): (Vec<DayBody>, Vec<usize>) = days(from, to).map(day).unzip();
            let teaching_days = taught.iter().filter(|halves| **halves > 0).count();
            Reply::ok(&DaysBody { teaching_days, teaching_half_days: taught.iter().sum(), days })
        })
        .await
}

fn own_calendar(tx: &mut Tx<'_>, query: &DaysQuery) -> Result<OwnCalendar, Problem> {
    let permit = tx.permit::<Read, _>(Calendar)?;
    Ok(match (query.class_id, &query.year_group, query.group_id) {
        (None, None, None) => OwnCalendar { calendar: tx.calendar()?, ..OwnCalendar::default() },
        (Some(class), None, None) => {
            let permit = tx.permit::<Read, _>(Class(class))?;
            tx.class_calendar(&permit)?
        }
        (None, Some(label), None) => {
            let code = code_of(tx, "year_group", label)?;
            tx.year_group_calendar(&permit, &code)?
        }
        (None, None, Some(group)) => {
            let permit = tx.permit::<Read, _>(Group(group))?;
            tx.group_calendar(&permit)?
        }
        _ => return Err(Problem::field("group_id", "give one of class_id, year_group and group_id")),
    })
}
