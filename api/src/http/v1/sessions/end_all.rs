//! DELETE /sessions

use actix_web::delete;
use plumbline_core::access::{act::Manage, resource::OwnSessions};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Sign out everywhere
///
/// Ends all of one's sign-ins in this school, this one too.
#[utoipa::path(
    tag = "sessions", operation_id = "end_all_sessions",
    responses((status = 204, description = "Signed out everywhere"), ActProblems)
)]
#[delete("/sessions")]
pub async fn end_all_sessions(caller: Caller) -> Result<Reply, Problem> {
    caller
        .write("session.end_all", |tx| {
            let own = tx.permit::<Manage, _>(OwnSessions(None))?;
            tx.sign_out_everywhere(&own)?;
            Ok(Reply::nothing())
        })
        .await
}
