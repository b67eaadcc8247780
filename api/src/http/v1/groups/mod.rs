//! Teaching groups.

pub mod close;
pub mod coverage;
pub mod create;
pub mod get;
pub mod hand_over;
pub mod list;
pub mod next_lesson;
pub mod sessions;
pub mod set_adults;
pub mod set_members;
pub mod set_timetable;
pub mod set_weekdays;
pub mod timetable;
pub mod update;
pub mod word_bank;

use std::collections::BTreeMap;

use plumbline_core::{
    access::resource::Group,
    id::{GroupId, PupilId, SequenceId},
    roster::{Weekday, Weekdays},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::AdultView;
use crate::{
    http::problem::Problem,
    store::{GroupRow, MemberRow, Permit, Tx},
};

/// A group in a list.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "closed_on": null
}))]
pub struct GroupLine {
    /// Its id.
    pub id: GroupId,
    /// Its name.
    pub name: String,
    /// The sequence it is taught.
    pub sequence_id: SequenceId,
    /// The last day it was taught.
    pub closed_on: Option<Date>,
}

impl From<&GroupRow> for GroupLine {
    fn from(row: &GroupRow) -> Self {
        Self { id: row.id, name: row.name.clone(), sequence_id: row.sequence_id, closed_on: row.closed_on }
    }
}

/// A pupil of a group.
#[derive(Serialize, ToSchema)]
pub struct MemberBody {
    /// The pupil.
    pub id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// First day in the group.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
    /// The weekdays on which the pupil comes; null for every day.
    pub weekdays: Option<Vec<Weekday>>,
}

/// Members with namesakes told apart.
pub(super) fn members(rows: Vec<MemberRow>, weekdays: &BTreeMap<PupilId, Weekdays>) -> Vec<MemberBody> {
    let lines = super::pupils::lines(rows.iter().map(|row| (row.pupil.clone(), row.class.clone())).collect());
    rows.into_iter()
        .zip(lines)
        .map(|(row, line)| MemberBody {
            id: line.id,
            name: line.name,
            apart: line.apart,
            from: row.from,
            until: row.until,
            weekdays: weekdays.get(&line.id).map(|days| days.days()),
        })
        .collect()
}

/// A group as of a day.
fn whole<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, Group>,
    row: &GroupRow,
    on: Date,
) -> Result<GroupBody, Problem> {
    let weekdays = tx.member_weekdays(permit, on)?;
    Ok(GroupBody {
        line: GroupLine::from(row),
        on,
        adults: super::adults(tx.group_adults(permit)?),
        members: members(tx.group_members(permit, on)?, &weekdays),
    })
}

/// A group with its adults and members.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "closed_on": null, "on": "2026-11-25",
    "adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "from": "2026-09-01", "until": null}],
    "members": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "from": "2026-09-01", "until": null, "weekdays": null}]
}))]
pub struct GroupBody {
    /// The group.
    #[serde(flatten)]
    pub line: GroupLine,
    /// The day of the members.
    pub on: Date,
    /// Adults, past and coming ones too.
    pub adults: Vec<AdultView>,
    /// Pupils in it that day.
    pub members: Vec<MemberBody>,
}
