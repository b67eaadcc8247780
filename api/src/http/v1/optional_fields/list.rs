//! GET /optional-fields

use std::collections::BTreeMap;

use actix_web::get;
use plumbline_core::access::{act::Read, resource::OptionalFields};

use super::OptionalFieldBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List the optional fields of pupils, and which of them the school records
///
/// Which fields there are, and what each can say, the rule pack says. None is on from the start.
#[utoipa::path(
    tag = "optional fields", operation_id = "list_optional_fields",
    responses((status = 200, description = "In the rule pack's order", body = Page<OptionalFieldBody>), ReadProblems)
)]
#[get("/optional-fields")]
pub async fn list_optional_fields(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(OptionalFields)?;
            let on = tx.optional_fields(&permit)?.into_iter();
            let mut on: BTreeMap<String, _> = on.map(|row| (row.field.clone(), row)).collect();
            let fields = tx.rules()?.optional_fields.fields.iter();
            let body = |field| OptionalFieldBody::new(field, on.remove(&field.field), tx.today());
            Reply::ok(&Page::whole(fields.map(body).collect()))
        })
        .await
}
