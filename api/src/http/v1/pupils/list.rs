//! GET /pupils

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Roster},
    id::PupilId,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{PupilLine, lines};
use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut, one_more, unknown_cursor},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::Error,
};

/// Which pupils.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PupilsQuery {
    /// A part of the name, whatever accents, case, apostrophes and spaces; or the whole reference.
    pub find: Option<String>,
    /// Leavers too.
    #[serde(default)]
    pub leavers: bool,
    /// Where to go on: `next` of the page before.
    pub cursor: Option<String>,
    /// How many, 1 to 500; 100 unless told.
    pub limit: Option<u16>,
}

/// List or find pupils of the school
#[utoipa::path(
    tag = "pupils", operation_id = "list_pupils", params(PupilsQuery),
    responses((status = 200, description = "A page of pupils by name", body = Page<PupilLine>), ReadProblems)
)]
#[get("/pupils")]
pub async fn list_pupils(caller: Caller, query: Query<PupilsQuery>) -> Result<Reply, Problem> {
    let PupilsQuery { find, leavers, cursor: from, limit } = query.into_inner();
    if find.as_deref().is_some_and(|find| find.chars().any(char::is_control)) {
        return Err(Problem::field("find", "must not contain control characters"));
    }
    let page = PageQuery { cursor: from, limit };
    // The cursor holds an id and no name: addresses end up in histories and logs.
    let (limit, after) = (page.limit()?, page.after::<PupilId>()?);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Roster)?;
            let rows = tx.pupils(&permit, find.as_deref(), leavers, after, one_more(limit));
            let mut rows = rows.map_err(|error| match error {
                Error::Missing => unknown_cursor(),
                other => other.into(),
            })?;
            let next = cut(&mut rows, limit, |(row, _)| row.id);
            let items: Vec<PupilLine> = lines(rows);
            Reply::ok(&Page { items, next })
        })
        .await
}
