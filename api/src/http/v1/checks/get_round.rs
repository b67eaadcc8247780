//! GET /check-rounds/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Round},
    id::RoundId,
};

use super::RoundBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a check round
#[utoipa::path(
    tag = "checks", operation_id = "get_check_round", params(("id" = RoundId, Path, description = "The round")),
    responses((status = 200, description = "The round; ETag", body = RoundBody), ReadProblems)
)]
#[get("/check-rounds/{id}")]
pub async fn get_check_round(caller: Caller, id: web::Path<RoundId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Round(*id))?;
            let row = tx.round(&permit)?;
            let v = row.v;
            Ok(Reply::ok(&RoundBody::from(row))?.version(v))
        })
        .await
}
