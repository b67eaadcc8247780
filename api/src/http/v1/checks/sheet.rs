//! GET /checks/{id}/sheet

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Checks},
    check::{CheckItem, expected::Expecting},
    id::CheckId,
};

use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    reply::Reply,
    sheets::check::{APART, page},
};

/// A check to print
///
/// What the pupil reads, large and numbered as on the log sheet, without names of pupils and without marks; made-up
/// words have a frame, and the foot of each page says which check it is. Of oral blending and spelling, where the pupil
/// reads nothing, what the adult says.
#[utoipa::path(
    tag = "checks", operation_id = "get_check_sheet", params(("id" = CheckId, Path, description = "The check")),
    responses((status = 200, description = "A4, black on white", content(
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Check sheet</title></html>")
    )), ReadProblems)
)]
#[get("/checks/{id}/sheet")]
pub async fn get_check_sheet(caller: Caller, id: web::Path<CheckId>) -> Result<Reply, Problem> {
    let words = caller.words().await?;
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let expecting = Expecting::new(&words.engine, words.policy.accent);
            let spelt = |item: &CheckItem| {
                let reading = expecting.of(item).readings.into_iter().next()?;
                let graphemes: Vec<String> = reading.into_iter().map(|asked| asked.grapheme).collect();
                Some(graphemes.join(APART))
            };
            Ok(Reply::sheet(page(&tx.check(&permit, *id)?, spelt)))
        })
        .await
}
