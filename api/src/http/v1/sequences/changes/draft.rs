//! GET /sequences/{id}/draft/changes

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Sequence, SequenceDraft},
    },
    id::SequenceId,
};

use super::{ChangesBody, SinceQuery, changes, earlier};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// What differs between the draft and a published version
///
/// The latest that is not withdrawn unless told.
#[utoipa::path(
    tag = "sequences", operation_id = "get_draft_changes",
    params(("id" = SequenceId, Path, description = "The sequence"), SinceQuery),
    responses((status = 200, description = "What differs; ETag, which is the draft's", body = ChangesBody), ReadProblems)
)]
#[get("/sequences/{id}/draft/changes")]
pub async fn get_draft_changes(
    caller: Caller,
    id: web::Path<SequenceId>,
    query: Query<SinceQuery>,
) -> Result<Reply, Problem> {
    let told = query.since;
    let (since, draft) = caller
        .read(move |tx| {
            let draft = tx.permit::<Read, _>(SequenceDraft(*id))?;
            let permit = tx.permit::<Read, _>(Sequence(*id))?;
            Ok((earlier(tx, &permit, told, |head| head.withdrawn_on.is_none())?, tx.draft(&draft)?))
        })
        .await?;
    caller.compute(move || Ok(Reply::ok(&changes(since, &draft.content))?.version(draft.v))).await
}
