//! GET /classes/{id}/confusions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::ClassChecks},
    id::ClassId,
};

use super::{ConfusionsBody, DaysQuery, worked_out};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Get which graphemes the pupils of a class read as what
///
/// Of today's pupils, with how many answers and pupils stand behind each. Counts only, no names. The reading is
/// written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "confusions", operation_id = "get_class_confusions",
    params(("id" = ClassId, Path, description = "The class"), DaysQuery),
    responses((status = 200, description = "Graphemes misread", body = ConfusionsBody), ReadProblems)
)]
#[get("/classes/{id}/confusions")]
pub async fn get_class_confusions(
    caller: Caller,
    id: web::Path<ClassId>,
    query: Query<DaysQuery>,
) -> Result<Reply, Problem> {
    let days = (query.since, query.until);
    let words = caller.words().await?;
    let found = caller
        .read_logged("class.confusions", move |tx| {
            let permit = tx.permit::<Read, _>(ClassChecks(*id))?;
            Ok(tx.class_heard(&permit, days)?)
        })
        .await?;
    worked_out(&caller, words, found).await
}
