//! Who was there, of those who were in the group that day.

use std::collections::BTreeSet;

use super::record::{Facts, Mark, Outcome, Record, RecordError, RegisterEntry, Report};
use crate::{
    calendar::{OwnCalendar, TimetableLine, half_of_slot},
    id::PupilId,
};

/// Lines that name records of before which became one child's since, under the record the child has `now`.
/// Two lines of one child are one then, as for any lesson both records were in. Each comes with its place among the
/// lines as sent.
#[must_use]
pub fn under_one_record(
    register: &[RegisterEntry],
    now: impl Fn(PupilId) -> PupilId,
) -> Vec<(usize, RegisterEntry)> {
    let mut out: Vec<(usize, RegisterEntry)> = Vec::new();
    for (n, entry) in register.iter().enumerate() {
        let line = RegisterEntry { pupil_id: now(entry.pupil_id), ..*entry };
        let same = |(other, held): &&mut (usize, RegisterEntry)| {
            register[*other].pupil_id != entry.pupil_id && held.pupil_id == line.pupil_id
        };
        match out.iter_mut().find(same) {
            Some((_, held)) => *held = held.or(line),
            None => out.push((n, line)),
        }
    }
    out
}

impl RecordError {
    /// The same said of the lines as sent, given the places of those there are.
    #[must_use]
    pub fn as_sent(self, places: &[usize]) -> Self {
        let sent = |n: usize| places.get(n).copied().unwrap_or(n);
        match self {
            Self::NotAMember(n) => Self::NotAMember(sent(n)),
            Self::Twice(n) => Self::Twice(sent(n)),
            Self::MissedNotLate(n) => Self::MissedNotLate(sent(n)),
            other => other,
        }
    }
}

/// A line for each member: as reported, and who is not named was there. And whether somebody is marked absent who was
/// not expected: no line says so.
pub(super) fn register(
    facts: &Facts<'_>,
    report: &Report,
) -> Result<(Vec<RegisterEntry>, bool), RecordError> {
    if report.outcome == Outcome::NotDelivered {
        return if report.register.is_empty() {
            Ok((Vec::new(), false))
        } else {
            Err(RecordError::NothingTaught("register"))
        };
    }
    let (mut seen, mut not_expected) = (BTreeSet::new(), false);
    for (n, entry) in report.register.iter().enumerate() {
        let absent_anyway = entry.mark == Mark::Absent && facts.away.contains(&entry.pupil_id);
        not_expected |= absent_anyway;
        if !absent_anyway && !facts.members.contains(&entry.pupil_id) {
            return Err(RecordError::NotAMember(n));
        }
        if !seen.insert(entry.pupil_id) {
            return Err(RecordError::Twice(n));
        }
        if entry.missed && entry.mark != Mark::Late {
            return Err(RecordError::MissedNotLate(n));
        }
    }
    let mark = |pupil: &PupilId| report.register.iter().find(|entry| entry.pupil_id == *pupil).copied();
    let present = |pupil: &PupilId| RegisterEntry { pupil_id: *pupil, mark: Mark::Present, missed: false };
    let lines = facts.members.iter().map(|pupil| mark(pupil).unwrap_or_else(|| present(pupil)));
    Ok((lines.collect(), not_expected))
}

