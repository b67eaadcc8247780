//! GET /checks/{id}/forms

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Checks, SchoolReport},
    },
    check::build::form_use,
    id::CheckId,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{CheckRow, Tx},
};

/// How a form went.
#[derive(Serialize, ToSchema)]
pub struct FormBody {
    /// The check.
    pub check_id: CheckId,
    /// Its name.
    pub name: String,
    /// Which form it was built as; null where it was written by hand.
    pub form: Option<u8>,
    /// Which version of its series it is.
    pub version: i32,
    /// Whether an adult changed what was built: then its measures are no longer those of the proposal.
    pub edited: bool,
    /// Pupils asked.
    pub pupils: usize,
    /// Answers that count; what was not offered, or chosen among several, is left out.
    pub answers: usize,
    /// Right ones.
    pub right: usize,
    /// Right ones in per cent; null until enough answers stand.
    pub right_percent: Option<u32>,
}

/// Forms built together, with how they went.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"forms": [{"check_id": "0199f2c4-0000-7000-8000-00000000000e", "name": "Words, form 1", "form": 1,
    "version": 1, "edited": false, "pupils": 12, "answers": 118, "right": 97, "right_percent": 82}],
    "answers_enough": 60, "caution": "Different pupils answered each form."}))]
pub struct FormsBody {
    /// The forms, each as it was added.
    pub forms: Vec<FormBody>,
    /// Answers a form needs before its share is told.
    pub answers_enough: u32,
    /// To be shown with them.
    pub caution: String,
}

/// See how the forms of a check went
///
/// The forms that were built with it and added. Counts always, a share of right answers once enough stand, and no
/// verdict: the pupils of one form are not those of the other. The reading is written to the audit log before the
/// answer is sent.
#[utoipa::path(
    tag = "checks", operation_id = "compare_check_forms", params(("id" = CheckId, Path, description = "The check")),
    responses((status = 200, description = "The forms", body = FormsBody), ReadProblems)
)]
#[get("/checks/{id}/forms")]
pub async fn compare_check_forms(caller: Caller, id: web::Path<CheckId>) -> Result<Reply, Problem> {
    caller.read_logged("check.compare_forms", move |tx| Reply::ok(&forms(tx, *id)?)).await
}

fn forms(tx: &mut Tx<'_>, id: CheckId) -> Result<FormsBody, Problem> {
    let report = tx.permit::<Read, _>(SchoolReport)?;
    let permit = tx.permit::<Read, _>(Checks)?;
    let row = tx.check(&permit, id)?;
    let family = |row: &CheckRow| row.built.as_ref().map(|built| built.recipe.family());
    let own = family(&row);
    let mut rows = match own {
        Some(_) => tx.checks(&permit)?.into_iter().filter(|other| family(other) == own).collect(),
        None => vec![row],
    };
    let form_of = |row: &CheckRow| row.built.as_ref().map(|built| built.recipe.form);
    rows.sort_by_key(|row| (form_of(row), row.version, row.id));
    let ids: Vec<CheckId> = rows.iter().map(|row| row.id).collect();
    let rule = &tx.rules()?.checks;
    let used = form_use(&tx.responses_to(&report, &ids)?, &ids, rule);
    let body = |row: CheckRow| {
        let used = used.get(&row.id).copied().unwrap_or_default();
        FormBody {
            check_id: row.id,
            form: form_of(&row),
            version: row.version,
            edited: row.built.as_ref().is_some_and(|built| built.edited),
            name: row.name,
            pupils: used.pupils,
            answers: used.answers,
            right: used.right,
            right_percent: used.right_percent,
        }
    };
    Ok(FormsBody {
        forms: rows.into_iter().map(body).collect(),
        answers_enough: rule.answers_enough,
        caution: format!("Different pupils may have answered each form. {}", rule.caution),
    })
}
