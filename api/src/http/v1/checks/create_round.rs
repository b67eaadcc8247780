//! POST /check-rounds

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Checks},
    id::CheckId,
    text::Name,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::RoundBody;
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::Error,
};

/// A round to open.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "name": "Autumn 1", "opens_on": "2026-10-12", "closes_on": "2026-10-23",
    "check_ids": ["0199f2c4-0000-7000-8000-00000000000e"]
}))]
pub struct NewRound {
    /// Its name.
    pub name: Name,
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// 1 to 20 checks.
    pub check_ids: Vec<CheckId>,
}

/// Open a round of checks
#[utoipa::path(
    tag = "checks", operation_id = "create_check_round", request_body = NewRound,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Opened", body = RoundBody), CreateProblems)
)]
#[post("/check-rounds")]
pub async fn create_check_round(caller: Caller, body: Body<NewRound>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("check_round.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            if new.closes_on < new.opens_on {
                return Err(Problem::field("closes_on", "lies before the round opens"));
            }
            if !(1..=20).contains(&new.check_ids.len()) {
                return Err(Problem::field("check_ids", "give 1 to 20 checks"));
            }
            if let Some(n) =
                (1..new.check_ids.len()).find(|n| new.check_ids[..*n].contains(&new.check_ids[*n]))
            {
                return Err(Problem::field(format!("check_ids[{n}]"), "stands twice"));
            }
            let (name, from, to) = (new.name.as_str(), new.opens_on, new.closes_on);
            let row = tx.add_round(&permit, name, from, to, &new.check_ids).map_err(|error| match error {
                Error::Missing => Problem::field("check_ids", "one of them is not a check of this school"),
                other => other.into(),
            })?;
            Reply::created(format!("/api/v1/check-rounds/{}", row.id), &RoundBody::from(row))
        })
        .await
}
