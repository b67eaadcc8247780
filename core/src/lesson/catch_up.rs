//! The record of catch-up: items taught again, on one day and by one adult, to some pupils of a
//! group. It counts as taught on that day to those pupils, and never moves the group's place.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use serde::{Deserialize, Serialize};

use super::record::{RecordError, Warning, odd_day};
use crate::{
    calendar::DayKind,
    id::{CatchUpId, GroupId, ItemId, PupilId, StaffId, VersionId},
    sequence::{Content, Fault},
    time::Date,
};

/// A catch-up record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CatchUp {
    /// Its id.
    pub id: CatchUpId,
    /// The group.
    pub group: GroupId,
    /// The day.
    pub on: Date,
    /// The items taught, in teaching order.
    pub items: Vec<ItemId>,
    /// To whom, by id.
    pub pupils: Vec<PupilId>,
    /// The versions the items stand in, so that they can be told by their labels.
    pub versions: Vec<VersionId>,
    /// Who taught.
    pub taught_by: StaffId,
    /// Who entered the record.
    pub entered_by: StaffId,
}

impl CatchUp {
    /// Whether another record says the same: to the same pupils of the group, that day, the same items by
    /// the same adult.
    #[must_use]
    pub fn says_the_same(&self, other: &Self) -> bool {
        let what = |one: &Self| (one.group, one.on, one.taught_by);
        let items = |one: &Self| one.items.iter().copied().collect::<BTreeSet<_>>();
        let pupils = |one: &Self| one.pupils.iter().copied().collect::<BTreeSet<_>>();
        what(self) == what(other) && items(self) == items(other) && pupils(self) == pupils(other)
    }
}

/// What an adult says was taught.
#[derive(Clone, Debug)]
pub struct CatchUpReport {
    /// The day.
    pub on: Date,
    /// The items.
    pub items: Vec<ItemId>,
    /// To whom, by the records there are now, each with its place among the pupils as sent.
    pub pupils: Vec<(usize, PupilId)>,
    /// Who taught, if not the one who enters the record.
    pub taught_by: Option<StaffId>,
}

/// What the store knows of the group and the day.
#[derive(Clone, Copy, Debug)]
pub struct CatchUpFacts<'a> {
    /// The id the record is given.
    pub id: CatchUpId,
    /// The group.
    pub group: GroupId,
    /// Pupils in the group that day, whether or not they come on that weekday.
    pub members: &'a [PupilId],
    /// The versions taught from so far, the one to be told from first.
    pub contents: &'a [(VersionId, Arc<Content>)],
    /// What the group was taught by that day, what was carried in included.
    pub taught: &'a BTreeSet<ItemId>,
    /// What each pupil's lessons had been about by that day, in whatever group.
    pub met: &'a BTreeMap<PupilId, BTreeSet<ItemId>>,
    /// What the day is to the group.
    pub day: DayKind,
    /// Today at the school.
    pub today: Date,
    /// Who enters the record.
    pub entered_by: StaffId,
}

impl CatchUpFacts<'_> {
    /// Where an item stands: its version and its label.
    fn place(&self, item: ItemId) -> Option<(VersionId, &str)> {
        self.contents.iter().find_map(|(version, content)| {
            let found = content.items().find(|one| one.id == item)?;
            Some((*version, found.label.as_str()))
        })
    }

    /// Whether teaching it is no new teaching: the group was taught it, or each of these pupils was to
    /// be taught it in another group.
    fn is_due(&self, item: ItemId, pupils: &[PupilId]) -> bool {
        let met = |pupil: &PupilId| self.met.get(pupil).is_some_and(|items| items.contains(&item));
        self.taught.contains(&item) || !pupils.is_empty() && pupils.iter().all(met)
    }
}

/// Decides what is written for a report, and what is odd about it.
///
/// # Errors
/// Everything that cannot be true of the report, by field.
pub fn catch_up(
    facts: CatchUpFacts<'_>,
    report: &CatchUpReport,
) -> Result<(CatchUp, Vec<Warning>), Vec<Fault>> {
    let fault = |field: String, message: String| Fault { field, message };
    let odd = odd_day(facts.day, facts.today, report.on);
    let warnings = odd.map_err(|error: RecordError| vec![fault(error.field(), error.to_string())])?;
    let mut faults = Vec::new();
    for (field, empty) in [("items", report.items.is_empty()), ("pupil_ids", report.pupils.is_empty())] {
        if empty {
            faults.push(fault(field.into(), "give at least one".into()));
        }
    }
    let pupils: Vec<PupilId> = report.pupils.iter().map(|(_, pupil)| *pupil).collect();
    for (n, (place, pupil)) in report.pupils.iter().enumerate() {
        if !facts.members.contains(pupil) {
            faults.push(fault(
                format!("pupil_ids[{place}]"),
                "this pupil was not in the group that day".into(),
            ));
        } else if pupils[..n].contains(pupil) {
            faults.push(fault(format!("pupil_ids[{place}]"), "this pupil stands twice".into()));
        }
    }
    for (n, item) in report.items.iter().enumerate() {
        let message = match facts.place(*item) {
            Some((_, label)) if !facts.is_due(*item, &pupils) => format!(
                "\u{201c}{label}\u{201d} was not taught to this group by then: catch-up is no new teaching"
            ),
            None => "is not an item this group was taught by then: catch-up is no new teaching".into(),
            Some(_) if report.items[..n].contains(item) => "this item stands twice".into(),
            Some(_) => continue,
        };
        faults.push(fault(format!("items[{n}]"), message));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut seen = BTreeSet::new();
    let all = facts.contents.iter().flat_map(|(_, content)| content.items()).map(|item| item.id);
    let items: Vec<ItemId> = all.filter(|item| report.items.contains(item) && seen.insert(*item)).collect();
    let versions: BTreeSet<VersionId> = items.iter().filter_map(|item| Some(facts.place(*item)?.0)).collect();
    let pupils: BTreeSet<PupilId> = pupils.into_iter().collect();
    let record = CatchUp {
        id: facts.id,
        group: facts.group,
        on: report.on,
        items,
        pupils: pupils.into_iter().collect(),
        versions: versions.into_iter().collect(),
        taught_by: report.taught_by.unwrap_or(facts.entered_by),
        entered_by: facts.entered_by,
    };
    Ok((record, warnings))
}

/// Pupils as named, under the records there are now, each with its place among those named: two names of before that
/// are one child's are one, at the place of the first.
#[must_use]
pub fn pupils_under_one_record(named: &[PupilId], now: impl Fn(PupilId) -> PupilId) -> Vec<(usize, PupilId)> {
    let mut out: Vec<(usize, PupilId)> = Vec::new();
    for (n, pupil) in named.iter().enumerate() {
        let is = now(*pupil);
        if !out.iter().any(|(other, held)| named[*other] != *pupil && *held == is) {
            out.push((n, is));
        }
    }
    out
}

#[cfg(test)]
mod tests;
