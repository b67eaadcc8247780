//! GET /sequences/{id}/versions/{version_id}/withdraw

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Publish, resource::Sequence},
    id::{GroupId, SequenceId, VersionId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{impact::NumberedVersion, withdraw::withdrawn};
use crate::http::{caller::Caller, problem::Problem, problems::ActProblems, reply::Reply};

/// Days on which a group would be taught from another version.
#[derive(Serialize, ToSchema)]
pub struct WithdrawalChange {
    /// The first of them.
    pub from: Date,
    /// The last; none where no end is known.
    pub until: Option<Date>,
    /// The version as it is.
    pub version: NumberedVersion,
    /// The one it would be taught from; none where there would be none.
    pub instead: Option<NumberedVersion>,
    /// Whether it was told to keep the version withdrawn.
    pub keeps: bool,
}

/// A group that would change over.
#[derive(Serialize, ToSchema)]
pub struct WithdrawalGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// Its days, earliest first.
    pub changes: Vec<WithdrawalChange>,
}

/// What withdrawing a version would change.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "on": "2026-11-25", "possible": true,
    "groups": [{"group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "changes": [
        {"from": "2026-11-25", "until": null, "version": {"id": "0199f2c4-0000-7000-8000-00000000000e", "number": 2},
         "instead": {"id": "0199f2c4-0000-7000-8000-00000000000d", "number": 1}, "keeps": false}]}]
}))]
pub struct WithdrawalPreview {
    /// The first day it would not be taught from.
    pub on: Date,
    /// Whether it can be withdrawn: not where a group would be without a version.
    pub possible: bool,
    /// The groups that would change over, by name.
    pub groups: Vec<WithdrawalGroup>,
}

/// Look at what withdrawing a version would change
///
/// Nothing is written. Group by group: from which days on another version would be taught from, today or
/// later. Groups that are not here go on as they are.
#[utoipa::path(
    tag = "sequences", operation_id = "preview_withdrawal",
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("version_id" = VersionId, Path, description = "The version")),
    responses((status = 200, description = "What would change", body = WithdrawalPreview), ActProblems)
)]
#[get("/sequences/{id}/versions/{version_id}/withdraw")]
pub async fn preview_withdrawal(
    caller: Caller,
    path: web::Path<(SequenceId, VersionId)>,
) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    caller
        .read(move |tx| {
            let permit = tx.permit::<Publish, _>(Sequence(id))?;
            let mut groups = Vec::new();
            for (one, turns) in withdrawn(tx, &permit, version)? {
                let numbered = |id: VersionId| {
                    let found = one.course.published.iter().find(|known| known.id == id)?;
                    Some(NumberedVersion { id, number: found.number })
                };
                let change = |turn: plumbline_core::sequence::Turn| {
                    Some(WithdrawalChange {
                        from: turn.days.from,
                        until: turn.days.until,
                        version: numbered(turn.before?)?,
                        instead: turn.after.and_then(numbered),
                        keeps: one.course.keeps(turn.days.from) == turn.before,
                    })
                };
                let changes: Vec<_> = turns.into_iter().filter_map(change).collect();
                if !changes.is_empty() {
                    let (group_id, name) = (one.group.id, one.group.name.clone());
                    groups.push(WithdrawalGroup { group_id, name, changes });
                }
            }
            let possible =
                groups.iter().flat_map(|group| &group.changes).all(|change| change.instead.is_some());
            Reply::ok(&WithdrawalPreview { on: tx.today(), possible, groups })
        })
        .await
}
