//! GET /sequences/{id}/draft

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SequenceDraft},
    id::SequenceId,
};

use super::DraftBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get the draft of a sequence
#[utoipa::path(
    tag = "sequences", operation_id = "get_draft", params(("id" = SequenceId, Path, description = "The sequence")),
    responses((status = 200, description = "The draft; ETag", body = DraftBody), ReadProblems)
)]
#[get("/sequences/{id}/draft")]
pub async fn get_draft(caller: Caller, id: web::Path<SequenceId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceDraft(*id))?;
            let row = tx.draft(&permit)?;
            let v = row.v;
            Ok(Reply::ok(&DraftBody::from(row))?.version(v))
        })
        .await
}
