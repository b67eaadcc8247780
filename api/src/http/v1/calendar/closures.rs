//! GET /closures

use actix_web::get;
use plumbline_core::access::{act::Read, resource::Calendar};
use serde::Deserialize;
use utoipa::IntoParams;

use super::ClosureBody;
use crate::http::{
    caller::Caller, page::Page, problem::Problem, problems::ReadProblems, query::Query, reply::Reply,
};

/// Which closures.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ClosuresQuery {
    /// Those that were taken back, in place of those that stand.
    #[serde(default)]
    pub taken_back: bool,
}

/// List closures, staff training days and trips
#[utoipa::path(
    tag = "calendar", operation_id = "list_closures", params(ClosuresQuery),
    responses((status = 200, description = "By day", body = Page<ClosureBody>), ReadProblems)
)]
#[get("/closures")]
pub async fn list_closures(caller: Caller, query: Query<ClosuresQuery>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Calendar)?;
            let closures = tx.closures(&permit, query.taken_back)?;
            let closures = closures.into_iter().map(ClosureBody::try_from).collect::<Result<Vec<_>, _>>()?;
            Reply::ok(&Page::whole(closures))
        })
        .await
}
