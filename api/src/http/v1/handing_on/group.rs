//! GET /groups/{id}/handover

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    id::GroupId,
};

use super::{Handover, HandoverQuery, answer, load, make};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Hand a group on
///
/// Of each of today's members what is handed on of a pupil; on paper a page each, to go to whoever teaches that pupil
/// next. In July its adults print it; next year's read it themselves once they have the group. The reading is written
/// to the audit log before the answer is sent.
#[utoipa::path(
    tag = "handing on", operation_id = "get_group_handover",
    params(("id" = GroupId, Path, description = "The group"), HandoverQuery),
    responses((status = 200, description = "The handover", content(
        (Handover = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Handover</title></html>")
    )), ReadProblems)
)]
#[get("/groups/{id}/handover")]
pub async fn get_group_handover(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<HandoverQuery>,
) -> Result<Reply, Problem> {
    let (group, format) = (*id, query.format);
    let loaded = caller
        .read_logged("group.read_handover", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(group))?;
            let of = tx.group_handing_on(&permit)?;
            let own = tx.permit::<Read, _>(Group(group))?;
            let calendar = tx.group_calendar(&own)?;
            load(tx, &permit, of, calendar)
        })
        .await?;
    let rule = &loaded.rules.attainment.estimate;
    let fitted = caller.estimate_values(GroupChecks(group), rule, loaded.there).await?;
    caller.compute(move || answer(&make(loaded, &fitted), format)).await
}
