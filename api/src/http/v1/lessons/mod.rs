//! Lesson records.

pub mod amend;
pub mod delete;
pub mod get;
pub mod history;
pub mod list;
pub mod record;
pub mod set_aside;

use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::{GroupId, ItemId, LessonId, LessonRecordId, StaffId, VersionId},
    lesson::{
        self, Facts, Mark, Outcome, RegisterEntry, Report, Warning, record as decide, rested_on,
        under_one_record,
    },
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, Problem},
    store::{Error, GroupLessons, HistoryLine, Permit, Replaced, SavedRecord, Tx, VersionRow},
};

/// What happened in a lesson.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "on": "2026-11-25", "lesson_id": "0199f2c4-0000-7000-8000-00000000000c", "outcome": "delivered",
    "register": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "mark": "absent"}]
}))]
pub struct LessonReport {
    /// The day.
    pub on: Date,
    /// First, second ... lesson of the day; the first unless told.
    #[serde(default = "first")]
    pub slot: u8,
    /// The planned lesson, of the version.
    pub lesson_id: LessonId,
    /// The version taught from, unless it is the one in force that day: for a device that had not heard of
    /// another. One of the group's sequence that took effect by then.
    #[serde(default)]
    pub version_id: Option<VersionId>,
    /// What became of it.
    pub outcome: Outcome,
    /// The items taught. Needed for a part; otherwise all that remain unless told.
    #[serde(default)]
    pub items: Option<Vec<ItemId>>,
    /// Why it was not delivered: a code of the rule pack.
    #[serde(default)]
    pub reason: Option<String>,
    /// Pupils who were absent or late. Everyone else in the group was present, but those who were not due: who come
    /// on other weekdays, or whose class or year group is away by the calendar. Name one of these who was there; one of
    /// them marked absent is left out, with a warning.
    #[serde(default)]
    pub register: Vec<RegisterEntry>,
    /// Who taught, if somebody else than who enters this, or than the record says that is amended.
    #[serde(default)]
    pub taught_by: Option<StaffId>,
    /// Of a record that is amended: whether what was set aside of it was looked at, and need not be shown any more.
    #[serde(default)]
    pub settles: bool,
}

const fn first() -> u8 {
    1
}

/// A lesson record.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "id": "7f6a1f3e-0000-5000-8000-000000000001", "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25",
    "slot": 1, "version_id": "0199f2c4-0000-7000-8000-00000000000d", "lesson_id": "0199f2c4-0000-7000-8000-00000000000c",
    "outcome": "delivered", "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"], "reason": null,
    "register": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "mark": "absent", "missed": false}],
    "taught_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
    "entered_at": "2026-11-25T09:32:00.000000Z", "warnings": [], "set_aside": false
}))]
pub struct LessonRecordBody {
    /// Its id, which follows from group, day and slot.
    pub id: LessonRecordId,
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub on: Date,
    /// First, second ... lesson of the day.
    pub slot: u8,
    /// The version it was taught from.
    pub version_id: VersionId,
    /// The planned lesson.
    pub lesson_id: LessonId,
    /// What became of it.
    pub outcome: Outcome,
    /// The items taught.
    pub items: Vec<ItemId>,
    /// Why it was not delivered.
    pub reason: Option<String>,
    /// Every pupil of the group who was due that day, or there all the same.
    pub register: Vec<RegisterEntry>,
    /// Who taught.
    pub taught_by: StaffId,
    /// Who entered the record.
    pub entered_by: StaffId,
    /// When it was entered.
    pub entered_at: Instant,
    /// What is odd about it. It is kept all the same.
    pub warnings: Vec<Warning>,
    /// Whether something else was recorded of it offline, was set aside, and nobody has settled it.
    pub set_aside: bool,
}

impl LessonRecordBody {
    pub(in crate::http) fn new(saved: SavedRecord, warnings: Vec<Warning>) -> Self {
        let record = saved.record;
        Self {
            id: record.id,
            group_id: record.group,
            on: record.on,
            slot: record.slot,
            version_id: record.version,
            lesson_id: record.lesson,
            outcome: record.outcome,
            items: record.items,
            reason: record.reason,
            register: record.register,
            taught_by: record.taught_by,
            entered_by: record.entered_by,
            entered_at: saved.at,
            warnings,
            set_aside: saved.aside_v.is_some(),
        }
    }

    /// What a line of the history says of a lesson.
    fn of_line(line: &HistoryLine, record: lesson::Record) -> Self {
        Self::new(SavedRecord { record, at: line.at, v: line.v, aside_v: None }, Vec::new())
    }
}

/// A part that a later record finished cannot change under it: the rest of the lesson was recorded as all there was.
/// Where the lesson was delivered before the part already, the part finished nothing and nothing rests on it.
fn finishes_nothing(records: &[SavedRecord], id: LessonRecordId) -> Result<(), Problem> {
    let part = records
        .iter()
        .map(|saved| &saved.record)
        .find(|record| record.id == id && record.outcome == Outcome::Part);
    let finished = |part: &lesson::Record| {
        let delivered = records.iter().map(|saved| &saved.record);
        let delivered =
            delivered.filter(|other| other.lesson == part.lesson && other.outcome == Outcome::Delivered);
        let first = delivered.map(|other| (other.on, other.slot)).min();
        first.is_some_and(|first| first > (part.on, part.slot))
    };
    if part.is_some_and(finished) {
        let detail = "a later record finished this lesson: delete or amend that one first";
        return Err(Problem::saying(Code::Conflict, detail));
    }
    Ok(())
}

