//! Who was there, of those who were in the group that day.

use std::collections::BTreeSet;

use super::record::{Facts, Mark, Outcome, RecordError, RegisterEntry, Report};
use crate::id::PupilId;

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

/// A line for each member: as reported, and who is not named was there.
pub(super) fn register(facts: &Facts<'_>, report: &Report) -> Result<Vec<RegisterEntry>, RecordError> {
    if report.outcome == Outcome::NotDelivered {
        return if report.register.is_empty() {
            Ok(Vec::new())
        } else {
            Err(RecordError::NothingTaught("register"))
        };
    }
    let mut seen = BTreeSet::new();
    for (n, entry) in report.register.iter().enumerate() {
        if !facts.members.contains(&entry.pupil_id) {
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
    Ok(facts
        .members
        .iter()
        .map(|pupil| {
            mark(pupil).unwrap_or(RegisterEntry { pupil_id: *pupil, mark: Mark::Present, missed: false })
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

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
