//! GET /checks/{id}/sheet

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Checks},
    id::CheckId,
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, sheets};

/// A check to print
///
/// What the pupil reads, large, without names and marks; made-up words have a frame. Of oral blending and spelling,
/// where the pupil reads nothing, what the adult says.
#[utoipa::path(
    tag = "checks", operation_id = "get_check_sheet", params(("id" = CheckId, Path, description = "The check")),
    responses((status = 200, description = "A4, black on white", content(
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Check sheet</title></html>")
    )), ReadProblems)
)]
#[get("/checks/{id}/sheet")]
pub async fn get_check_sheet(caller: Caller, id: web::Path<CheckId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            Ok(Reply::sheet(sheets::check::page(&tx.check(&permit, *id)?)))
        })
        .await
}
