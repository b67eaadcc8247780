//! GET /phonics-policy

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::SchoolWords},
    phonics::policy::Policy,
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get what the school counts as taught, and its accent
#[utoipa::path(
    tag = "words", operation_id = "get_phonics_policy",
    responses((status = 200, description = "The school's choices", body = Policy), ReadProblems)
)]
#[get("/phonics-policy")]
pub async fn get_phonics_policy(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolWords)?;
            let (policy, v) = tx.phonics_policy(&permit)?;
            Ok(Reply::ok(&policy)?.version(v))
        })
        .await
}
