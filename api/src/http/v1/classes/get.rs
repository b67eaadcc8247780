//! GET /classes/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Class},
    id::ClassId,
};

use super::ClassBody;
use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    reply::Reply,
    v1::{adults, pupils::lines},
};

/// Get a class with its adults and pupils
#[utoipa::path(
    tag = "classes", operation_id = "get_class", params(("id" = ClassId, Path, description = "The class")),
    responses((status = 200, description = "The class; ETag", body = ClassBody), ReadProblems)
)]
#[get("/classes/{id}")]
pub async fn get_class(caller: Caller, id: web::Path<ClassId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Class(*id))?;
            let view = tx.class_view(&permit)?;
            let class = view.row.name.clone();
            let pupils = lines(view.pupils.into_iter().map(|pupil| (pupil, Some(class.clone()))).collect());
            let body =
                ClassBody { id: view.row.id, name: view.row.name, adults: adults(view.adults), pupils };
            Ok(Reply::ok(&body)?.version(view.row.v))
        })
        .await
}
