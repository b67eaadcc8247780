//! PUT /rollovers/{year}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Rollovers},
    roster::rollover::Choices,
};

use super::{RolloverBody, first_day, shown};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        reply::Reply,
    },
    store::{Error, RolloverStatus},
};

/// Plan the change to a school year, and see what it would change
///
/// Nothing of it is written: this is the rehearsal. All choices at once, in place of those before; whoever
/// is not named goes where the class goes, and what is not said stays as it is. A pupil's year group is the
/// one after this year's, so who is taught outside the year of birth stays so unless told. Where a class's
/// pupils go must be said before it can be applied. A new plan needs no If-Match; a known one does.
#[utoipa::path(
    tag = "rollovers", operation_id = "save_rollover", request_body = Choices,
    params(("year" = i32, Path, description = "The school year, by the calendar year it starts in"),
           ("If-Match" = Option<String>, Header, description = "The etag read, for a known plan")),
    responses((status = 200, description = "What it would change; ETag", body = RolloverBody), EditProblems)
)]
#[put("/rollovers/{year}")]
pub async fn save_rollover(
    caller: Caller,
    year: web::Path<i32>,
    choices: Body<Choices>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("rollover.save", move |tx| {
            let permit = tx.permit::<Manage, _>(Rollovers)?;
            match tx.rollover_row(&permit, *year) {
                Ok(row) if row.status == RolloverStatus::Applied => {
                    return Err(Problem::saying(Code::Conflict, "it is applied; take it back first"));
                }
                Ok(row) => _ = same_version(row.v, base)?,
                Err(Error::Missing) => {}
                Err(error) => return Err(error.into()),
            }
            let first = first_day(tx, *year)?;
            let plan = tx.rollover_plan(&permit, (*year, first), &choices.value)??;
            let row = tx.save_rollover(&permit, *year, choices.value.clone(), plan)?;
            shown(tx, &permit, row, false)
        })
        .await
}
