//! GET /groups/{id}/attainment

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupChecks},
    id::GroupId,
};

use super::{Attainment, attainment};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// What a group's pupils know of what they were taught, and their gaps
///
/// Of today's members, each GPC the group was taught so far, and what else one of them was taught or asked. A
/// pupil nobody asked is counted apart, never as not yet secure. Only who may read each pupil's checks reads this.
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "attainment", operation_id = "get_group_attainment", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "Attainment", body = Attainment), ReadProblems)
)]
#[get("/groups/{id}/attainment")]
pub async fn get_group_attainment(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    let (facts, rules, on) = caller
        .read_logged("group.read_attainment", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(*id))?;
            Ok((tx.group_attainment(&permit)?, tx.rules()?, tx.today()))
        })
        .await?;
    caller.compute(move || Reply::ok(&attainment(facts, rules, on))).await
}
