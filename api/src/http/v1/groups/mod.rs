//! Teaching groups.

pub mod close;
pub mod coverage;
pub mod create;
pub mod get;
pub mod hand_over;
pub mod list;
pub mod next_lesson;
pub mod remove_timetable_line;
pub mod sessions;
pub mod set_adults;
pub mod set_members;
pub mod set_timetable;
pub mod set_version;
pub mod set_weekdays;
pub mod timetable;
pub mod update;
pub mod word_bank;

use std::collections::BTreeMap;

use chrono::Duration;
use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    id::{GroupId, PupilId, SequenceId, VersionId},
    lesson::of_the_expected,
    roster::{Weekday, Weekdays},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::AdultView;
use crate::{
    http::{problem::Problem, words::lesson::GroupFacts},
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
    /// Those of them on which the pupil comes in the morning alone.
    pub mornings_only: Vec<Weekday>,
    /// Those of them on which the pupil comes in the afternoon alone.
    pub afternoons_only: Vec<Weekday>,
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
            mornings_only: weekdays.get(&line.id).map(|days| days.mornings_only()).unwrap_or_default(),
            afternoons_only: weekdays.get(&line.id).map(|days| days.afternoons_only()).unwrap_or_default(),
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
    let course = tx.group_course(permit)?;
    let number = |id| course.published.iter().find(|one| one.id == id).map(|one| one.number);
    let line = |id| Some(TaughtVersion { id, number: number(id)?, keeps: course.keeps(on) == Some(id) });
    let keeps = course.kept.iter().filter_map(|(id, span)| {
        Some(KeptVersion { id: *id, number: number(*id)?, from: span.from, until: span.until })
    });
    Ok(GroupBody {
        line: GroupLine::from(row),
        on,
        version: course.in_force(on).and_then(line),
        kept_versions: keeps.collect(),
        adults: super::adults(tx.group_adults(permit)?),
        members: members(tx.group_members(permit, on)?, &weekdays),
    })
}

/// What a group's lesson of a day is made of, and the version it is from; none where the group's sequence
/// has no published version in force on that day.
pub(super) fn lesson_facts<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Read, Group>,
    on: Date,
) -> Result<Option<(GroupFacts, VersionId)>, Problem> {
    let group = permit.resource().0;
    let lessons = tx.group_lessons_read(permit, on)?;
    let Some(version) = lessons.version else { return Ok(None) };
    let (calendar, lines) = (tx.group_calendar(permit)?, tx.timetable(permit)?);
    let records = lessons.records.into_iter().map(|saved| saved.record).filter(|record| record.on <= on);
    let records = records.map(|record| of_the_expected(record, &calendar, &lines)).collect();
    let rules = tx.rules()?;
    let members: Vec<_> = tx.group_members(permit, on)?.into_iter().map(|member| member.pupil.id).collect();
    let since = on - Duration::days(rules.lesson.recent_answers_days.into());
    let reads_checks = tx.permit_if_allowed::<Read, _>(GroupChecks(group))?.is_some();
    let facts = GroupFacts {
        group,
        content: version.content,
        carried: lessons.past.map(|past| past.carried),
        pasts: tx.member_pasts(permit, on)?,
        catch_ups: tx.member_catch_ups(permit, on)?,
        records,
        calendar,
        on,
        // The day's own answers wait until tomorrow: a lesson does not change while it is taught.
        tallies: tx.group_tallies(permit, &members, (since, on - Duration::days(1)))?,
        members,
        reads_checks,
        rules,
    };
    Ok(Some((facts, version.head.id)))
}

/// The version of its sequence a group is taught from on a day.
#[derive(Serialize, ToSchema)]
pub struct TaughtVersion {
    /// The version.
    pub id: VersionId,
    /// 1, 2, 3 ...
    pub number: i32,
    /// Whether the group keeps it, rather than following the sequence.
    pub keeps: bool,
}

/// A version a group was told to keep.
#[derive(Serialize, ToSchema)]
pub struct KeptVersion {
    /// The version.
    pub id: VersionId,
    /// 1, 2, 3 ...
    pub number: i32,
    /// First day.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
}

/// A group with its adults and members.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a",
    "closed_on": null, "on": "2026-11-25",
    "version": {"id": "0199f2c4-0000-7000-8000-00000000000d", "number": 1, "keeps": false}, "kept_versions": [],
    "adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "from": "2026-09-01", "until": null}],
    "members": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "from": "2026-09-01", "until": null, "weekdays": null, "mornings_only": [], "afternoons_only": []}]
}))]
pub struct GroupBody {
    /// The group.
    #[serde(flatten)]
    pub line: GroupLine,
    /// The day of the members and of the version.
    pub on: Date,
    /// The version of its sequence it is taught from that day; none where none is in force.
    pub version: Option<TaughtVersion>,
    /// The versions it was told to keep, earliest first.
    pub kept_versions: Vec<KeptVersion>,
    /// Adults, past and coming ones too.
    pub adults: Vec<AdultView>,
    /// Pupils in it that day.
    pub members: Vec<MemberBody>,
}
