//! GET /sequences/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::SequenceId,
};

use super::SequenceBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a sequence
#[utoipa::path(
    tag = "sequences", operation_id = "get_sequence", params(("id" = SequenceId, Path, description = "The sequence")),
    responses((status = 200, description = "The sequence", body = SequenceBody), ReadProblems)
)]
#[get("/sequences/{id}")]
pub async fn get_sequence(caller: Caller, id: web::Path<SequenceId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Sequence(*id))?;
            let row = tx.sequence(&permit)?;
            Reply::ok(&SequenceBody::from(row))
        })
        .await
}
