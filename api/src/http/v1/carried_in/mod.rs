//! What was carried in for a group: taught and checked before the records here begin.

pub mod answers;
pub mod get;
pub mod import;
pub mod remove;
pub mod save;
pub mod save_answers;

use std::collections::BTreeMap;

use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    check::{CarriedChange, CarriedRow, carried_changes},
    id::{GroupId, ItemId, LessonId, PupilId, StaffId, VersionId},
    lesson::CarriedIn,
    sequence::Content,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use utoipa::{IntoParams, ToSchema};

use super::{groups::members, pupils::lines};
use crate::{
    http::{
        problem::{Code, Problem},
        reply::Reply,
    },
    store::{Permit, SavedCarriedIn, Tx},
};

/// A pupil something was carried in for.
#[derive(Serialize, ToSchema)]
pub struct CarriedPupil {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by; none for one who is no longer in the group.
    pub name: Option<String>,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// What of it this pupil missed.
    pub missed: Vec<ItemId>,
}

/// What a group was taught before.
#[derive(Serialize, ToSchema)]
pub struct CarriedTaught {
    /// The day by which it had been taught. It counts as taught on that day.
    pub as_of: Date,
    /// The sequence version it was said in.
    pub version_id: VersionId,
    /// The lessons, in teaching order.
    pub lesson_ids: Vec<LessonId>,
    /// What they teach.
    pub item_ids: Vec<ItemId>,
    /// To whom.
    pub pupils: Vec<CarriedPupil>,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
}

/// What was carried in for a group.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008",
    "taught": {"as_of": "2026-12-18", "version_id": "0199f2c4-0000-7000-8000-00000000000d",
        "lesson_ids": ["0199f2c4-0000-7000-8000-00000000000c"], "item_ids": ["c090554b-55fd-56e2-92da-2bfe29aa5983"],
        "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
                    "missed": ["c090554b-55fd-56e2-92da-2bfe29aa5983"]}],
        "entered_by": "0199f2c4-0000-7000-8000-000000000002", "entered_at": "2027-01-05T08:50:00.000000Z"}
}))]
pub struct CarriedInBody {
    /// The group.
    pub group_id: GroupId,
    /// What was taught before; none where nothing was carried in.
    pub taught: Option<CarriedTaught>,
}

/// What is carried in now, with the group's version as ETag.
fn reply<'tx, A>(tx: &mut Tx<'tx>, permit: &Permit<'tx, A, GroupPast>) -> Result<Reply, Problem> {
    let (group_id, v) = (permit.resource().0, tx.group_of_past(permit)?.v);
    let shown = members(tx.past_members(permit)?, &BTreeMap::new());
    let taught = tx.group_past(permit)?.map(|saved| {
        let SavedCarriedIn { carried, version, entered_by, at } = saved;
        let CarriedIn { as_of, lessons, items, mut pupils } = carried;
        let mut listed: Vec<CarriedPupil> = Vec::new();
        for member in shown {
            if let Some(missed) = pupils.remove(&member.id) {
                let (name, missed) = (Some(member.name), missed.into_iter().collect());
                listed.push(CarriedPupil { pupil_id: member.id, name, apart: member.apart, missed });
            }
        }
        let left = pupils.into_iter().map(|(pupil_id, missed)| {
            let missed = missed.into_iter().collect();
            CarriedPupil { pupil_id, name: None, apart: None, missed }
        });
        listed.extend(left);
        CarriedTaught {
            as_of,
            version_id: version,
            lesson_ids: lessons,
            item_ids: items,
            pupils: listed,
            entered_by,
            entered_at: at,
        }
    });
    Ok(Reply::ok(&CarriedInBody { group_id, taught })?.version(v))
}

/// The version in force for a group today.
fn content_today<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, GroupPast>,
) -> Result<(VersionId, Arc<Content>), Problem> {
    let version = tx.version_of_past(permit)?.ok_or_else(|| {
        Problem::saying(Code::NotFound, "the group's sequence has no published version in force today")
    })?;
    Ok((version.head.id, version.content))
}

/// Only look, or write.
#[derive(Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DryRunQuery {
    /// Only say what would change.
    #[serde(default)]
    pub dry_run: bool,
}

/// What a row changes of one pupil's answers.
#[derive(Serialize, ToSchema)]
pub struct CarriedLine {
    /// The row's line in a file, or its place in the list sent, counted from 0.
    pub line: u64,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Answers that were not there.
    pub added: usize,
    /// Answers that said something else.
    pub changed: usize,
    /// Answers taken back.
    pub removed: usize,
    /// Answers that are there already.
    pub unchanged: usize,
}

/// What a table of answers changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "dry_run": true, "on": "2026-12-16", "added": 21, "changed": 1, "removed": 0, "unchanged": 0,
    "rows": [{"line": 2, "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
              "added": 21, "changed": 1, "removed": 0, "unchanged": 0}]
}))]
pub struct CarriedChanges {
    /// Whether nothing was written.
    pub dry_run: bool,
    /// The day of the answers.
    pub on: Date,
    /// Answers that were not there.
    pub added: usize,
    /// Answers that said something else.
    pub changed: usize,
    /// Answers taken back.
    pub removed: usize,
    /// Answers that are there already.
    pub unchanged: usize,
    /// Row by row.
    pub rows: Vec<CarriedLine>,
}

/// Refuses a day that has not been.
fn been(on: Date, today: Date) -> Result<(), Problem> {
    if on > today { Err(Problem::field("on", format!("{on} is in the future"))) } else { Ok(()) }
}

/// Writes a table's answers, or only says what it would change.
fn carry<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, GroupPast>,
    on: Date,
    rows: &[CarriedRow],
    dry_run: bool,
) -> Result<Reply, Problem> {
    let changes = carried_changes(rows, &tx.carried_on(permit, on)?);
    if !dry_run {
        tx.save_carried(permit, on, &changes)?;
    }
    let members = tx.past_members(permit)?;
    let shown = lines(members.into_iter().map(|row| (row.pupil, row.class)).collect());
    let line = |change: &CarriedChange| {
        let who = shown.iter().find(|line| line.id == change.pupil);
        CarriedLine {
            line: change.place,
            pupil_id: change.pupil,
            name: who.map(|line| line.name.clone()).unwrap_or_default(),
            apart: who.and_then(|line| line.apart.clone()),
            added: change.added,
            changed: change.changed,
            removed: change.removed,
            unchanged: change.unchanged,
        }
    };
    let sum = |of: fn(&CarriedChange) -> usize| changes.iter().map(of).sum();
    Reply::ok(&CarriedChanges {
        dry_run,
        on,
        added: sum(|change| change.added),
        changed: sum(|change| change.changed),
        removed: sum(|change| change.removed),
        unchanged: sum(|change| change.unchanged),
        rows: changes.iter().map(line).collect(),
    })
}
