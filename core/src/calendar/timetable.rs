//! When a group's lessons are due: plain dates and the clock at the school, so that no change of the clocks
//! makes a lesson twice or not at all.

use std::{collections::BTreeSet, ops::Range, str::FromStr};

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{DayKind, Half, OwnCalendar, SLOTS};
use crate::{
    id::PupilId,
    roster::Weekday,
    rules::SchoolDayRule,
    time::{Date, days},
};

/// A time of day as the clock at the school shows it, "09:00" on the wire; in whole minutes, in no zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LocalTime(u16);

/// Minutes of a day.
const DAY: u16 = 24 * 60;

/// Text that is no time of day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("is not a time of day; write 09:00")]
pub struct NoTime;

impl FromStr for LocalTime {
    type Err = NoTime;

    fn from_str(text: &str) -> Result<Self, NoTime> {
        let number = |digits: &str, below: u16| {
            let digits = Some(digits).filter(|d| d.len() == 2 && d.bytes().all(|byte| byte.is_ascii_digit()));
            digits.and_then(|digits| digits.parse::<u16>().ok()).filter(|number| *number < below)
        };
        let (hours, minutes) = text.split_once(':').ok_or(NoTime)?;
        match (number(hours, 24), number(minutes, 60)) {
            (Some(hours), Some(minutes)) => Ok(Self(hours * 60 + minutes)),
            _ => Err(NoTime),
        }
    }
}

impl std::fmt::Display for LocalTime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

impl Serialize for LocalTime {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for LocalTime {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

/// A weekly lesson.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Slot {
    /// The day of the week.
    pub weekday: Weekday,
    /// The half of the day; no lesson is due while that half is closed for the group.
    pub part: Half,
    /// When it begins by the clock at the school, if that is fixed.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "09:00"))]
    pub starts_at: Option<LocalTime>,
    /// How many minutes it takes, if that is fixed.
    #[serde(default)]
    pub minutes: Option<u16>,
}

impl LocalTime {
    /// Minutes since midnight.
    pub const fn minute(self) -> u16 {
        self.0
    }
}

impl Slot {
    /// The minutes of the day it takes, if it is fixed when it begins; only the first where nothing says how long it
    /// takes.
    pub fn minutes_of_day(&self) -> Option<Range<u16>> {
        Some(self.starts_at?.0..self.ends()?)
    }

    /// The minute of the day at which the next lesson can begin.
    fn ends(&self) -> Option<u16> {
        Some(self.starts_at?.0.saturating_add(self.minutes.unwrap_or(1)))
    }
}

/// The weekly lessons of a group from a day on, until the next line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TimetableLine {
    /// First day.
    pub from: Date,
    /// The lessons by day; null for one lesson on every teaching day.
    pub slots: Option<Vec<Slot>>,
}

/// What is wrong with weekly lessons.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimetableError {
    /// No lesson at all.
    #[error("names no lesson; null is for one on every teaching day")]
    Nothing,
    /// More than can be told apart in records.
    #[error("a day has slots 1 to {most}: {0} has more", most = SLOTS)]
    TooMany(Weekday),
    /// It takes no time, or does not end on its day.
    #[error("a lesson takes at least a minute and ends on its day")]
    Minutes(usize),
    /// It begins in the other half of the day.
    #[error("no {part} lesson begins {bound}")]
    Part {
        /// Which.
        n: usize,
        /// The half it is said to be in.
        part: Half,
        /// What the rule pack says of that half.
        bound: String,
    },
    /// Two at a time, or the afternoon before the morning.
    #[error("{weekday} {later} begins before the lesson before it has ended")]
    Overlap {
        /// The day.
        weekday: Weekday,
        /// When the later one begins.
        later: LocalTime,
    },
    /// The day it counts from is in no school year.
    #[error("{0} is in no school year of the calendar")]
    OutOfYear(Date),
}

impl TimetableError {
    /// The field at fault.
    pub fn field(&self) -> String {
        match self {
            Self::Minutes(n) => format!("slots[{n}].minutes"),
            Self::Part { n, .. } => format!("slots[{n}].starts_at"),
            Self::Nothing | Self::TooMany(_) | Self::Overlap { .. } => "slots".into(),
            Self::OutOfYear(_) => "from".into(),
        }
    }
}

/// Checks weekly lessons and puts them in order.
///
/// # Errors
/// The first thing that cannot be.
pub fn check_timetable(
    calendar: &OwnCalendar,
    line: TimetableLine,
    rule: &SchoolDayRule,
) -> Result<TimetableLine, TimetableError> {
    let TimetableLine { from, slots } = line;
    if calendar.calendar.year_of(from).is_none() {
        return Err(TimetableError::OutOfYear(from));
    }
    let Some(mut slots) = slots else { return Ok(TimetableLine { from, slots: None }) };
    if slots.is_empty() {
        return Err(TimetableError::Nothing);
    }
    for (n, slot) in slots.iter().enumerate() {
        let fits = slot.minutes != Some(0)
            && slot.minutes.is_none_or(|minutes| minutes <= DAY)
            && slot.ends().is_none_or(|ends| ends <= DAY);
        if !fits {
            return Err(TimetableError::Minutes(n));
        }
        let bound = match (slot.part, slot.starts_at) {
            (Half::Morning, Some(at)) if at >= rule.morning_before => {
                format!("from {} on", rule.morning_before)
            }
            (Half::Afternoon, Some(at)) if at < rule.afternoon_from => {
                format!("before {}", rule.afternoon_from)
            }
            _ => continue,
        };
        return Err(TimetableError::Part { n, part: slot.part, bound });
    }
    slots.sort_by_key(|slot| (slot.weekday, slot.part, slot.starts_at));
    for weekday in Weekday::ALL {
        let of_day: Vec<&Slot> = slots.iter().filter(|slot| slot.weekday == *weekday).collect();
        if of_day.len() > usize::from(SLOTS) {
            return Err(TimetableError::TooMany(*weekday));
        }
        let timed: Vec<&Slot> = of_day.into_iter().filter(|slot| slot.starts_at.is_some()).collect();
        for (earlier, later) in timed.iter().zip(timed.iter().skip(1)) {
            if let (Some(ends), Some(starts)) = (earlier.ends(), later.starts_at)
                && starts.0 < ends
            {
                return Err(TimetableError::Overlap { weekday: *weekday, later: starts });
            }
        }
    }
    Ok(TimetableLine { from, slots: Some(slots) })
}

