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
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::{LockedProblems, ReadProblems},
        query::Query,
        reply::Reply,
        sheets::letters::{self, Letter},
    },
    store::StatutoryView,
};

/// Of whom.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct LettersQuery {
    /// Only of those in this class on the window's last day, or today where that comes first or no class is on record of
    /// then.
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
    let sheet = caller
        .read_logged("statutory_window.read_letters", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            tx.permit::<Read, _>(StatutoryFigures)?;
            let (StatutoryView { window, pupils }, rules) = (tx.statutory_view(&permit)?, tx.rules()?);
            if window.submitted_at.is_none() {
                let detail =
                    "the results of this window are not submitted: letters are written from what is locked";
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let class = match class_id {
                Some(class) => {
                    tx.permit_if_allowed::<Read, _>(Class(class))?
                        .ok_or_else(|| Problem::field("class_id", "is no class of this school"))?;
                    Some(tx.statutory_class(&permit, &window, class)?)
                }
                None => None,
            };
            let threshold = tx.threshold_of(&permit, &window)?;
            let (today, mut letters) = (tx.today(), Vec::new());
            for pupil in pupils {
                let asked = pupil_id.is_none_or(|id| id == pupil.row.id)
                    && class.as_ref().is_none_or(|class| class.contains(&pupil.row.id));
                let result = pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten();
                let Some(result) = result.filter(|_| asked) else { continue };
                let name = pupil.row.shown_name();
                let called = pupil.row.preferred_name.clone().unwrap_or(pupil.row.given_name);
                let called = Some(called).filter(|called| !called.is_empty()).unwrap_or_else(|| name.clone());
                let rule = &rules.statutory_check;
                let code = pupil.year_group.as_deref();
                let again = code.is_some_and(|code| rule.again_after(code, &rules.year_groups));
                let left = pupil.row.left_on.is_some_and(|last| last < today);
                let text = letter(rule, &called, &result, threshold, again, left);
                letters.push(Letter { name, class: pupil.class, text });
            }
            let profile = tx.permit::<Read, _>(SchoolProfile)?;
            let school = tx.school_profile(&profile)?.name;
            Ok(letters::page(&school, &heading(&window, rules), today, &letters))
        })
        .await?;
    Ok(Reply::sheet(sheet))
}
