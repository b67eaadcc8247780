//! Proposals of teaching groups: who would be with whom and why, in items.

pub mod accept;
pub mod compare;
pub mod create;
pub mod get;
pub mod list;
pub mod remove;

use std::collections::BTreeMap;

use plumbline_core::{
    access::{
        act::Read,
        resource::{GroupProposals, Roster, Sequence},
    },
    grouping::{Asked, Course, Figures, Placement},
    id::{GroupId, GroupProposalId, ItemId, LessonId, PupilId, SequenceId, StaffId, VersionId},
    rules::GroupingRule,
    sequence::{Content, ItemKind, Place},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::pupils::{PupilLine, lines};
use crate::{
    http::problem::Problem,
    store::{Accepted, GroupProposal, GroupProposalHead, Permit, Tx},
};

/// From which day on which groups are as proposed.
#[derive(Serialize, ToSchema)]
pub struct ProposalAccepted {
    /// The first day.
    pub on: Date,
    /// The groups, in the order asked.
    pub group_ids: Vec<GroupId>,
}

impl From<Accepted> for ProposalAccepted {
    fn from(accepted: Accepted) -> Self {
        Self { on: accepted.on, group_ids: accepted.groups }
    }
}

/// A proposal of groups in figures, without any pupil.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000021", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "version_id": "0199f2c4-0000-7000-8000-00000000000d", "as_of": "2026-11-25",
    "figures": {"pupils": 24, "groups": 2, "moves": 3, "cost": 96, "bound": 95, "gap_per_mille": 11, "by_place": 121, "as_now": 130},
    "created_by": "0199f2c4-0000-7000-8000-000000000002", "created_at": "2026-11-25T10:00:00.000000Z",
    "kept_until": "2026-12-23T10:00:00.000000Z", "accepted": null
}))]
pub struct GroupProposalLine {
    /// Its id.
    pub id: GroupProposalId,
    /// The sequence the groups are taught.
    pub sequence_id: SequenceId,
    /// The version of it in force on the day.
    pub version_id: VersionId,
    /// The day as of which what was taught and checked counts.
    pub as_of: Date,
    /// Its figures.
    pub figures: Figures,
    /// Who asked.
    pub created_by: StaffId,
    /// When.
    pub created_at: Instant,
    /// Until when it is kept.
    pub kept_until: Instant,
    /// Once it is accepted: from when on, and which groups.
    pub accepted: Option<ProposalAccepted>,
}

impl From<GroupProposalHead> for GroupProposalLine {
    fn from(head: GroupProposalHead) -> Self {
        Self {
            id: head.id,
            sequence_id: head.sequence,
            version_id: head.version,
            as_of: head.as_of,
            figures: head.figures,
            created_by: head.created_by,
            created_at: head.created_at,
            kept_until: head.kept_until,
            accepted: head.accepted.map(Into::into),
        }
    }
}

/// An item of the sequence.
#[derive(Serialize, ToSchema)]
pub struct ProposalItem {
    /// Its id.
    pub id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown.
    pub label: String,
}

/// Where a group would go on.
#[derive(Serialize, ToSchema)]
pub struct ProposedNext {
    /// The lesson.
    pub lesson_id: LessonId,
    /// As shown.
    pub title: String,
    /// Its step, as shown.
    pub step_title: String,
    /// Where it stands.
    pub place: Place,
}

/// The next best group for a pupil.
#[derive(Serialize, ToSchema)]
pub struct ProposedInstead {
    /// Its place among the groups, counted from 0.
    pub group: usize,
    /// Its name.
    pub name: String,
    /// How much more it would cost the pupil, and those who stay together with the pupil, in weighed items.
    pub more: u64,
}

/// A pupil's place, and why.
#[derive(Serialize, ToSchema)]
pub struct ProposedPupil {
    /// The pupil.
    #[serde(flatten)]
    pub pupil: PupilLine,
    /// Is in another group today, or in none.
    pub moves: bool,
    /// Placed by an adult.
    pub pinned: bool,
    /// Items before the group's next lesson that the pupil missed, was not taught, or was checked on and is
    /// not secure in.
    pub to_catch_up: Vec<String>,
    /// Items of the next lessons that the pupil missed, was not taught, or was checked on and is not secure in: what the
    /// group brings.
    pub brings: Vec<String>,
    /// Items of the next lessons that the pupil was taught and that are secure, or were not asked since: met again.
    pub met_again: Vec<String>,
    /// The group with room that would come next; null where there is none.
    pub instead: Option<ProposedInstead>,
}

/// A group as proposed.
#[derive(Serialize, ToSchema)]
pub struct ProposedGroup {
    /// The group there is; null for one to be made.
    pub group_id: Option<GroupId>,
    /// Its name.
    pub name: String,
    /// The lesson that suits its pupils next; null where none is left.
    pub next: Option<ProposedNext>,
    /// Its pupils.
    pub pupils: Vec<ProposedPupil>,
}

