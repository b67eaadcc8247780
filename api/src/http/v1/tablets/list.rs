//! GET /tablets

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Tablets};

use super::TabletLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the school's tablets
///
/// Those in use first, by name; revoked ones stay in the list.
#[utoipa::path(
    tag = "tablets", operation_id = "list_tablets",
    responses((status = 200, description = "The tablets", body = Page<TabletLine>), ReadProblems)
)]
#[get("/tablets")]
pub async fn list_tablets(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Tablets)?;
            let replicas = tx.replicas(&permit)?;
            let tablets = tx.tablets(&permit)?.into_iter();
            Reply::ok(&Page::whole(tablets.map(|row| TabletLine::of(row, &replicas)).collect()))
        })
        .await
}
