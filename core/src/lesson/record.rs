//! The record of one lesson given to one group on one day.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    carried::CarriedIn,
    register::register,
    taught::{again, items_taught},
};
use crate::{
    calendar::{DayKind, SLOTS},
    id::{GroupId, ItemId, LessonId, LessonRecordId, PupilId, StaffId, VersionId},
    sequence::Content,
    time::Date,
};

const NAMESPACE: Uuid = Uuid::from_u128(0x8d24_1f0e_77c3_5a61_b0d9_2e64_93fa_0c58);

crate::vocabulary! {
    /// What became of a planned lesson.
    pub enum Outcome as "LessonOutcome" {
        /// Taught to its end. Of several records that say so the first by day and slot finished the lesson, and
        /// what was recorded after it counts as taught again, in whatever order they came in.
        Delivered = "delivered",
        /// Begun; the rest is for another day.
        Part = "part",
        /// Planned and not taught.
        NotDelivered = "not_delivered",
        /// Taught again after it had been delivered. Never moves the group's place.
        Retaught = "retaught",
    }
}

crate::vocabulary! {
    /// A pupil at a lesson.
    pub enum Mark {
        /// There.
        Present = "present",
        /// Not there: nothing was taught to this pupil.
        Absent = "absent",
        /// Came late. Counts as taught unless marked as having missed it.
        Late = "late",
    }
}

crate::vocabulary! {
    /// Something odd about a record that is kept all the same.
    pub enum Warning {
        /// The date lies in a holiday; it counts in no half term.
        InHoliday = "in_holiday",
        /// The date is a Saturday or Sunday.
        OnWeekend = "on_weekend",
        /// The calendar says the school did not teach that day, or that half of it in which the timetable has the slot.
        OnClosedDay = "on_closed_day",
        /// The timetable of that day has fewer lessons than the slot says.
        NotInTimetable = "not_in_timetable",
        /// None of the group's pupils comes on that day of the week.
        NobodyComes = "nobody_comes",
        /// A pupil marked absent was not expected then: comes on other days, or is away by the calendar. The mark is not
        /// kept, so that nothing counts as missed.
        AbsentNotExpected = "absent_not_expected",
        /// The group had no members that day.
        NobodyInGroup = "nobody_in_group",
        /// The lesson was delivered on an earlier day or slot: this counts as taught again.
        TaughtAgain = "taught_again",
        /// The lesson is recorded as delivered on a later day or slot too, which counts as taught again now.
        LaterTaughtAgain = "later_taught_again",
    }
}

/// One line of a register.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RegisterEntry {
    /// The pupil.
    pub pupil_id: PupilId,
    /// There, absent or late.
    pub mark: Mark,
    /// For a late pupil: came too late for what was taught.
    #[serde(default)]
    pub missed: bool,
}

impl RegisterEntry {
    /// Whether what the lesson taught was taught to this pupil.
    pub fn was_taught(&self) -> bool {
        match self.mark {
            Mark::Present => true,
            Mark::Absent => false,
            Mark::Late => !self.missed,
        }
    }

    /// One entry of two about one child: where it was taught, else where it was there at all.
    pub fn or(self, other: Self) -> Self {
        let there = |entry: &Self| (entry.was_taught(), entry.mark != Mark::Absent);
        if there(&other) > there(&self) { Self { pupil_id: self.pupil_id, ..other } } else { self }
    }
}

/// What an adult says happened.
#[derive(Clone, Debug)]
pub struct Report {
    /// The day.
    pub on: Date,
    /// First, second ... lesson of the day, from 1.
    pub slot: u8,
    /// The planned lesson.
    pub lesson: LessonId,
    /// What became of it.
    pub outcome: Outcome,
    /// The items taught; needed for a part, otherwise the lesson's remaining items.
    pub items: Option<Vec<ItemId>>,
    /// A code of the rule pack; needed when not delivered.
    pub reason: Option<String>,
    /// Marks that differ from present. Everyone else in the group was present.
    pub register: Vec<RegisterEntry>,
    /// Who taught, if not the one who enters the record.
    pub taught_by: Option<StaffId>,
}

