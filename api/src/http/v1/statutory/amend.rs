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
    enter::{known_staff, taken_by, to_check},
    same_entry,
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Gathered, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Amending, StatutoryPupil, StatutoryView},
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
/// By the lead or the head, with a reason. What was submitted stays on record with who changed it when. Everything that is
/// wrong with it is named at once.
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
            let StatutoryView { window: row, pupils } = tx.statutory_view(&of_window)?;
            if row.submitted_at.is_none() {
                let detail = "the results of this window are not submitted: enter the result anew instead";
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let rule = &tx.rules()?.statutory_check;
            let staff = known_staff(tx, &of_window, asked.taken_by.into_iter())?;
            let one = pupils.iter().find(|one| one.row.id == pupil);
            let current = one.and_then(|one| one.result.as_ref());
            let (calendar, mut wrong) = (tx.calendar()?, Gathered::default());
            let why = amendment_reason(rule, &asked.amended_for);
            wrong.of(why.map_err(|error| Problem::field("amended_for", error)))?;
            let typed = Typed { result: &asked.result, on: asked.on, reason: asked.reason.as_deref() };
            let (me, roles) = (tx.actor().staff, tx.actor().roles.iter().copied().collect::<Vec<_>>());
            let stay = one.map(StatutoryPupil::stay).unwrap_or_default();
            let decided = entry(rule, &row.days(), &calendar, stay, &roles, tx.today(), &typed);
            let decided = wrong.of(decided.map_err(Problem::from))?;
            if decided == Some(None) {
                wrong.add("result".into(), "is needed: a mark or a code");
            }
            let decided = decided.flatten();
            if current.is_none() {
                wrong.of(to_check(one.map(|one| one.reason)))?;
            }
            wrong.of(same_entry(current, asked.replaces, me))?;
            let mark = decided.as_ref().is_some_and(|entry| entry.result.mark().is_some());
            // Of what is no result nobody can say whether somebody gave it.
            let said = asked.taken_by.filter(|_| decided.is_some());
            let taken_by = wrong.of(taken_by(me, said, mark, current, &staff))?;
            wrong.none()?;
            // What is missing of the two was named.
            let Some((decided, taken_by)) = decided.zip(taken_by) else {
                return Err(Problem::new(Code::Invalid));
            };
            let amending =
                Amending { reason: asked.amended_for.clone(), note: asked.note.as_str().to_owned() };
            let row = tx.amend_statutory_result(&permit, &decided, taken_by, &amending)?;
            Reply::ok(&EnteredResult::from(&row))
        })
        .await
}
