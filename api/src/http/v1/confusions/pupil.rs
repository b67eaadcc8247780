//! GET /pupils/{id}/confusions

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    id::PupilId,
};

use super::{ConfusionsBody, DaysQuery, worked_out};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Get which graphemes a pupil read as what
///
/// From the sounds recorded as heard with wrong answers. A reading to accept is no confusion, nor is the pupil's usual
/// accent or speech. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "confusions", operation_id = "get_pupil_confusions",
    params(("id" = PupilId, Path, description = "The pupil"), DaysQuery),
    responses((status = 200, description = "Graphemes misread", body = ConfusionsBody), ReadProblems)
)]
#[get("/pupils/{id}/confusions")]
pub async fn get_pupil_confusions(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<DaysQuery>,
) -> Result<Reply, Problem> {
    let days = (query.since, query.until);
    let words = caller.words().await?;
    let found = caller
        .read_logged("pupil.confusions", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(*id))?;
            Ok(tx.pupil_heard(&permit, days)?)
        })
        .await?;
    worked_out(&caller, words, found).await
}
