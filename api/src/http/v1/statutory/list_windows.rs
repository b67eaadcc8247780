//! GET /statutory-windows

use actix_web::get;
use plumbline_core::access::{act::Read, resource::StatutoryChecks};
use serde::Serialize;
use utoipa::ToSchema;

use super::StatutoryWindowBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// The windows of the school, and the rules for them.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"name": "Phonics screening check", "items": [], "window_rule": "One week in June.",
    "eligible_rule": "By the year group taught.", "integrity": ["One adult and one pupil at a time."],
    "caution": "Follow that year’s official guidance first."}))]
pub struct StatutoryWindowList {
    /// What the check is called.
    pub name: String,
    /// The windows, latest first.
    pub items: Vec<StatutoryWindowBody>,
    /// How windows are set.
    pub window_rule: String,
    /// Who is checked.
    pub eligible_rule: String,
    /// What keeps the check fair.
    pub integrity: Vec<String>,
    /// To be shown with it.
    pub caution: Option<String>,
}

/// List the windows of the statutory check
///
/// The check is given only under that year's official guidance. Nothing here gives it, marks it or holds its words.
#[utoipa::path(
    tag = "statutory check", operation_id = "list_statutory_windows",
    responses((status = 200, description = "The windows", body = StatutoryWindowList), ReadProblems)
)]
#[get("/statutory-windows")]
pub async fn list_statutory_windows(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(StatutoryChecks)?;
            let rules = tx.rules()?;
            let rule = &rules.statutory_check;
            let rows = tx.statutory_windows(&permit)?;
            let items = rows.iter().map(|row| StatutoryWindowBody::new(row, rules));
            let caution = rules.cautions.iter().find(|one| one.code == "statutory_guidance_first");
            Reply::ok(&StatutoryWindowList {
                name: rule.name.clone(),
                items: items.collect::<Result<_, _>>()?,
                window_rule: rule.window_rule.clone(),
                eligible_rule: rule.eligible_rule.clone(),
                integrity: rule.integrity.clone(),
                caution: caution.map(|one| one.text.clone()),
            })
        })
        .await
}
