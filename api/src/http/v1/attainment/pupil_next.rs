//! GET /pupils/{id}/next-items

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    attainment::back_on,
    calendar::{OwnCalendar, Whom},
    id::PupilId,
};

use super::{NextItems, NextQuery, chosen};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// What to ask a pupil next
///
/// As many GPCs as fit into the minutes there are: first those to revisit, then those taught before the latest
/// holiday of the school and not asked since, then those that an answer tells most about. What was not taught to the
/// pupil is not asked unless told, and what was asked today not again. The reading is written to the audit log
/// before the answer is sent.
#[utoipa::path(
    tag = "attainment", operation_id = "get_pupil_next_items",
    params(("id" = PupilId, Path, description = "The pupil"), NextQuery),
    responses((status = 200, description = "What to ask", body = NextItems), ReadProblems)
)]
#[get("/pupils/{id}/next-items")]
pub async fn get_pupil_next_items(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<NextQuery>,
) -> Result<Reply, Problem> {
    let (pupil, query) = (*id, query.check()?);
    let (facts, rule, on, there, calendar) = caller
        .read_logged("pupil.read_next_items", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            let facts = tx.pupil_attainment(&permit)?;
            let calendar = OwnCalendar { calendar: tx.calendar()?, whom: Whom::default() };
            Ok((facts, &tx.rules()?.attainment, tx.today(), tx.answers_there(&permit)?, calendar))
        })
        .await?;
    let fitted = caller.estimate_values(PupilLearning(pupil), &rule.estimate, there).await?;
    caller
        .compute(move || {
            let back_on = back_on(&calendar, on, rule.asking.holiday_days);
            Reply::ok(&chosen(&facts, rule, &fitted, query, (on, back_on)))
        })
        .await
}