/// A record without marks of absence of pupils who, by the calendar as it is by now, were not expected: a trip that was
/// entered after the register leaves nothing missed.
#[must_use]
pub fn of_the_expected(record: Record, calendar: &OwnCalendar, lines: &[TimetableLine]) -> Record {
    let Record { on, slot, mut register, .. } = record;
    if register.iter().any(|entry| entry.mark == Mark::Absent) {
        let half = half_of_slot(calendar, lines, on, slot);
        register.retain(|entry| entry.mark != Mark::Absent || calendar.comes(entry.pupil_id, on, half));
    }
    Record { register, ..record }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        calendar::{
            Attendance, Calendar, ClosedFor, ClosureKind, ClosurePlan, DayPart, HalfTerm, Slot, Whom, Year,
        },
        id::{ClassId, GroupId, HalfTermId, LessonId, LessonRecordId, StaffId, VersionId},
        roster::Weekday,
        text::Title,
        time::{Date, Span},
    };

    #[test]
    fn a_trip_entered_after_the_register_leaves_nobody_absent() {
        let pupil = |n| PupilId::from_uuid(Uuid::from_u128(n));
        let class = ClassId::from_uuid(Uuid::from_u128(7));
        // A Monday; pupil 1 is of the class that goes on the trip, pupil 2 of none.
        let on: Date = "2025-09-01".parse().unwrap();
        let always = Span { from: on, until: None };
        let of = |classes| Attendance { days: vec![always], classes, ..Attendance::default() };
        let pupils = [(pupil(1), of(vec![(class, always)])), (pupil(2), of(vec![]))].into();
        let term = HalfTerm {
            id: HalfTermId::from_uuid(Uuid::nil()),
            name: Title::new("Autumn 1").unwrap(),
            starts_on: on,
            ends_on: on,
        };
        let year = Year { year: 2025, starts_on: on, ends_on: on, half_terms: vec![term] };
        let calendar = Calendar { years: vec![year], closures: vec![] };
        let own = OwnCalendar { calendar, whom: Whom { pupils, ..Whom::default() } };
        let slot = |part| Slot { weekday: Weekday::Monday, part, starts_at: None, minutes: None };
        let halves = crate::calendar::Half::ALL;
        let lines =
            [TimetableLine { from: on, slots: Some(halves.iter().map(|half| slot(*half)).collect()) }];
        let line = |n, mark| RegisterEntry { pupil_id: pupil(n), mark, missed: false };
        let left = |mark, slot, part: Option<DayPart>| {
            let mut own = own.clone();
            if let Some(part) = part {
                let whom = ClosedFor::Classes([class].into());
                let trip = ClosurePlan { from: on, until: on, kind: ClosureKind::Trip, part, whom };
                own.calendar = own.calendar.with_closure(&trip);
            }
            let record = Record {
                id: LessonRecordId::from_uuid(Uuid::nil()),
                group: GroupId::from_uuid(Uuid::nil()),
                on,
                slot,
                generation: 0,
                version: VersionId::from_uuid(Uuid::nil()),
                lesson: LessonId::from_uuid(Uuid::nil()),
                outcome: Outcome::Delivered,
                items: vec![],
                reason: None,
                register: vec![line(1, mark), line(2, Mark::Absent)],
                taught_by: StaffId::from_uuid(Uuid::nil()),
                entered_by: StaffId::from_uuid(Uuid::nil()),
            };
            let register = of_the_expected(record, &own, &lines).register;
            register.iter().map(|entry| entry.pupil_id.uuid().as_u128()).collect::<Vec<_>>()
        };
        assert_eq!(left(Mark::Absent, 1, None), [1, 2]);
        assert_eq!(left(Mark::Absent, 1, Some(DayPart::Whole)), [2]);
        // Only the half that is away; and who was there all the same was.
        assert_eq!(left(Mark::Absent, 2, Some(DayPart::Morning)), [1, 2]);
        assert_eq!(left(Mark::Absent, 1, Some(DayPart::Morning)), [2]);
        assert_eq!(left(Mark::Late, 1, Some(DayPart::Whole)), [1, 2]);
    }

    #[test]
    fn a_line_follows_the_child_to_the_record_there_is() {
        let pupil = |n| PupilId::from_uuid(Uuid::from_u128(n));
        let line = |n, mark, missed| RegisterEntry { pupil_id: pupil(n), mark, missed };
        // 7 and 8 became 1.
        let now = |id: PupilId| if [pupil(7), pupil(8)].contains(&id) { pupil(1) } else { id };
        let of = |lines: &[RegisterEntry]| -> Vec<RegisterEntry> {
            under_one_record(lines, now).into_iter().map(|(_, line)| line).collect()
        };
        let two = line(2, Mark::Absent, false);
        assert_eq!(of(&[line(7, Mark::Absent, false), two]), [line(1, Mark::Absent, false), two]);
        // Taught, if any of its records was.
        let late = line(1, Mark::Late, true);
        assert_eq!(
            of(&[late, line(7, Mark::Absent, false), line(8, Mark::Present, false)]),
            [line(1, Mark::Present, false)]
        );
        assert_eq!(of(&[line(7, Mark::Absent, false), late]), [late]);
        // What is wrong with a line is said of its place as sent.
        let places: Vec<usize> = under_one_record(&[late, line(7, Mark::Absent, false), two], now)
            .iter()
            .map(|one| one.0)
            .collect();
        assert_eq!(places, [0, 2]);
        assert_eq!(RecordError::NotAMember(1).as_sent(&places), RecordError::NotAMember(2));
        // One record twice stays twice: it is a mistake.
        assert_eq!(of(&[two, two]), [two, two]);
        assert_eq!(of(&[line(7, Mark::Absent, false), line(7, Mark::Absent, false)]).len(), 2);
    }
}
