//! PUT /phonics-policy

use actix_web::put;
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    phonics::policy::Policy,
};

use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// Say what the school counts as taught, and its accent
///
/// What is left out takes its usual value. Counts for every bank, lesson, text and analysis
/// from the next request on; what was recorded does not change.
#[utoipa::path(
    tag = "words", operation_id = "save_phonics_policy", request_body = Policy,
    params(("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "The school's choices", body = Policy), EditProblems)
)]
#[put("/phonics-policy")]
pub async fn save_phonics_policy(caller: Caller, policy: Body<Policy>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("phonics_policy.save", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            same_version(tx.phonics_policy(&permit)?.1, base)?;
            let v = tx.set_phonics_policy(&permit, policy.value)?;
            Ok(Reply::ok(&policy.value)?.version(v))
        })
        .await
}
