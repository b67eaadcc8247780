//! PATCH /check-rounds/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{act::Manage, resource::Round},
    check::{Checker, Dates, RoundError, RoundPlan, Whom},
    id::RoundId,
    text::Name,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{RoundBody, check_plan};
use crate::http::{
    body::{Body, unless_null},
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    v1::pupils::update::given,
};

/// What to change (JSON Merge Patch, RFC 7396): a field left out stays.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"closes_on": "2026-10-30"}))]
pub struct RoundPatch {
    /// Its name.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Name)]
    pub name: Option<Name>,
    /// First day.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Date)]
    pub opens_on: Option<Date>,
    /// Last day: an earlier one closes the round early, a later one opens it again. No answer there is may lie
    /// outside.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Date)]
    pub closes_on: Option<Date>,
    /// Whom it is for; null for everybody.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Whom>)]
    pub whom: Option<Option<Whom>>,
    /// Who checks whom, the whole list; while the round is open or still to come.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = Vec<Checker>)]
    pub checkers: Option<Vec<Checker>>,
}

/// Change a check round: its days, whom it is for, who checks whom
///
/// Closing early, opening again and handing pupils to another adult are all this. What was answered stays.
#[utoipa::path(
    tag = "checks", operation_id = "update_check_round", request_body = RoundPatch,
    params(("id" = RoundId, Path, description = "The round"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = RoundBody), EditProblems)
)]
#[patch("/check-rounds/{id}")]
pub async fn update_check_round(
    caller: Caller,
    id: web::Path<RoundId>,
    body: Body<RoundPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let patch = body.value;
    caller
        .write("check_round.update", move |tx| {
            let permit = tx.permit::<Manage, _>(Round(*id))?;
            let row = tx.round(&permit)?;
            same_version(row.v, base)?;
            let dates = Dates {
                opens_on: patch.opens_on.unwrap_or(row.opens_on),
                closes_on: patch.closes_on.unwrap_or(row.closes_on),
            };
            dates.check(&tx.answer_days(&permit)?)?;
            if patch.checkers.is_some() && dates.closes_on < tx.today() {
                return Err(RoundError::Closed.into());
            }
            let before = row.plan.checkers.clone();
            let plan = RoundPlan {
                whom: patch.whom.clone().unwrap_or(row.plan.whom),
                checkers: patch.checkers.clone().unwrap_or(row.plan.checkers),
            };
            check_plan(tx, &permit, &plan, &before, dates)?;
            let name = patch.name.as_ref().map_or(row.name.as_str(), Name::as_str);
            let row = tx.update_round(&permit, name, dates, &plan)?;
            let v = row.v;
            Ok(Reply::ok(&RoundBody::from(row))?.version(v))
        })
        .await
}
