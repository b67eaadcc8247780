//! PUT /classes/{id}/adults

use actix_web::{put, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::Class,
    },
    id::ClassId,
};

use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        page::Page,
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
        v1::{AdultView, AdultsBody, adults},
    },
    store::Error,
};

/// Replace the adults of a class
#[utoipa::path(
    tag = "classes", operation_id = "set_class_adults", request_body = AdultsBody,
    params(("id" = ClassId, Path, description = "The class"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = Page<AdultView>), EditProblems)
)]
#[put("/classes/{id}/adults")]
pub async fn set_class_adults(
    caller: Caller,
    id: web::Path<ClassId>,
    body: Body<AdultsBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let spans = body.value.spans()?;
    caller
        .write("class.set_adults", move |tx| {
            let permit = tx.permit::<Manage, _>(Class(*id))?;
            let reading = tx.permit::<Read, _>(Class(*id))?;
            same_version(tx.class_view(&reading)?.row.v, base)?;
            let list = tx.set_class_adults(&permit, &spans).map_err(|error| match error {
                Error::Missing => Problem::field("adults", "one of them is not of this school's staff"),
                other => other.into(),
            })?;
            Ok(Reply::ok(&Page::whole(adults(list)))?.version(tx.version()))
        })
        .await
}
