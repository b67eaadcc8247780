//! Who was there, of those who were in the group that day.

use std::collections::BTreeSet;

use super::record::{Facts, Mark, Outcome, RecordError, RegisterEntry, Report};
use crate::id::PupilId;

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
