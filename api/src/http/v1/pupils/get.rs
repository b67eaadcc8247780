//! GET /pupils/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Pupil, PupilIdentity},
    },
    id::PupilId,
};

use super::PupilBody;
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::Error,
};

/// Get a pupil
///
/// A cover teacher is shown who it is and where, and no date of birth or reference. The reading is written to
/// the audit log before the answer is sent.
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
            let body = PupilBody::from(view);
            let body = match tx.permit::<Read, _>(PupilIdentity(*id)) {
                Ok(_) => body,
                Err(Error::Refused(_)) => body.by_name(),
                Err(error) => return Err(error.into()),
            };
            Ok(Reply::ok(&body)?.version(v))
        })
        .await
}
