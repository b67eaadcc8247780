//! GET /pseudo-word-sets

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::SchoolWords},
    id::{PseudoWordSetId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::PseudoWordSetHead,
};

/// A set in the list.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000017", "name": "Spring 1", "count": 20,
    "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_at": "2026-11-25T10:00:00.000000Z",
    "approved_by": null, "approved_at": null
}))]
pub struct SetHead {
    /// Its id.
    pub id: PseudoWordSetId,
    /// Its name.
    pub name: String,
    /// How many words it holds.
    #[schema(minimum = 0)]
    pub count: i32,
    /// Who put it together.
    pub made_by: StaffId,
    /// When.
    pub made_at: Instant,
    /// Who approved it; nobody yet where null.
    pub approved_by: Option<StaffId>,
    /// When.
    pub approved_at: Option<Instant>,
}

/// List the school's pseudo-word sets
#[utoipa::path(
    tag = "words", operation_id = "list_pseudo_word_sets",
    responses((status = 200, description = "Latest first", body = Page<SetHead>), ReadProblems)
)]
#[get("/pseudo-word-sets")]
pub async fn list_pseudo_word_sets(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(SchoolWords)?;
            let head = |row: PseudoWordSetHead| SetHead {
                id: row.id,
                name: row.name,
                count: row.count,
                made_by: row.made_by,
                made_at: row.made_at,
                approved_by: row.approved_by,
                approved_at: row.approved_at,
            };
            let heads = tx.pseudo_word_sets(&permit)?.into_iter().map(head);
            Reply::ok(&Page::whole(heads.collect()))
        })
        .await
}
