//! POST /statutory-windows/{id}/results/{pupil_id}/amendments

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{StatutoryResult, StatutoryWindow},
    },
    id::{PupilId, StaffId, StatutoryWindowId},
    statutory::{Typed, amendment_reason, entry},
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{
    EnteredResult,
    enter::{taken_by, to_check},
    same_entry,
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::Amending,
};

/// A change of a result that was submitted.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"result": "27", "on": "2026-06-09", "amended_for": "typed_wrongly",
    "note": "The mark sheet says 27.", "replaces": 812}))]
pub struct Amendment {
    /// As typed: a mark or a code.
    pub result: String,
    /// The day of the check.
    #[serde(default)]
    pub on: Option<Date>,
    /// Who gave the check, if somebody else than who gave the result that is replaced; where there is none, than who
    /// enters this.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// Why the pupil did not take it, where the code needs a reason.
    #[serde(default)]
    pub reason: Option<String>,
    /// Why the result is changed, by its code in the rule pack.
    pub amended_for: String,
    /// The same in one short line, without anything on the child's health or needs.
    #[schema(value_type = String)]
    pub note: Title,
    /// The version of the entry this one replaces; none where nothing was entered.
    #[serde(default)]
    pub replaces: Option<i64>,
}

/// Amend a result that was submitted
///
/// By the lead or the head, with a reason. What was submitted stays on record with who changed it when.
#[utoipa::path(
    tag = "statutory check", operation_id = "amend_statutory_result", request_body = Amendment,
    params(("id" = StatutoryWindowId, Path, description = "The window"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "Amended", body = EnteredResult), CreateProblems)
)]
#[post("/statutory-windows/{id}/results/{pupil_id}/amendments")]
pub async fn amend_statutory_result(
    caller: Caller,
    path: web::Path<(StatutoryWindowId, PupilId)>,
    body: Body<Amendment>,
) -> Result<Reply, Problem> {
    let ((window, pupil), asked) = (*path, body.value);
    caller
        .create("statutory_result.amend", body.hash, move |tx| {
            let of_window = tx.permit::<Read, _>(StatutoryWindow(window))?;
            let permit = tx.permit::<Manage, _>(StatutoryResult { window, pupil })?;
            let row = tx.statutory_window(&of_window)?;
            if row.submitted_at.is_none() {
                let detail = "the results of this window are not submitted: enter the result anew instead";
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let rule = &tx.rules()?.statutory_check;
            amendment_reason(rule, &asked.amended_for)
                .map_err(|error| Problem::field("amended_for", error))?;
            let typed = Typed { result: &asked.result, on: asked.on, reason: asked.reason.as_deref() };
            let roles: Vec<_> = tx.actor().roles.iter().copied().collect();
            let decided = entry(rule, &row.days(), &roles, tx.today(), &typed)?;
            let decided = decided.ok_or_else(|| Problem::field("result", "is needed: a mark or a code"))?;
            let current = tx.statutory_result(&permit)?;
            if current.is_none() {
                let pupils = tx.statutory_view(&of_window)?.pupils;
                to_check(pupils.iter().find(|one| one.row.id == pupil).map(|one| one.reason))?;
            }
            same_entry(current.as_ref(), asked.replaces, tx.actor().staff)?;
            let mark = decided.result.mark().is_some();
            let taken_by = taken_by(tx, &permit, asked.taken_by, mark, current.as_ref())?;
            let amending =
                Amending { reason: asked.amended_for.clone(), note: asked.note.as_str().to_owned() };
            let row = tx.amend_statutory_result(&permit, &decided, taken_by, &amending)?;
            Reply::ok(&EnteredResult::from(&row))
        })
        .await
}
