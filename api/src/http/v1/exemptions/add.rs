//! POST /check-rounds/{id}/pupils/{pupil_id}/exemptions

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilExemptions},
    id::{CheckId, ExemptionId, PupilId, RoundId},
    rules::Coded,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::ExemptionBody;
use crate::{
    http::{
        body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply,
        v1::checks::not_of_the_round,
    },
    store::ExemptionRow,
};

/// That a pupil is not asked.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"reason": "newly_arrived", "review_on": "2026-11-06"}))]
pub struct NewExemption {
    /// The check; leave out for every check of the round.
    #[serde(default)]
    pub check_id: Option<CheckId>,
    /// Why: a code of the rule pack. Never a diagnosis.
    pub reason: String,
    /// When to look at it again: after today, and no later than the rule pack says.
    pub review_on: Date,
}

/// Leave a pupil out of a round, or of one of its checks
///
/// By the lead or the pupil's own teacher. Said again of the same check, it takes the place of what was said: that is how
/// it is looked at again. Answers are taken all the same.
#[utoipa::path(
    tag = "checks", operation_id = "exempt_pupil", request_body = NewExemption,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Left out", body = ExemptionBody), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/exemptions")]
pub async fn exempt_pupil(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewExemption>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let new = body.value;
    caller
        .create_of_pupils(
            "exemption.add",
            body.hash,
            move |tx| {
                let pupil = tx.merged_records()?.now(pupil);
                let permit = tx.permit::<Record, _>(PupilExemptions { round, pupil })?;
                let rule = &tx.rules()?.rounds;
                Coded::known(&rule.exemption_reasons, &new.reason)
                    .map_err(|unknown| Problem::field("reason", unknown))?;
                let ahead = new.review_on.signed_duration_since(tx.today()).num_days();
                if !(1..=i64::from(rule.exemption_review_days)).contains(&ahead) {
                    let message = format!("must be 1 to {} days from today", rule.exemption_review_days);
                    return Err(Problem::field("review_on", message));
                }
                let row = tx.exempt(&permit, new.check_id, &new.reason, new.review_on);
                said(row.map_err(not_of_the_round)?)
            },
            move |tx, reply| {
                let pupil = tx.merged_records()?.now(pupil);
                let permit = tx.permit::<Record, _>(PupilExemptions { round, pupil })?;
                let id: ExemptionId = reply.made()?;
                let row = tx.exemptions(&permit)?.into_iter().find(|row| row.id == id);
                said(row.ok_or(crate::store::Error::Missing)?)
            },
        )
        .await
}

fn said(row: ExemptionRow) -> Result<Reply, Problem> {
    let at = format!("/api/v1/check-rounds/{}/pupils/{}/exemptions/{}", row.round_id, row.pupil_id, row.id);
    Reply::created(at, &ExemptionBody::from(row))
}
