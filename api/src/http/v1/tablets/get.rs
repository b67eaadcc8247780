//! GET /tablets/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Tablets},
    id::TabletId,
};

use super::TabletLine;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Show a tablet
#[utoipa::path(
    tag = "tablets", operation_id = "get_tablet", params(("id" = TabletId, Path, description = "The tablet")),
    responses((status = 200, description = "The tablet; ETag", body = TabletLine), ReadProblems)
)]
#[get("/tablets/{id}")]
pub async fn get_tablet(caller: Caller, id: web::Path<TabletId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Tablets)?;
            let (row, replicas) = (tx.tablet(&permit, *id)?, tx.replicas(&permit)?);
            let v = row.v;
            Ok(Reply::ok(&TabletLine::of(row, &replicas))?.version(v))
        })
        .await
}