/// What the store knows of the group and the day.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// The group.
    pub group: GroupId,
    /// The version in force for the group that day.
    pub version: VersionId,
    /// Its content.
    pub content: &'a Content,
    /// Whether the group had pupils that day, whether or not they came.
    pub has_pupils: bool,
    /// Those of them whom the lesson is for.
    pub members: &'a [PupilId],
    /// The others of them, who do not come then.
    pub away: &'a [PupilId],
    /// The group's other records, any order.
    pub others: &'a [Record],
    /// What was carried in for the group.
    pub carried: Option<&'a CarriedIn>,
    /// How many records of this day and slot were deleted before.
    pub generation: u16,
    /// What the day is to the group, or the slot's half where that is closed.
    pub day: DayKind,
    /// Whether the timetable of the day has the slot.
    pub in_timetable: bool,
    /// The rule pack's codes for lessons not taught.
    pub reasons: &'a [String],
    /// Today at the school.
    pub today: Date,
    /// Who enters the record.
    pub entered_by: StaffId,
}

/// A lesson record. The id follows from group, date, slot and generation, so that two
/// devices that log the same lesson make the same record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Record {
    /// Follows from the natural key.
    pub id: LessonRecordId,
    /// The group.
    pub group: GroupId,
    /// The day.
    pub on: Date,
    /// First, second ... lesson of the day.
    pub slot: u8,
    /// How many earlier records of this day and slot were deleted.
    pub generation: u16,
    /// The version taught from.
    pub version: VersionId,
    /// The planned lesson.
    pub lesson: LessonId,
    /// What became of it.
    pub outcome: Outcome,
    /// The items taught.
    pub items: Vec<ItemId>,
    /// Why it was not delivered: a code of the rule pack.
    pub reason: Option<String>,
    /// Every pupil of the group who was due that day, or there all the same; empty when not delivered.
    pub register: Vec<RegisterEntry>,
    /// Who taught.
    pub taught_by: StaffId,
    /// Who entered the record.
    pub entered_by: StaffId,
}

/// Why a record is refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// The date is in no school year.
    #[error("{0} is in no school year of the calendar")]
    OutOfYear(Date),
    /// Nothing can have happened yet.
    #[error("{0} is in the future")]
    Future(Date),
    /// The version does not hold the lesson.
    #[error("the sequence version in force on that day has no such lesson")]
    UnknownLesson,
    /// The lesson does not teach the item.
    #[error("the lesson has no such item")]
    UnknownItem(usize),
    /// A part without items, or with all of the lesson.
    #[error("a part names the items taught: at least one, and not all of the lesson")]
    PartItems,
    /// Delivered without all that remained, or taught again without anything.
    #[error("names too few items: delivered means all that remained were taught, otherwise it is a part")]
    TooFewItems,
    /// Not delivered, yet with items or a register.
    #[error("a lesson that was not delivered teaches nothing to nobody: leave out {0}")]
    NothingTaught(&'static str),
    /// Not delivered and no reason, or an unknown one.
    #[error("give one of the reasons: {0}")]
    Reason(String),
    /// A reason for a lesson that was taught.
    #[error("a reason is for lessons not delivered")]
    ReasonWithoutNeed,
    /// Nothing to teach again.
    #[error("this group has not been taught this lesson before")]
    NothingToReteach,
    /// To be taught again, and not taught before.
    #[error("this group has not been taught it before: record it as a part, or as delivered")]
    NotTaughtBefore(usize),
    /// Carried in as taught.
    #[error("this lesson was delivered on {0}; record it as retaught")]
    CarriedIn(Date),
    /// A later record teaches again what this one taught.
    #[error("the record of {0} teaches again what this one taught: delete that record first")]
    RestedOn(Date),
    /// A pupil who was not in the group that day.
    #[error("this pupil was not in the group that day")]
    NotAMember(usize),
    /// Two lines for one pupil.
    #[error("this pupil stands twice in the register")]
    Twice(usize),
    /// Missed is for late pupils.
    #[error("only a late pupil can be marked as having missed it")]
    MissedNotLate(usize),
    /// Slots are few.
    #[error("a day has slots 1 to {most}", most = SLOTS)]
    Slot,
    /// There is a record of this day and slot.
    #[error(
        "a lesson is already recorded for this group, day and slot: amend that record, or give the next slot"
    )]
    AlreadyRecorded(LessonRecordId),
}

