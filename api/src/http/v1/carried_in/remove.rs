//! DELETE /groups/{id}/carried-in

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    id::GroupId,
};

use crate::http::{
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Take back what a group was taught before its records here begin
///
/// It stays in the history. Refused while a record teaches again a lesson of it.
#[utoipa::path(
    tag = "carried in", operation_id = "remove_carried_in",
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read, which is the group's")),
    responses((status = 204, description = "Taken back"), ActProblems)
)]
#[delete("/groups/{id}/carried-in")]
pub async fn remove_carried_in(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("group.remove_carried_in", move |tx| {
            let permit = tx.permit::<Record, _>(GroupPast(*id))?;
            same_version(tx.group_of_past(&permit)?.v, base)?;
            let Some(old) = tx.group_past(&permit)? else {
                return Err(Problem::saying(Code::NotFound, "nothing was carried in for this group"));
            };
            let records = tx.records_since(&permit)?;
            let taken_back = old.carried.take_back(&records);
            taken_back.map_err(|error| Problem::saying(Code::Conflict, error.to_string()))?;
            tx.remove_past(&permit)?;
            Ok(Reply::nothing())
        })
        .await
}
