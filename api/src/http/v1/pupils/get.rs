//! GET /pupils/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Pupil},
    id::PupilId,
};

use super::PupilBody;
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Get a pupil
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "get_pupil", params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "The pupil; ETag", body = PupilBody), ReadProblems)
)]
#[get("/pupils/{id}")]
pub async fn get_pupil(caller: Caller, id: web::Path<PupilId>) -> Result<Reply, Problem> {
    caller
        .read_logged("pupil.read", move |tx| {
            let permit = tx.permit::<Read, _>(Pupil(*id))?;
            let view = tx.pupil_view(&permit)?;
            let v = view.row.v;
            Ok(Reply::ok(&PupilBody::from(view))?.version(v))
        })
        .await
}
