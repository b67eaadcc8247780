//! POST /group-proposals/{id}/accept

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::GroupProposals},
    id::GroupProposalId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
        v1::groups::GroupLine,
    },
    store::{GroupProposal, Permit, Tx},
};

/// From when on groups are as proposed.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": "2026-11-30"}))]
pub struct AcceptGroups {
    /// The first day.
    pub on: Date,
}

/// A group as it is from that day on.
#[derive(Serialize, ToSchema)]
pub struct AcceptedGroup {
    /// The group.
    #[serde(flatten)]
    pub group: GroupLine,
    /// Whether it was made for the proposal.
    pub new: bool,
    /// Members on that day.
    pub pupils: usize,
}

/// Groups made so.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"on": "2026-11-30", "groups": [{
    "id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "closed_on": null, "new": false, "pupils": 12}]}))]
pub struct AcceptedGroups {
    /// The first day.
    pub on: Date,
    /// In the order asked.
    pub groups: Vec<AcceptedGroup>,
}

/// Accept a proposal of groups from a day on
///
/// Groups to be made are added, with the adult asked for; of all groups asked for the members are, from that
/// day on, those proposed, each until the last day known; whoever is placed leaves the groups to be left. The
/// days before stay as they were, and so does everybody else. All of it or nothing: if one of those groups or
/// anybody's days in a group have changed since, the answer is `group_proposal_stale`; if another group has the
/// name of a new one by then, or its adult at its time, a `conflict`.
///
/// A day that is over is taken in the running school year while no lesson is recorded from it on, of these
/// groups or of anybody placed. What a group is taught next goes on following its own records: a new one starts
/// at the sequence's first lesson, unless what its pupils were taught before is carried in.
#[utoipa::path(
    tag = "group proposals", operation_id = "accept_group_proposal", request_body = AcceptGroups,
    params(("id" = GroupProposalId, Path, description = "The proposal"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 200, description = "The groups", body = AcceptedGroups), CreateProblems)
)]
#[post("/group-proposals/{id}/accept")]
pub async fn accept_group_proposal(
    caller: Caller,
    id: web::Path<GroupProposalId>,
    body: Body<AcceptGroups>,
) -> Result<Reply, Problem> {
    let on = body.value.on;
    caller
        .create("group_proposal.accept", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(GroupProposals)?;
            let made = tx.group_proposal(&permit, *id)?;
            if let Some(accepted) = &made.head.accepted {
                let message = format!("it is accepted already, from {} on", accepted.on);
                return Err(Problem::saying(Code::Conflict, message));
            }
            if tx.is_group_proposal_stale(&permit, &made)? {
                return Err(Problem::new(Code::GroupProposalStale));
            }
            check_adults(tx, &permit, &made, on)?;
            check_day(tx, &permit, &made, on)?;
            let filled = tx.accept_group_proposal(&permit, &made, on)?;
            let group = |(row, pupils)| AcceptedGroup {
                group: GroupLine::from(&row),
                new: !made.asked.known_groups().contains(&row.id),
                pupils,
            };
            Reply::ok(&AcceptedGroups { on, groups: filled.into_iter().map(group).collect() })
        })
        .await
}

/// Refuses an adult who cannot sign in or teach any more since the groups were proposed, and what contradicts other groups
/// by now.
fn check_adults<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, GroupProposals>,
    made: &GroupProposal,
    on: Date,
) -> Result<(), Problem> {
    let school = tx.school_now(permit, on)?;
    let contradictions = made.asked.contradictions(&school, Some(on));
    if !contradictions.is_empty() {
        return Err(Problem::from(contradictions).with_code(Code::Conflict));
    }
    let new = made.asked.groups.iter().filter(|slot| slot.group_id.is_none());
    let gone = new.filter(|slot| slot.staff_id.is_some_and(|adult| !school.may_teach.contains(&adult)));
    let gone: Vec<&str> = gone.map(|slot| slot.name.as_str()).collect();
    if gone.is_empty() {
        return Ok(());
    }
    let detail = format!(
        "the adult asked for is not of this school's staff any more, or may not teach: {}",
        gone.join(", ")
    );
    Err(Problem::saying(Code::Conflict, detail))
}

fn check_day<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, GroupProposals>,
    made: &GroupProposal,
    on: Date,
) -> Result<(), Problem> {
    let (today, year) = (tx.today(), tx.school_year_of(on)?);
    let running = tx.school_year_of(today)?;
    if year != running && year != running + 1 {
        return Err(Problem::field("on", "lies in neither this school year nor the next"));
    }
    if tx.calendar()?.year_of(on).is_none() {
        return Err(Problem::field("on", "is in no school year of the calendar"));
    }
    if let Some(over) = tx.group_over_by(permit, made, on)? {
        let last = over.closed_on.unwrap_or(on);
        return Err(Problem::field("on", format!("the last day of {} is {last}", over.name)));
    }
    let last = if on < today { tx.last_lesson_since(permit, made, on)? } else { None };
    match last {
        Some(last) => {
            let message = format!("lessons are recorded up to {last}: choose a later day");
            Err(Problem::field("on", message))
        }
        None => Ok(()),
    }
}
