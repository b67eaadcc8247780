//! PUT /statutory-thresholds/{year}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::StatutoryChecks},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::thresholds::ThresholdLine;
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// What has to be reached, as it was published.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"threshold": 31, "published_on": "2026-06-22"}))]
pub struct NewThreshold {
    /// The least mark that meets it.
    pub threshold: u8,
    /// Since when it is known.
    pub published_on: Date,
}

/// Enter what has to be reached in a year
///
/// By the lead, once it is published and the rule pack does not have it. Entered again it counts from then on, for
/// every result of that year, and what was entered before stays on record: no result is changed by it, because what
/// a mark comes to is kept nowhere. An ETag of the list is needed where one was entered.
#[utoipa::path(
    tag = "statutory check", operation_id = "enter_statutory_threshold", request_body = NewThreshold,
    params(("year" = i32, Path, description = "The calendar year of the check"),
           ("If-Match" = Option<String>, Header, description = "The ETag in the list, where one was entered")),
    responses((status = 200, description = "Entered; ETag", body = ThresholdLine), EditProblems)
)]
#[put("/statutory-thresholds/{year}")]
pub async fn enter_statutory_threshold(
    caller: Caller,
    year: web::Path<i32>,
    body: Body<NewThreshold>,
) -> Result<Reply, Problem> {
    let (year, new, base) = (*year, body.value, caller.base_version());
    caller
        .write("statutory_threshold.enter", move |tx| {
            let permit = tx.permit::<Manage, _>(StatutoryChecks)?;
            let rule = &tx.rules()?.statutory_check;
            if !(2000..=2200).contains(&year) {
                return Err(Problem::field("year", "must be 2000 to 2200"));
            }
            let of_pack = rule.thresholds.iter().find(|one| one.year == year).and_then(|one| one.threshold);
            if let Some(known) = of_pack {
                let message = format!("the rule pack has {known} for {year}: nothing is entered beside it");
                return Err(Problem::field("year", message).with_code(Code::Conflict));
            }
            if new.threshold > rule.maximum {
                return Err(Problem::field("threshold", format!("must be 0 to {}", rule.maximum)));
            }
            if !rule.published_in(year, new.published_on) {
                let message = format!("{} is before it can have been published", new.published_on);
                return Err(Problem::field("published_on", message));
            }
            if new.published_on > tx.today() {
                return Err(Problem::field("published_on", format!("{} is in the future", new.published_on)));
            }
            if let Some(v) = tx.threshold_version(&permit, year)? {
                same_version(v, base)?;
            }
            let row = tx.enter_threshold(&permit, year, new.threshold, new.published_on)?;
            Ok(Reply::ok(&ThresholdLine::entered(&row, true))?.version(row.v))
        })
        .await
}
