//! POST /pupils/{id}/not-accessible

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilAnswering},
    check::{CheckKind, ResponseMode, check_review},
    id::PupilId,
    rules::Coded,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::NotAccessibleBody;
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// That checks are not accessible to a pupil.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "word_reading", "reason": "shown_out_of_reach", "review_on": "2027-01-15"}))]
pub struct NewNotAccessible {
    /// Checks of this kind; of every kind unless told.
    #[serde(default)]
    pub kind: Option<CheckKind>,
    /// Answered this way; every way unless told.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
    /// A reason of the rule pack. It is about the check, and never says what a pupil has.
    pub reason: String,
    /// The last day, by which somebody looks at it again.
    pub review_on: Date,
}

/// Say that checks are not accessible to a pupil this way
///
/// From today to the review day the pupil is left out of what is counted, where everybody can see that. A way in
/// which the pupil does not usually answer takes nobody out: who usually chooses among options is still asked that
/// way when speaking is out of reach. After the review day it holds no longer, unless it is said anew.
#[utoipa::path(
    tag = "answering", operation_id = "add_not_accessible", request_body = NewNotAccessible,
    params(("id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Said", body = NotAccessibleBody), CreateProblems)
)]
#[post("/pupils/{id}/not-accessible")]
pub async fn add_not_accessible(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewNotAccessible>,
) -> Result<Reply, Problem> {
    let (id, new) = (*id, body.value);
    caller
        .create_of_pupils(
            "pupil.not_accessible",
            body.hash,
            move |tx| {
                let pupil = tx.merged_records()?.now(id);
                let permit = tx.permit::<Manage, _>(PupilAnswering(pupil))?;
                let rule = &tx.rules()?.marking.not_accessible;
                Coded::known(&rule.reasons, &new.reason)
                    .map_err(|unknown| Problem::field("reason", unknown))?;
                check_review(rule, tx.today(), new.review_on)
                    .map_err(|error| Problem::field("review_on", error))?;
                let row = tx.add_not_accessible(&permit, (new.kind, new.mode), &new.reason, new.review_on)?;
                let at = format!("/api/v1/pupils/{pupil}/not-accessible/{}", row.id);
                Reply::created(at, &NotAccessibleBody::new(row, rule, tx.today()))
            },
            move |tx, reply| {
                let pupil = tx.merged_records()?.now(id);
                let permit = tx.permit::<Manage, _>(PupilAnswering(pupil))?;
                let made = reply.made()?;
                let rows = tx.answering(&permit)?.not_accessible.into_iter();
                let row = rows.into_iter().find(|row| row.id == made).ok_or(crate::store::Error::Missing)?;
                let (rule, today) = (&tx.rules()?.marking.not_accessible, tx.today());
                let at = format!("/api/v1/pupils/{pupil}/not-accessible/{}", row.id);
                Reply::created(at, &NotAccessibleBody::new(row, rule, today))
            },
        )
        .await
}
