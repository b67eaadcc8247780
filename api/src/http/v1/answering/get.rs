//! GET /pupils/{id}/answering

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilAnswering},
    id::PupilId,
};

use super::{AnsweringBody, shown};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get how a pupil answers checks
///
/// For whoever marks: which sounds the pupil usually says otherwise, so that nobody marks that as an error, how the
/// pupil usually answers, and which checks are not accessible. For the adults of the pupil's class and groups of
/// today and the lead. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "answering", operation_id = "get_pupil_answering", params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "How the pupil answers; ETag", body = AnsweringBody), ReadProblems)
)]
#[get("/pupils/{id}/answering")]
pub async fn get_pupil_answering(caller: Caller, id: web::Path<PupilId>) -> Result<Reply, Problem> {
    caller
        .read_logged("pupil.answering", move |tx| {
            let permit = tx.permit::<Read, _>(PupilAnswering(*id))?;
            let view = tx.answering(&permit)?;
            shown(tx, *id, view)
        })
        .await
}
