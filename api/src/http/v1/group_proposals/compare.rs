//! GET /group-proposals/{id}/compare

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupProposals},
    grouping::{Seen, elsewhere},
    id::{GroupId, GroupProposalId, PupilId},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{GroupProposalLine, shown_pupils};
use crate::{
    http::{
        caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply,
        v1::pupils::PupilLine,
    },
    store::{Error, GroupProposal},
};

/// With what.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CompareQuery {
    /// The other proposal.
    pub with: GroupProposalId,
}

/// Where a proposal places a pupil.
#[derive(Serialize, ToSchema)]
pub struct ComparedPlace {
    /// The group there is; null for one to be made.
    pub group_id: Option<GroupId>,
    /// Its name.
    pub name: String,
    /// How many items are to be caught up.
    pub to_catch_up: usize,
    /// How many items that were taught, secure or not asked since, are met again in the next lessons.
    pub met_again: usize,
}

/// A pupil who is elsewhere.
#[derive(Serialize, ToSchema)]
pub struct ComparedPupil {
    /// The pupil.
    #[serde(flatten)]
    pub pupil: PupilLine,
    /// In this proposal; null where it does not place the pupil.
    pub here: Option<ComparedPlace>,
    /// In the other.
    pub there: Option<ComparedPlace>,
}

/// Two proposals side by side.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "here": {"id": "0199f2c4-0000-7000-8000-000000000021", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
        "version_id": "0199f2c4-0000-7000-8000-00000000000d", "as_of": "2026-11-25",
        "figures": {"pupils": 24, "groups": 2, "moves": 3, "cost": 96, "bound": 95, "gap_per_mille": 11, "by_place": 121, "as_now": 130},
        "created_by": "0199f2c4-0000-7000-8000-000000000002", "created_at": "2026-11-25T10:00:00.000000Z",
        "kept_until": "2026-12-23T10:00:00.000000Z", "accepted": null},
    "there": {"id": "0199f2c4-0000-7000-8000-000000000022", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
        "version_id": "0199f2c4-0000-7000-8000-00000000000d", "as_of": "2026-11-25",
        "figures": {"pupils": 24, "groups": 2, "moves": 2, "cost": 99, "bound": 97, "gap_per_mille": 21, "by_place": 121, "as_now": 130},
        "created_by": "0199f2c4-0000-7000-8000-000000000002", "created_at": "2026-11-25T10:05:00.000000Z",
        "kept_until": "2026-12-23T10:05:00.000000Z", "accepted": null},
    "elsewhere": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
        "here": {"group_id": null, "name": "Birch", "to_catch_up": 1, "met_again": 0},
        "there": {"group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "to_catch_up": 2, "met_again": 0}}]
}))]
pub struct GroupComparison {
    /// This proposal in figures.
    pub here: GroupProposalLine,
    /// The other.
    pub there: GroupProposalLine,
    /// Pupils whom the two place in different groups, or only one of them places, in the order of names.
    pub elsewhere: Vec<ComparedPupil>,
}

/// Compare two proposals of groups
///
/// Who is elsewhere, with what each place means for the pupil, and what each proposal costs. Both must be of
/// one version of a sequence, so that their items are the same. The reading is written to the audit log before
/// the answer is sent.
#[utoipa::path(
    tag = "group proposals", operation_id = "compare_group_proposals",
    params(("id" = GroupProposalId, Path, description = "The proposal"), CompareQuery),
    responses((status = 200, description = "Side by side", body = GroupComparison), ReadProblems)
)]
#[get("/group-proposals/{id}/compare")]
pub async fn compare_group_proposals(
    caller: Caller,
    id: web::Path<GroupProposalId>,
    query: Query<CompareQuery>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("group_proposal.compare", move |tx| {
            let permit = tx.permit::<Read, _>(GroupProposals)?;
            let here = tx.group_proposal(&permit, *id)?;
            let there = tx.group_proposal(&permit, query.with).map_err(|error| match error {
                Error::Missing => Problem::field("with", "is no proposal of this school"),
                other => other.into(),
            })?;
            if here.head.version != there.head.version {
                return Err(Problem::field("with", "is of another version of a sequence"));
            }
            let found =
                elsewhere((&here.asked.groups, &here.proposal), (&there.asked.groups, &there.proposal));
            let ids: Vec<PupilId> = found.iter().map(|one| one.pupil).collect();
            let pupils = shown_pupils(tx, &ids)?.into_iter().filter_map(|pupil| {
                let one = &found[found.binary_search_by_key(&pupil.id, |one| one.pupil).ok()?];
                Some(ComparedPupil { pupil, here: place(&here, one.here), there: place(&there, one.there) })
            });
            let elsewhere = pupils.collect();
            Reply::ok(&GroupComparison { here: here.head.into(), there: there.head.into(), elsewhere })
        })
        .await
}

fn place(made: &GroupProposal, seen: Option<Seen>) -> Option<ComparedPlace> {
    let Seen { group, not_learned, met_again } = seen?;
    let slot = made.asked.groups.get(group)?;
    Some(ComparedPlace {
        group_id: slot.group_id,
        name: slot.name.to_string(),
        to_catch_up: not_learned,
        met_again,
    })
}
