//! DELETE /sessions/current

use actix_web::delete;
use plumbline_core::access::{act::Manage, resource::OwnSessions};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Sign out
///
/// Ends this sign-in at once, with its refresh token.
#[utoipa::path(
    tag = "sessions", operation_id = "end_session",
    responses((status = 204, description = "Signed out"), ActProblems)
)]
#[delete("/sessions/current")]
pub async fn end_session(caller: Caller) -> Result<Reply, Problem> {
    let session = caller.session();
    caller
        .write("session.end", move |tx| {
            let own = tx.permit::<Manage, _>(OwnSessions(session))?;
            tx.sign_out(&own)?;
            Ok(Reply::nothing())
        })
        .await
}
