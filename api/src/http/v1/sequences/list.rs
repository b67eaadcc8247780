//! GET /sequences

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Sequences};

use super::SequenceBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List sequences
#[utoipa::path(
    tag = "sequences", operation_id = "list_sequences",
    responses((status = 200, description = "Sequences by name", body = Page<SequenceBody>), ReadProblems)
)]
#[get("/sequences")]
pub async fn list_sequences(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Sequences)?;
            let list: Vec<SequenceBody> =
                tx.sequences(&permit)?.into_iter().map(SequenceBody::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