impl RecordError {
    /// The field of the report at fault.
    pub fn field(&self) -> String {
        match self {
            Self::OutOfYear(_) | Self::Future(_) => "on".into(),
            Self::UnknownLesson => "lesson_id".into(),
            Self::UnknownItem(n) | Self::NotTaughtBefore(n) => format!("items[{n}]"),
            Self::PartItems | Self::TooFewItems => "items".into(),
            Self::NothingTaught(field) => (*field).into(),
            Self::Reason(_) | Self::ReasonWithoutNeed => "reason".into(),
            Self::NothingToReteach | Self::CarriedIn(_) | Self::RestedOn(_) => "outcome".into(),
            Self::NotAMember(n) | Self::Twice(n) => format!("register[{n}].pupil_id"),
            Self::MissedNotLate(n) => format!("register[{n}].missed"),
            Self::Slot | Self::AlreadyRecorded(_) => "slot".into(),
        }
    }
}

/// The id of the record of this group, day, slot and generation.
pub fn record_id(group: GroupId, on: Date, slot: u8, generation: u16) -> LessonRecordId {
    LessonRecordId::from_parts(
        NAMESPACE,
        &[&group.to_string(), &on.to_string(), &slot.to_string(), &generation.to_string()],
    )
}

/// Decides what is written for a report, and what is odd about it.
///
/// # Errors
/// The first thing that cannot be true of the report.
pub fn record(facts: &Facts<'_>, report: Report) -> Result<(Record, Vec<Warning>), RecordError> {
    let mut warnings = odd_day(facts.day, facts.today, report.on)?;
    if !(1..=SLOTS).contains(&report.slot) {
        return Err(RecordError::Slot);
    }
    if let Some(other) = facts.others.iter().find(|other| other.on == report.on && other.slot == report.slot)
    {
        return Err(RecordError::AlreadyRecorded(other.id));
    }
    let (_, _, lesson) = facts.content.lesson(report.lesson).ok_or(RecordError::UnknownLesson)?;
    check_reason(facts, &report)?;
    let items = items_taught(facts, lesson, &report)?;
    let (register, not_expected) = register(facts, &report)?;
    match facts.day {
        _ if !facts.has_pupils => warnings.push(Warning::NobodyInGroup),
        DayKind::Teaching if facts.members.is_empty() => warnings.push(Warning::NobodyComes),
        _ => {}
    }
    if facts.day == DayKind::Teaching && !facts.in_timetable {
        warnings.push(Warning::NotInTimetable);
    }
    warnings.extend(not_expected.then_some(Warning::AbsentNotExpected));
    warnings.extend(again(facts, &report));
    let record = Record {
        id: record_id(facts.group, report.on, report.slot, facts.generation),
        group: facts.group,
        on: report.on,
        slot: report.slot,
        generation: facts.generation,
        version: facts.version,
        lesson: report.lesson,
        outcome: report.outcome,
        items,
        reason: report.reason,
        register,
        taught_by: report.taught_by.unwrap_or(facts.entered_by),
        entered_by: facts.entered_by,
    };
    Ok((record, warnings))
}

/// What is odd about a day on which something was taught.
///
/// # Errors
/// A day that is still to come, or of no school year.
pub(super) fn odd_day(day: DayKind, today: Date, on: Date) -> Result<Vec<Warning>, RecordError> {
    if on > today {
        return Err(RecordError::Future(on));
    }
    kind_warnings(day, on)
}

/// What is odd about what a day is to the group, still to come or not.
///
/// # Errors
/// A day of no school year.
pub fn kind_warnings(day: DayKind, on: Date) -> Result<Vec<Warning>, RecordError> {
    match day {
        DayKind::OutOfYear => Err(RecordError::OutOfYear(on)),
        DayKind::Teaching => Ok(Vec::new()),
        DayKind::Holiday => Ok(vec![Warning::InHoliday]),
        DayKind::Weekend => Ok(vec![Warning::OnWeekend]),
        DayKind::Inset | DayKind::Closure | DayKind::Trip => Ok(vec![Warning::OnClosedDay]),
        DayKind::NotDue => Ok(vec![Warning::NobodyComes]),
    }
}

fn check_reason(facts: &Facts<'_>, report: &Report) -> Result<(), RecordError> {
    let known = report.reason.as_ref().is_some_and(|reason| facts.reasons.contains(reason));
    match (report.outcome, &report.reason) {
        (Outcome::NotDelivered, _) if known => Ok(()),
        (Outcome::NotDelivered, _) => Err(RecordError::Reason(facts.reasons.join(", "))),
        (_, Some(_)) => Err(RecordError::ReasonWithoutNeed),
        (_, None) => Ok(()),
    }
}
