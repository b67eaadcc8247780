//! GET /groups/{id}/confusions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupChecks},
    id::GroupId,
};

use super::{ConfusionsBody, DaysQuery, worked_out};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Get which graphemes the members of a group read as what
///
/// Of today's members, with how many answers and pupils stand behind each. Counts only, no names. The reading is
/// written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "confusions", operation_id = "get_group_confusions",
    params(("id" = GroupId, Path, description = "The group"), DaysQuery),
    responses((status = 200, description = "Graphemes misread", body = ConfusionsBody), ReadProblems)
)]
#[get("/groups/{id}/confusions")]
pub async fn get_group_confusions(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<DaysQuery>,
) -> Result<Reply, Problem> {
    let days = (query.since, query.until);
    let words = caller.words().await?;
    let found = caller
        .read_logged("group.confusions", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(*id))?;
            Ok(tx.group_heard(&permit, days)?)
        })
        .await?;
    worked_out(&caller, words, found).await
}
