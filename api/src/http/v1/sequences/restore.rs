//! DELETE /sequences/{id}/versions/{version_id}/withdraw

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Publish, resource::Sequence},
    id::{SequenceId, VersionId},
};

use super::told_of;
use crate::http::{
    caller::Caller,
    problem::{Code, Problem},
    problems::ActProblems,
    reply::Reply,
};

/// Take the withdrawal of a version back
///
/// It is as if it had never been withdrawn; refused once a group has records, made since the withdrawal, of another
/// version of days on which this one would then have been in force, and where it would put a version out of force that was published
/// after it and takes effect earlier.
#[utoipa::path(
    tag = "sequences", operation_id = "restore_version",
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("version_id" = VersionId, Path, description = "The version")),
    responses((status = 204, description = "It is taught from again"), ActProblems)
)]
#[delete("/sequences/{id}/versions/{version_id}/withdraw")]
pub async fn restore_version(
    caller: Caller,
    path: web::Path<(SequenceId, VersionId)>,
) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    caller
        .write("sequence.restore_version", move |tx| {
            let permit = tx.permit::<Publish, _>(Sequence(id))?;
            let head = tx.version_of(&permit, version)?.head;
            let Some(since) = head.withdrawn_on else {
                return Err(Problem::saying(Code::Conflict, "it was not withdrawn"));
            };
            // Published earlier, a later one in force from an earlier day was refused: see `not_before_another`.
            let later = tx.versions(&permit)?.into_iter().find(|one| {
                one.number > head.number && one.withdrawn_on.is_none() && one.effective_on < head.effective_on
            });
            if let Some(later) = later {
                let detail = format!(
                    "it would put version {} out of force, which was published after it and takes effect on {}",
                    later.number, later.effective_on
                );
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let mut way = Vec::new();
            for one in tx.courses_since_withdrawn(&permit, version, since)? {
                let after = one.course.clone().withdrawing(version, None);
                let found = one.course.in_the_way(&after, &one.records);
                way.extend(found.map(|found| told_of(&one.group.name, found)));
            }
            if !way.is_empty() {
                return Err(Problem::saying(Code::Conflict, way.join("; ")));
            }
            tx.withdraw(&permit, version, None)?;
            Ok(Reply::nothing())
        })
        .await
}
