//! GET /classes/{id}/attainment

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::ClassChecks},
    id::ClassId,
};

use super::{Attainment, attainment};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// What a class's pupils know of what they were taught, and their gaps
///
/// Of today's pupils, whatever groups they are in: each GPC is counted over those whom it concerns, because it was
/// taught to a group of theirs or to them, or missed, or asked. Otherwise as for a group.
#[utoipa::path(
    tag = "attainment", operation_id = "get_class_attainment", params(("id" = ClassId, Path, description = "The class")),
    responses((status = 200, description = "Attainment", body = Attainment), ReadProblems)
)]
#[get("/classes/{id}/attainment")]
pub async fn get_class_attainment(caller: Caller, id: web::Path<ClassId>) -> Result<Reply, Problem> {
    let (facts, rules, on) = caller
        .read_logged("class.read_attainment", move |tx| {
            let permit = tx.permit::<Read, _>(ClassChecks(*id))?;
            Ok((tx.class_attainment(&permit)?, tx.rules()?, tx.today()))
        })
        .await?;
    caller.compute(move || Reply::ok(&attainment(facts, rules, on))).await
}
