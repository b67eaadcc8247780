//! GET /groups/{id}/cover-links

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::CoverLinks},
    id::{CoverLinkId, GroupId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply},
    store::CoverLinkRow,
};

/// A link, without its secret.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000012", "on": "2026-11-26",
    "made_by": "0199f2c4-0000-7000-8000-000000000002", "made_by_name": "Amara Osei",
    "valid_from": "2026-11-26T00:00:00.000000Z", "valid_until": "2026-11-26T18:00:00.000000Z"
}))]
pub struct CoverLinkBody {
    /// Its id.
    pub id: CoverLinkId,
    /// The day of the page.
    pub on: Date,
    /// Who made it.
    pub made_by: StaffId,
    /// That adult's name.
    pub made_by_name: String,
    /// From when on it opens the page.
    pub valid_from: Instant,
    /// Until when.
    pub valid_until: Instant,
}

impl From<CoverLinkRow> for CoverLinkBody {
    fn from(row: CoverLinkRow) -> Self {
        Self {
            id: row.id,
            on: row.on,
            made_by: row.created_by,
            made_by_name: row.created_by_name,
            valid_from: row.valid_from,
            valid_until: row.valid_until,
        }
    }
}

/// List a group's links to its cover page
///
/// Those that open it now or on a day to come, the next first.
#[utoipa::path(
    tag = "cover", operation_id = "list_cover_links", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "The links", body = Page<CoverLinkBody>), ReadProblems)
)]
#[get("/groups/{id}/cover-links")]
pub async fn list_cover_links(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(CoverLinks(*id))?;
            let list = tx.cover_links(&permit)?.into_iter().map(CoverLinkBody::from).collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
