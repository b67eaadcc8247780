//! GET /groups

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Groups};

use super::GroupLine;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the groups one may see
///
/// All of them for the lead and the head, those one is assigned to today for others.
#[utoipa::path(
    tag = "groups", operation_id = "list_groups",
    responses((status = 200, description = "Groups by name", body = Page<GroupLine>), ReadProblems)
)]
#[get("/groups")]
pub async fn list_groups(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Groups)?;
            let list: Vec<GroupLine> = tx.groups(&permit)?.iter().map(GroupLine::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
