//! GET /pupils/{id}/fields

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilFields},
    id::PupilId,
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{PupilFieldsBody, shown};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// As of when.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PupilFieldsQuery {
    /// The day whose values are shown; today unless told.
    pub on: Option<Date>,
}

/// Get the optional fields of a pupil
///
/// Those the school has switched on, with the days of each value and who entered what. The reading is written
/// to the audit log before the answer is sent.
#[utoipa::path(
    tag = "optional fields", operation_id = "get_pupil_fields",
    params(("id" = PupilId, Path, description = "The pupil"), PupilFieldsQuery),
    responses((status = 200, description = "The fields; ETag, which is the pupil's", body = PupilFieldsBody), ReadProblems)
)]
#[get("/pupils/{id}/fields")]
pub async fn get_pupil_fields(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<PupilFieldsQuery>,
) -> Result<Reply, Problem> {
    let on = query.on;
    caller
        .read_logged("pupil.fields", move |tx| {
            let permit = tx.permit::<Read, _>(PupilFields(*id))?;
            let view = tx.pupil_fields(&permit)?;
            shown(tx, *id, &view, on.unwrap_or(tx.today()))
        })
        .await
}
