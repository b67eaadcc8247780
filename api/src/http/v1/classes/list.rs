//! GET /classes

use actix_web::get;
use plumbline_core::access::{act::Read, resource::OwnSessions};

use super::ClassLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the classes one may see
///
/// All of them for those who answer for the whole school, one's own for others.
#[utoipa::path(
    tag = "classes", operation_id = "list_classes",
    responses((status = 200, description = "Classes by name", body = Page<ClassLine>), ReadProblems)
)]
#[get("/classes")]
pub async fn list_classes(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            tx.permit::<Read, _>(OwnSessions(None))?;
            let classes: Vec<ClassLine> = tx.classes()?.into_iter().map(ClassLine::from).collect();
            Reply::ok(&Page::whole(classes))
        })
        .await
}
