//! GET /groups/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    id::GroupId,
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{GroupBody, whole};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Which day.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct OnQuery {
    /// The day; today unless told.
    pub on: Option<Date>,
}

/// Get a group with its adults and members
#[utoipa::path(
    tag = "groups", operation_id = "get_group", params(("id" = GroupId, Path, description = "The group"), OnQuery),
    responses((status = 200, description = "The group; ETag", body = GroupBody), ReadProblems)
)]
#[get("/groups/{id}")]
pub async fn get_group(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<OnQuery>,
) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let row = tx.group(&permit)?;
            let on = query.on.unwrap_or(tx.today());
            Ok(Reply::ok(&whole(tx, &permit, &row, on)?)?.version(row.v))
        })
        .await
}