/// The weekdays of a timetable on which the group has no teaching day from its first day to the end of
/// that school year.
pub fn never_taught(calendar: &OwnCalendar, line: &TimetableLine) -> Vec<Weekday> {
    let Some(year) = calendar.calendar.year_of(line.from) else { return Vec::new() };
    let taught: Vec<Weekday> =
        calendar.teaching_days(line.from, year.ends_on).into_iter().map(Weekday::of).collect();
    let mut out: Vec<Weekday> = line.slots.iter().flatten().map(|slot| slot.weekday).collect();
    out.dedup();
    out.retain(|weekday| !taught.contains(weekday));
    out
}

/// A lesson that is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Session {
    /// The day.
    pub on: Date,
    /// First, second ... lesson due that day.
    pub slot: u8,
    /// The half of the day.
    pub part: Half,
    /// When it begins by the clock at the school, if that is fixed.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "09:00"))]
    pub starts_at: Option<LocalTime>,
    /// How many minutes it takes, if that is fixed.
    pub minutes: Option<u16>,
}

/// The lessons that are due from one date to another, both included: none on a day, or in a half of one,
/// that is closed for the group, on which it has no pupils, or on which none of them comes. Before the first
/// line of the timetable it is one on every teaching day.
pub fn sessions(calendar: &OwnCalendar, lines: &[TimetableLine], from: Date, to: Date) -> Vec<Session> {
    let mut out = Vec::new();
    for on in days(from, to) {
        let halves = calendar.day(on);
        if halves.kind() != DayKind::Teaching || !calendar.has_pupils(on) {
            continue;
        }
        match slots_on(lines, on) {
            None => {
                let first = halves.taught().next();
                out.extend(first.map(|part| Session { on, slot: 1, part, starts_at: None, minutes: None }));
            }
            Some(slots) => {
                let taught = |half| halves.taught().any(|one| one == half);
                out.extend(of_weekday(slots, on).filter(|(_, slot)| taught(slot.part)).map(|(n, slot)| {
                    Session { on, slot: n, part: slot.part, starts_at: slot.starts_at, minutes: slot.minutes }
                }));
            }
        }
    }
    out
}

/// The lessons said for a day, where something is said.
fn slots_on(lines: &[TimetableLine], on: Date) -> Option<&Vec<Slot>> {
    let line = lines.iter().filter(|line| line.from <= on).max_by_key(|line| line.from);
    line.and_then(|line| line.slots.as_ref())
}

/// The lessons of a day's weekday under their numbers, which are the timetable's: what is closed moves none of them.
fn of_weekday(slots: &[Slot], on: Date) -> impl Iterator<Item = (u8, &Slot)> {
    (1..).zip(slots.iter().filter(move |slot| slot.weekday == Weekday::of(on)))
}

/// The half of a day in which the lesson of a slot is by the timetable, closed or not; where it says nothing, that of the
/// one lesson due. None where there is no such lesson.
pub fn half_of_slot(calendar: &OwnCalendar, lines: &[TimetableLine], on: Date, slot: u8) -> Option<Half> {
    match slots_on(lines, on) {
        Some(slots) => of_weekday(slots, on).find(|(n, _)| *n == slot).map(|(_, found)| found.part),
        None => calendar.day(on).taught().next().filter(|_| slot == 1),
    }
}

/// What a day is to a lesson of a slot: what the slot's half is where that half is closed, else what the day is.
pub fn kind_of_slot(calendar: &OwnCalendar, lines: &[TimetableLine], on: Date, slot: u8) -> DayKind {
    let halves = calendar.day(on);
    match half_of_slot(calendar, lines, on, slot).map(|half| halves.of(half)) {
        Some(closed @ (DayKind::Inset | DayKind::Closure | DayKind::Trip)) => closed,
        _ => halves.kind(),
    }
}

/// Whether the timetable of a day has a lesson in a slot; where it says nothing of the day, every slot may be.
pub fn has_slot(lines: &[TimetableLine], on: Date, slot: u8) -> bool {
    slots_on(lines, on).is_none_or(|slots| of_weekday(slots, on).any(|(n, _)| n == slot))
}

/// The pupils a lesson of a slot is for: those of the day who come then, and of the others those named, who were
/// there all the same. After them those whom it is not for.
pub fn lesson_is_for(
    calendar: &OwnCalendar,
    lines: &[TimetableLine],
    (on, slot): (Date, u8),
    named: &BTreeSet<PupilId>,
) -> (Vec<PupilId>, Vec<PupilId>) {
    let half = half_of_slot(calendar, lines, on, slot);
    let members = calendar.members(on).into_iter();
    members.partition(|pupil| named.contains(pupil) || calendar.comes(*pupil, on, half))
}

#[cfg(test)]
mod tests;
