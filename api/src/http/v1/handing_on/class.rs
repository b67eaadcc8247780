//! GET /classes/{id}/handover

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::ClassChecks},
    calendar::{OwnCalendar, Whom},
    id::ClassId,
};

use super::{Handover, HandoverQuery, answer, load, make};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Hand a class on
///
/// Of today's pupils, whatever groups they are in. Otherwise as for a group.
#[utoipa::path(
    tag = "handing on", operation_id = "get_class_handover",
    params(("id" = ClassId, Path, description = "The class"), HandoverQuery),
    responses((status = 200, description = "The handover", content(
        (Handover = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Handover</title></html>")
    )), ReadProblems)
)]
#[get("/classes/{id}/handover")]
pub async fn get_class_handover(
    caller: Caller,
    id: web::Path<ClassId>,
    query: Query<HandoverQuery>,
) -> Result<Reply, Problem> {
    let (class, format) = (*id, query.format);
    let loaded = caller
        .read_logged("class.read_handover", move |tx| {
            let permit = tx.permit::<Read, _>(ClassChecks(class))?;
            let of = tx.class_handing_on(&permit)?;
            let calendar = OwnCalendar { calendar: tx.calendar()?, whom: Whom::default() };
            load(tx, &permit, of, calendar)
        })
        .await?;
    let rule = &loaded.rules.attainment.estimate;
    let fitted = caller.estimate_values(ClassChecks(class), rule, loaded.there).await?;
    caller.compute(move || answer(&make(loaded, &fitted), format)).await
}
