//! POST /sequences/{id}/versions/{version_id}/withdraw

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Publish, resource::Sequence},
    id::{SequenceId, VersionId},
    sequence::Turn,
    text::Title,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::VersionLine;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{GroupCourse, Permit, Tx},
};

/// Why a version is withdrawn.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"note": "Published by mistake"}))]
pub struct Withdrawal {
    /// For colleagues.
    pub note: Title,
}

/// Withdraw a published version
///
/// From today on nobody is taught from it: its groups go on with what would be in force without it. Where a
/// group would then have none, today or later, it is refused. Records made under it stay, name it and can be read with
/// it; one of a day on which it was still taught from can be entered later.
#[utoipa::path(
    tag = "sequences", operation_id = "withdraw_version", request_body = Withdrawal,
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("version_id" = VersionId, Path, description = "The version")),
    responses((status = 200, description = "As it is now", body = VersionLine), CreateProblems)
)]
#[post("/sequences/{id}/versions/{version_id}/withdraw")]
pub async fn withdraw_version(
    caller: Caller,
    path: web::Path<(SequenceId, VersionId)>,
    body: Body<Withdrawal>,
) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    let note = body.value.note;
    caller
        .write("sequence.withdraw", move |tx| {
            let permit = tx.permit::<Publish, _>(Sequence(id))?;
            let today = tx.today();
            let mut left = Vec::new();
            for (one, turns) in withdrawn(tx, &permit, version)? {
                if let Some(turn) = turns.iter().find(|turn| turn.after.is_none()) {
                    left.push(format!("{} from {} on", one.group.name, turn.days.from));
                }
            }
            if !left.is_empty() {
                let detail = format!("these groups would be without a version: {}", left.join(", "));
                return Err(Problem::saying(Code::Conflict, detail));
            }
            let head = tx.withdraw(&permit, version, Some((today, note.as_str())))?;
            Reply::ok(&VersionLine::from(head))
        })
        .await
}

/// The groups of a sequence with what withdrawing a version today would change for each.
///
/// # Errors
/// `conflict` for one that was withdrawn.
pub(super) fn withdrawn<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Publish, Sequence>,
    version: VersionId,
) -> Result<Vec<(GroupCourse, Vec<Turn>)>, Problem> {
    if let Some(day) = tx.version_of(permit, version)?.head.withdrawn_on {
        return Err(Problem::saying(Code::Conflict, format!("it was withdrawn on {day}")));
    }
    let today = tx.today();
    let turns = |one: GroupCourse| {
        let after = one.course.clone().withdrawing(version, Some(today));
        let turns = one.course.changes(&after, today, one.group.closed_on);
        (one, turns)
    };
    Ok(tx.sequence_courses(permit, today)?.into_iter().map(turns).collect())
}
