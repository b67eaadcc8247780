//! GET /check-rounds/{id}/second-markings

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Round},
    id::RoundId,
};

use super::SecondMarkingBody;
use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// List what of a round is marked a second time
///
/// All of it to the lead, and to others the pupils they are to mark. No marks.
#[utoipa::path(
    tag = "second marking", operation_id = "list_second_markings", params(("id" = RoundId, Path, description = "The round")),
    responses((status = 200, description = "In the order asked for", body = Page<SecondMarkingBody>), ReadProblems)
)]
#[get("/check-rounds/{id}/second-markings")]
pub async fn list_second_markings(caller: Caller, id: web::Path<RoundId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Round(*id))?;
            let all = tx.second_markings(&permit)?.into_iter();
            let list: Vec<_> = all.map(|(row, sample)| SecondMarkingBody::new(row, sample)).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