/// Saves what core decides of a lesson. `replaces` is the record that is amended.
pub(in crate::http) fn save(
    tx: &mut Tx<'_>,
    day: GroupDay,
    report: &LessonReport,
    replaces: Option<LessonRecordId>,
) -> Result<(SavedRecord, Vec<Warning>), Problem> {
    let diary = tx.permit::<Record, _>(day)?;
    let lessons = tx.group_lessons(&diary)?;
    save_among(tx, &diary, lessons, report, replaces)
}

/// The same with the group's lessons loaded.
fn save_among<'tx>(
    tx: &mut Tx<'tx>,
    diary: &Permit<'tx, Record, GroupDay>,
    lessons: GroupLessons,
    report: &LessonReport,
    replaces: Option<LessonRecordId>,
) -> Result<(SavedRecord, Vec<Warning>), Problem> {
    let old = lessons.records.iter().find(|saved| Some(saved.record.id) == replaces);
    let old = old.map(|old| Replaced { aside_v: old.aside_v.filter(|_| !report.settles) });
    let (record, warnings) = decided(tx, diary, lessons, report, replaces)?;
    Ok((write(tx, diary, &record, old)?, warnings))
}

/// Loads what is known of the day, and lets core decide.
pub(in crate::http) fn decided<'tx>(
    tx: &mut Tx<'tx>,
    diary: &Permit<'tx, Record, GroupDay>,
    lessons: GroupLessons,
    report: &LessonReport,
    replaces: Option<LessonRecordId>,
) -> Result<(lesson::Record, Vec<Warning>), Problem> {
    let day = *diary.resource();
    if lessons.group.closed_on.is_some_and(|last| day.on > last) {
        return Err(Problem::field("on", "the group was closed before that day").with_code(Code::Conflict));
    }
    // An amended record stays with the version it was made under.
    let version = match lessons.records.iter().find(|saved| Some(saved.record.id) == replaces) {
        Some(old) if report.version_id.is_some_and(|id| id != old.record.version) => {
            return Err(Problem::field(
                "version_id",
                "cannot change: it is the one the record was made under",
            ));
        }
        Some(old) => tx.pinned_version(old)?,
        None => taught_from(tx, diary, lessons.version, report.version_id)?,
    };
    let past = tx.past_of_day(diary)?;
    let merged = tx.merged_records()?;
    let register = under_one_record(&report.register, |pupil| merged.now(pupil));
    let (places, register): (Vec<usize>, Vec<RegisterEntry>) = register.into_iter().unzip();
    let report = LessonReport { register, ..report.clone() };
    // Who is marked absent was not there all the same.
    let there = report.register.iter().filter(|entry| entry.mark != Mark::Absent);
    let named = there.map(|entry| entry.pupil_id).collect();
    let lesson = tx.lesson_day(diary, report.slot, &named)?;
    let (old, others): (Vec<_>, Vec<_>) = (lessons.records.into_iter().map(|saved| saved.record))
        .partition(|record| Some(record.id) == replaces);
    let reasons: Vec<String> =
        tx.rules()?.not_taught_reasons.iter().map(|coded| coded.code.clone()).collect();
    if let Some(staff) = report.taught_by {
        tx.known_staff(diary, staff).map_err(|error| match error {
            Error::Missing => Problem::field("taught_by", "is not of this school's staff"),
            other => other.into(),
        })?;
    }
    let facts = Facts {
        group: day.group,
        version: version.head.id,
        content: &version.content,
        has_pupils: lesson.has_pupils,
        members: &lesson.members,
        away: &lesson.away,
        others: &others,
        carried: past.as_ref().map(|past| &past.carried),
        generation: tx.deleted_records(diary, report.slot)?,
        day: lesson.day,
        in_timetable: lesson.in_timetable,
        reasons: &reasons,
        today: tx.today(),
        entered_by: tx.actor().staff,
    };
    let (record, warnings) = decide(&facts, report.into()).map_err(|error| error.as_sent(&places))?;
    if let [old] = &old[..] {
        rested_on(old, Some(&record), &others, facts.carried)?;
    }
    Ok((record, warnings))
}

/// The version a new record is made under: the one told, if it was in force by then, else the day's.
fn taught_from<'tx>(
    tx: &mut Tx<'tx>,
    diary: &Permit<'tx, Record, GroupDay>,
    in_force: Option<VersionRow>,
    told: Option<VersionId>,
) -> Result<VersionRow, Problem> {
    match told {
        None => in_force.ok_or_else(|| {
            Problem::field("on", "the group's sequence has no published version in force on that day")
        }),
        Some(id) => tx.version_then(diary, id)?.ok_or_else(|| {
            Problem::field("version_id", "is no version of the group's sequence that took effect by that day")
        }),
    }
}

fn write<'tx>(
    tx: &mut Tx<'tx>,
    diary: &Permit<'tx, Record, GroupDay>,
    record: &lesson::Record,
    replaces: Option<Replaced>,
) -> Result<SavedRecord, Problem> {
    tx.save_record(diary, record, replaces).map_err(|error| match error {
        Error::Conflict => Problem::field("slot", "a lesson is already recorded for this day and slot")
            .with_code(Code::Conflict),
        other => other.into(),
    })
}

impl From<LessonReport> for Report {
    fn from(report: LessonReport) -> Self {
        Self {
            on: report.on,
            slot: report.slot,
            lesson: report.lesson_id,
            outcome: report.outcome,
            items: report.items,
            reason: report.reason,
            register: report.register,
            taught_by: report.taught_by,
        }
    }
}
