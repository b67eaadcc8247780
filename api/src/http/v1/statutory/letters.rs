//! GET /statutory-windows/{id}/letters

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Class, SchoolProfile, StatutoryFigures, StatutoryWindow},
    },
    id::{ClassId, PupilId, StatutoryWindowId},
    statutory::letter,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::heading;
use crate::http::{
    caller::Caller,
    problem::{Code, Problem},
    problems::{LockedProblems, ReadProblems},
    query::Query,
    reply::Reply,
    sheets::letters::{self, Letter},
};

/// Of whom.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct LettersQuery {
    /// Only of those in this class on the window's last day, or today where that comes first.
    pub class_id: Option<ClassId>,
    /// Only of this pupil.
    pub pupil_id: Option<PupilId>,
}

/// Letters to parents with the result of each pupil
///
/// To print: a sheet a pupil, for everybody with a result, for a class or for one. It says the mark or the code in
/// plain words, what it comes to once that is known, and what it is not. No other pupil, no reason for not taking the
/// check, and no unique pupil number stands in it. After the results are submitted; the reading is written to the
/// audit log before the answer is sent.
#[utoipa::path(
    tag = "statutory check", operation_id = "get_statutory_letters",
    params(("id" = StatutoryWindowId, Path, description = "The window"), LettersQuery),
    responses((status = 200, description = "The letters", content_type = "text/html", body = String,
        example = "<!doctype html><html lang=\"en\"><title>Letters</title></html>"), LockedProblems, ReadProblems)
)]
#[get("/statutory-windows/{id}/letters")]
pub async fn get_statutory_letters(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
    query: Query<LettersQuery>,
) -> Result<Reply, Problem> {
    let LettersQuery { class_id, pupil_id } = query.into_inner();
    let (school, title, letters) = caller
        .read_logged("statutory_window.read_letters", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            tx.permit::<Read, _>(StatutoryFigures)?;
            let (row, rules) = (tx.statutory_window(&permit)?, tx.rules()?);
            if row.submitted_at.is_none() {
                let detail =
                    "the results of this window are not submitted: letters are written from what is locked";
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let class = match class_id {
                Some(class) => {
                    tx.permit::<Read, _>(Class(class))
                        .map_err(|_| Problem::field("class_id", "is no class of this school"))?;
                    Some(tx.statutory_class(&permit, class)?)
                }
                None => None,
            };
            let threshold = tx.threshold_of(&permit)?;
            let mut letters = Vec::new();
            for pupil in tx.statutory_pupils(&permit)? {
                let asked = pupil_id.is_none_or(|id| id == pupil.row.id)
                    && class.as_ref().is_none_or(|class| class.contains(&pupil.row.id));
                let result = pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten();
                let Some(result) = result.filter(|_| asked) else { continue };
                let name = pupil.row.shown_name();
                let called = pupil.row.preferred_name.clone().unwrap_or(pupil.row.given_name);
                let called = Some(called).filter(|called| !called.is_empty()).unwrap_or_else(|| name.clone());
                let text = letter(&rules.statutory_check, &called, &result, threshold);
                letters.push(Letter { name, class: pupil.class, text });
            }
            let profile = tx.permit::<Read, _>(SchoolProfile)?;
            Ok((tx.school_profile(&profile)?.name, heading(&row, rules), letters))
        })
        .await?;
    Ok(Reply::sheet(letters::page(&school, &title, &letters)))
}
