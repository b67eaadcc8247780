//! POST /group-proposals

use std::collections::BTreeMap;

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Group, GroupProposals, Sequence},
    },
    attainment::PupilRecords,
    grouping::{Asked, Course, SchoolNow},
    id::{PupilId, VersionId},
    rules::RulePack,
    time::Date,
};

use super::{GroupProposalBody, shown};
use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::{Error, GroupProposal, NewGroupProposal, Permit, Stood, Tx, VersionRow},
};

/// What groups are proposed from.
struct Found {
    asked: Asked,
    as_of: Date,
    version: VersionRow,
    school: SchoolNow,
    whom: Vec<PupilId>,
    learning: BTreeMap<PupilId, PupilRecords>,
    stood: Stood,
    rules: &'static RulePack,
}

/// Propose teaching groups from what pupils have to learn
///
/// A group goes on from one lesson of the sequence. Whoever comes there misses what stands before and was
/// not learned, and meets again what stands in the next lessons and is secure; both are counted in items and
/// weighed by the rule pack, and so is a change of group. Of each item, by the version of the sequence that the
/// groups asked for are taught from on the day, which must be one for all: secure by the rule pack's rule is
/// secure; checked otherwise is not learned; taught to this very pupil, or carried in as taught, and never checked
/// is nothing to catch up, and met again where it is taught again; missed is not learned,
/// and so is what was never taught. The placement with the least sum that was found is proposed, with what no
/// placement costs less than (`bound`), and beside it what cutting the pupils by their place would cost
/// (`by_place`) and what the groups as they are would, each at
/// the lesson that suits its pupils best (`as_now`).
///
/// Each pupil is placed once, members of the groups named among them. Nothing is changed before the proposal
/// is accepted. The rule pack says how long it is kept (`kept_until`), and the latest twenty are.
#[utoipa::path(
    tag = "group proposals", operation_id = "propose_groups", request_body = Asked,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "The proposal", body = GroupProposalBody), CreateProblems)
)]
#[post("/group-proposals")]
pub async fn propose_groups(caller: Caller, body: Body<Asked>) -> Result<Reply, Problem> {
    let asked = body.value;
    let found = caller.read(move |tx| facts(tx, asked)).await?;
    let new = caller.compute(move || proposed(found)).await?;
    caller
        .create_of_pupils(
            "group_proposal.create",
            body.hash,
            move |tx| {
                let permit = tx.permit::<Manage, _>(GroupProposals)?;
                let row = tx.add_group_proposal(&permit, &new)?;
                created(tx, &permit, row)
            },
            |tx, reply| {
                let permit = tx.permit::<Manage, _>(GroupProposals)?;
                let row = tx.group_proposal(&permit, reply.made()?)?;
                created(tx, &permit, row)
            },
        )
        .await
}

fn facts(tx: &mut Tx<'_>, asked: Asked) -> Result<Found, Problem> {
    let permit = tx.permit::<Manage, _>(GroupProposals)?;
    let (today, rules) = (tx.today(), tx.rules()?);
    let as_of = asked.as_of.unwrap_or(today);
    if as_of > today {
        return Err(Problem::field("as_of", format!("{as_of} is in the future")));
    }
    let sequence = tx.permit::<Read, _>(Sequence(asked.sequence_id)).map_err(|error| match error {
        Error::Refused(_) => Problem::field("sequence_id", "is not a sequence of this school"),
        other => other.into(),
    })?;
    let school = tx.school_now(&permit, today)?;
    let whom = asked.whom(&school, rules)?;
    let version = version_of_all(tx, &sequence, &asked, as_of)?;
    let learning = tx.learning_of(&permit, &whom, as_of)?;
    let stood = tx.stood(&permit, &asked.groups_touched(), &whom)?;
    Ok(Found { asked, as_of, version, school, whom, learning, stood, rules })
}

/// The version the groups asked for are taught from on a day: what a group there is keeps, else what the sequence
/// says.
///
/// # Errors
/// If there is none, and if they are taught from several: they are named with theirs.
fn version_of_all<'tx>(
    tx: &mut Tx<'tx>,
    sequence: &Permit<'tx, Read, Sequence>,
    asked: &Asked,
    as_of: Date,
) -> Result<VersionRow, Problem> {
    let none = || Problem::field("sequence_id", "has no published version in force on that day");
    let follows = tx.version_on(sequence, as_of)?;
    let mut found: Vec<(&str, VersionId)> = Vec::new();
    for slot in &asked.groups {
        let version = match slot.group_id {
            Some(id) => {
                let group = tx.permit::<Read, _>(Group(id))?;
                tx.group_course(&group)?.in_force(as_of)
            }
            None => follows.as_ref().map(|version| version.head.id),
        };
        found.push((slot.name.as_str(), version.ok_or_else(none)?));
    }
    let Some((_, first)) = found.first().copied() else { return follows.ok_or_else(none) };
    if found.iter().all(|(_, version)| *version == first) {
        return Ok(tx.version_of(sequence, first)?);
    }
    let mut each = Vec::new();
    for (name, version) in found {
        each.push(format!("{name} from version {}", tx.version_of(sequence, version)?.head.number));
    }
    let message = format!("are taught from several versions: {}", each.join(", "));
    Err(Problem::field("groups", message))
}

fn proposed(found: Found) -> Result<NewGroupProposal, Problem> {
    let Found { asked, as_of, version, school, whom, learning, stood, rules } = found;
    let course = Course::of(&version.content);
    let proposal = asked.propose(&school, &whom, &course, &learning, rules)?;
    let weights = rules.grouping.clone();
    Ok(NewGroupProposal { asked, as_of, version: version.head.id, stood, proposal, weights })
}

fn created<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, GroupProposals>,
    row: GroupProposal,
) -> Result<Reply, Problem> {
    let at = format!("/api/v1/group-proposals/{}", row.head.id);
    Reply::created(at, &shown(tx, permit, row)?)
}
