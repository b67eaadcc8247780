//! POST /pupil-decisions

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::PupilId,
    roster::{MergeError, Verdict},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::DecisionBody;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{DecisionView, Error},
};

/// What is decided about two records.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "verdict": "same", "pupil_id": "0199f2c4-0000-7000-8000-000000000007",
    "other_id": "0199f2c4-0000-7000-8000-000000000017"
}))]
pub struct NewDecision {
    /// One child or two.
    pub verdict: Verdict,
    /// One pupil; of one child, the record that is kept.
    pub pupil_id: PupilId,
    /// The other; of one child, the record that goes.
    pub other_id: PupilId,
    /// Where both records of a child have a UPN: the pupil whose is in use. The other's is kept as a
    /// former one.
    #[serde(default)]
    pub upn_of: Option<PupilId>,
}

/// Decide whether two records are of one child
///
/// Of one child, everything on record under `other_id` moves to `pupil_id`: lessons, answers, classes and
/// groups by their days, UPNs, year groups. Days in the same class or group count once, a lesson with both in
/// its register holds one line (taught, if either was), and answers stay as many as they are. What the kept
/// record says of the child stands; what it does not say is taken from the other, whose address then leads
/// nowhere; what a device sends late about it, lessons and answers, is the kept one's. Imports know the child
/// by what either record was known by. Of two children, nothing is changed; imports and the list of suspected
/// duplicates do not ask again. Both can be taken back.
#[utoipa::path(
    tag = "pupils", operation_id = "decide_pupils", request_body = NewDecision,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Decided", body = DecisionBody), CreateProblems)
)]
#[post("/pupil-decisions")]
pub async fn decide_pupils(caller: Caller, body: Body<NewDecision>) -> Result<Reply, Problem> {
    let NewDecision { verdict, pupil_id, other_id, upn_of } = body.value;
    let operation = match verdict {
        Verdict::Same => "pupil.merge",
        Verdict::Different => "pupil.tell_apart",
    };
    caller
        .create_of_pupils(
            operation,
            body.hash,
            move |tx| {
                let permit = tx.permit::<Manage, _>(Roster)?;
                for (field, id) in [("pupil_id", pupil_id), ("other_id", other_id)] {
                    tx.known_pupil(&permit, id).map_err(|error| match error {
                        Error::Missing => Problem::field(field, "is no pupil of this school"),
                        other => other.into(),
                    })?;
                }
                let view = match verdict {
                    Verdict::Same => {
                        tx.merge_pupils(&permit, [pupil_id, other_id], upn_of)?.map_err(refused)?
                    }
                    Verdict::Different if pupil_id == other_id => return Err(refused(MergeError::Itself)),
                    Verdict::Different if upn_of.is_some() => {
                        return Err(Problem::field("upn_of", "goes with `same` only"));
                    }
                    Verdict::Different => {
                        tx.tell_apart(&permit, [pupil_id, other_id]).map_err(|error| match error {
                            Error::Conflict => Problem::saying(Code::Conflict, "this is decided already"),
                            other => other.into(),
                        })?
                    }
                };
                made(view)
            },
            |tx, reply| {
                let permit = tx.permit::<Manage, _>(Roster)?;
                let row = tx.pupil_decision(&permit, reply.made()?)?;
                made(tx.shown_decision(&permit, row)?)
            },
        )
        .await
}

fn made(view: DecisionView) -> Result<Reply, Problem> {
    Reply::created(format!("/api/v1/pupil-decisions/{}", view.row.id), &DecisionBody::from(view))
}

fn refused(error: MergeError) -> Problem {
    match error {
        MergeError::Apart | MergeError::TwoResults => Problem::saying(Code::Conflict, error.to_string()),
        MergeError::Itself => Problem::field("other_id", error),
        MergeError::TwoUpns | MergeError::NoUpn | MergeError::Neither => Problem::field("upn_of", error),
    }
}
