//! POST /check-rounds

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Checks},
    check::{Checker, Dates, RoundPlan, Whom},
    id::CheckId,
    text::Name,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{RoundBody, check_plan};
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
    /// Whom it is for; everybody unless told. Who is in a class or group during the round.
    #[serde(default)]
    pub whom: Option<Whom>,
    /// Who checks whom: what is said of a pupil goes before its group, and a group before its class.
    #[serde(default)]
    pub checkers: Vec<Checker>,
}

/// Open a round of checks
///
/// Answers given on one of its days are taken; for some days after it closed too, marked late.
#[utoipa::path(
    tag = "checks", operation_id = "create_check_round", request_body = NewRound,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Opened; ETag", body = RoundBody), CreateProblems)
)]
#[post("/check-rounds")]
pub async fn create_check_round(caller: Caller, body: Body<NewRound>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("check_round.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            let dates = Dates { opens_on: new.opens_on, closes_on: new.closes_on };
            dates.check(&[])?;
            if !(1..=20).contains(&new.check_ids.len()) {
                return Err(Problem::field("check_ids", "give 1 to 20 checks"));
            }
            if let Some(n) =
                (1..new.check_ids.len()).find(|n| new.check_ids[..*n].contains(&new.check_ids[*n]))
            {
                return Err(Problem::field(format!("check_ids[{n}]"), "stands twice"));
            }
            let plan = RoundPlan { whom: new.whom.clone(), checkers: new.checkers.clone() };
            check_plan(tx, &permit, &plan, &[], dates)?;
            let name = new.name.as_str();
            let row =
                tx.add_round(&permit, name, dates, &new.check_ids, &plan).map_err(|error| match error {
                    Error::Missing => {
                        Problem::field("check_ids", "one of them is not a check of this school")
                    }
                    other => other.into(),
                })?;
            let (v, location) = (row.v, format!("/api/v1/check-rounds/{}", row.id));
            Ok(Reply::created(location, &RoundBody::from(row))?.version(v))
        })
        .await
}
