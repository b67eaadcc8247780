//! GET /pupils/{id}/handover

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    calendar::{OwnCalendar, Whom},
    id::PupilId,
};

use super::{Handover, HandoverQuery, answer, load, make};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Hand a pupil on
///
/// For the adults who teach the pupil next: what was taught, what is secure, the gaps by the rule with the estimate
/// beside it, how old the last check is, how the pupil answers, what is missed and open, and the one line on what
/// helped. The ETag is that line's, to write it anew. The reading is written to the audit log before the answer is
/// sent.
#[utoipa::path(
    tag = "handing on", operation_id = "get_pupil_handover",
    params(("id" = PupilId, Path, description = "The pupil"), HandoverQuery),
    responses((status = 200, description = "The handover; ETag of the line on what helped", content(
        (Handover = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Handover</title></html>")
    )), ReadProblems)
)]
#[get("/pupils/{id}/handover")]
pub async fn get_pupil_handover(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<HandoverQuery>,
) -> Result<Reply, Problem> {
    let (pupil, format) = (*id, query.format);
    let loaded = caller
        .read_logged("pupil.read_handover", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            let of = tx.pupil_handing_on(&permit)?;
            let calendar = OwnCalendar { calendar: tx.calendar()?, whom: Whom::default() };
            load(tx, &permit, of, calendar)
        })
        .await?;
    let rule = &loaded.rules.attainment.estimate;
    let fitted = caller.estimate_values(PupilLearning(pupil), rule, loaded.there).await?;
    let v = loaded.of.what_helped.get(&pupil).map_or(0, |line| line.v);
    caller.compute(move || Ok(answer(&make(loaded, &fitted), format)?.version(v))).await
}