/// A group that some of the pupils stay members of.
#[derive(Serialize, ToSchema)]
pub struct GroupBeside {
    /// The group.
    pub id: GroupId,
    /// Its name.
    pub name: String,
    /// How many of the pupils placed are in it today.
    pub pupils: usize,
}

/// A proposal of groups.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000021", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "version_id": "0199f2c4-0000-7000-8000-00000000000d", "as_of": "2026-11-25",
    "figures": {"pupils": 1, "groups": 1, "moves": 1, "cost": 3, "bound": 3, "gap_per_mille": 0, "by_place": 3, "as_now": null},
    "created_by": "0199f2c4-0000-7000-8000-000000000002", "created_at": "2026-11-25T10:00:00.000000Z",
    "kept_until": "2026-12-23T10:00:00.000000Z", "accepted": null, "stale": false,
    "weights": {"not_learned": 3, "met_again": 1, "change_of_group": 4, "lessons_ahead": 20, "kept_days": 28},
    "items": [{"id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/"}],
    "groups": [{"group_id": null, "name": "Birch",
        "next": {"lesson_id": "0199f2c4-0000-7000-8000-00000000000c", "title": "Lesson 2", "step_title": "Step 1", "place": {"step": 1, "lesson": 2}},
        "pupils": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "moves": true, "pinned": false,
                    "to_catch_up": ["igh /aɪ/"], "brings": ["e /e/"], "met_again": [], "instead": null}]}],
    "beside": [],
    "asked": {"sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"],
              "groups": [{"name": "Birch", "least": 1, "most": 12}]}
}))]
pub struct GroupProposalBody {
    /// The proposal in figures.
    #[serde(flatten)]
    pub line: GroupProposalLine,
    /// Whether groups or members have changed since: then it cannot be accepted.
    pub stale: bool,
    /// What was counted, as the rule pack said then.
    pub weights: GroupingRule,
    /// The items of the sequence in teaching order, reviews left out.
    pub items: Vec<ProposalItem>,
    /// The groups, in the order asked.
    pub groups: Vec<ProposedGroup>,
    /// Groups of the same sequence that are named nowhere and have some of the pupils as members, who stay in
    /// them.
    pub beside: Vec<GroupBeside>,
    /// What was asked.
    pub asked: Asked,
}

/// The pupils as shown; who is gone is left out.
fn shown_pupils(tx: &mut Tx<'_>, ids: &[PupilId]) -> Result<Vec<PupilLine>, Problem> {
    let roster = tx.permit::<Read, _>(Roster)?;
    Ok(lines(tx.pupils_by_id(&roster, ids)?))
}

/// A proposal as answered.
fn shown<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, GroupProposals>,
    made: GroupProposal,
) -> Result<GroupProposalBody, Problem> {
    let stale = tx.is_group_proposal_stale(permit, &made)?;
    let beside = tx.groups_beside(permit, &made)?;
    let sequence = tx.permit::<Read, _>(Sequence(made.head.sequence))?;
    let version = tx.version_of(&sequence, made.head.version)?;
    let pupils = shown_pupils(tx, &made.placed().collect::<Vec<_>>())?;
    let mut pupils: BTreeMap<PupilId, PupilLine> = pupils.into_iter().map(|line| (line.id, line)).collect();
    let course = Course::of(&version.content);
    let labels = |items: &[usize]| -> Vec<String> {
        items.iter().filter_map(|n| course.items.get(*n)).map(|item| item.label.to_string()).collect()
    };
    let slots = &made.asked.groups;
    let name = |group: usize| slots.get(group).map(|slot| slot.name.to_string());
    let instead = |(group, more): (usize, u64)| Some(ProposedInstead { group, name: name(group)?, more });
    let mut placed = |one: &Placement| {
        Some(ProposedPupil {
            pupil: pupils.remove(&one.id)?,
            moves: one.moves,
            pinned: one.pinned,
            to_catch_up: labels(&one.before),
            brings: labels(&one.ahead),
            met_again: labels(&one.again),
            instead: one.instead.and_then(instead),
        })
    };
    let groups = slots.iter().zip(&made.proposal.groups).map(|(slot, group)| ProposedGroup {
        group_id: slot.group_id,
        name: slot.name.to_string(),
        next: next(&version.content, group.next),
        pupils: group.pupils.iter().filter_map(&mut placed).collect(),
    });
    let groups = groups.collect();
    let items = course.items.iter().map(|item| ProposalItem {
        id: item.id,
        kind: item.kind,
        label: item.label.to_string(),
    });
    Ok(GroupProposalBody {
        stale,
        weights: made.weights,
        items: items.collect(),
        groups,
        beside: beside.into_iter().map(|(id, name, pupils)| GroupBeside { id, name, pupils }).collect(),
        line: made.head.into(),
        asked: made.asked,
    })
}

fn next(content: &Content, n: usize) -> Option<ProposedNext> {
    let (place, step, lesson) = content.lessons().nth(n)?;
    let (title, step_title) = (lesson.title.to_string(), step.title.to_string());
    Some(ProposedNext { lesson_id: lesson.id, title, step_title, place })
}
