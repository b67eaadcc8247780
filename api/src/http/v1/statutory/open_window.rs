//! POST /statutory-windows

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::StatutoryChecks,
    },
    statutory::open_window,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::StatutoryWindowBody;
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{Code, Problem},
    problems::CreateProblems,
    reply::Reply,
};

/// A window to open.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"year": 2026, "term": "summer"}))]
pub struct NewStatutoryWindow {
    /// The calendar year.
    pub year: i32,
    /// The code of one of the rule pack's terms.
    pub term: String,
    /// First day, where the rule pack has none for this year and term.
    #[serde(default)]
    pub opens_on: Option<Date>,
    /// Last day.
    #[serde(default)]
    pub closes_on: Option<Date>,
    /// Last day for pupils who were away; leave out where there are no such days.
    #[serde(default)]
    pub absentees_until: Option<Date>,
}

/// Open a window of the statutory check
///
/// With the rule pack's days where it has them, otherwise the school's own. One of a year and term. It may lie in the
/// past, to enter results of then.
#[utoipa::path(
    tag = "statutory check", operation_id = "open_statutory_window", request_body = NewStatutoryWindow,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Opened; ETag", body = StatutoryWindowBody), CreateProblems)
)]
#[post("/statutory-windows")]
pub async fn open_statutory_window(caller: Caller, body: Body<NewStatutoryWindow>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("statutory_window.open", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(StatutoryChecks)?;
            let rules = tx.rules()?;
            let readable = tx.permit::<Read, _>(StatutoryChecks)?;
            let known = tx.statutory_windows(&readable)?;
            if known.iter().any(|row| (row.year, &row.term) == (new.year, &new.term)) {
                let message = "has a window in this year already";
                return Err(Problem::field("term", message).with_code(Code::Conflict));
            }
            let own = (new.opens_on, new.closes_on, new.absentees_until);
            let (days, year_groups) = open_window(&rules.statutory_check, new.year, &new.term, own)?;
            days.of_one_year::<Problem>(|day| Ok(tx.school_year_of(day)?))?;
            let row = tx.open_statutory_window(&permit, (new.year, &new.term), &days, &year_groups)?;
            let at = format!("/api/v1/statutory-windows/{}", row.id);
            Ok(Reply::created(at, &StatutoryWindowBody::new(&row, rules)?)?.version(row.v))
        })
        .await
}
