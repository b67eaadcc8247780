//! DELETE /groups/{id}/cover-links/{link_id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::CoverLinks},
    id::{CoverLinkId, GroupId},
};

use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Take a link to a cover page back
///
/// It opens nothing from this moment on.
#[utoipa::path(
    tag = "cover", operation_id = "revoke_cover_link",
    params(("id" = GroupId, Path, description = "The group"), ("link_id" = CoverLinkId, Path, description = "The link")),
    responses((status = 204, description = "Taken back"), ActProblems)
)]
#[delete("/groups/{id}/cover-links/{link_id}")]
pub async fn revoke_cover_link(
    caller: Caller,
    path: web::Path<(GroupId, CoverLinkId)>,
) -> Result<Reply, Problem> {
    let (group, link) = path.into_inner();
    caller
        .write("cover_link.revoke", move |tx| {
            let permit = tx.permit::<Manage, _>(CoverLinks(group))?;
            tx.revoke_cover_link(&permit, link)?;
            Ok(Reply::nothing())
        })
        .await
}
