//! What was taught to one pupil: by the pupil's own presence on the day, in catch-up, or as carried in
//! for this very pupil, never by the group's place. Taught is never known.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::{
    carried::CarriedIn,
    catch_up::CatchUp,
    record::{Record, RegisterEntry},
};
use crate::{
    id::{ItemId, PupilId},
    time::Date,
};

/// What one pupil's lessons covered of one item.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ItemCoverage {
    /// The first day it was taught to this pupil; none while it is missed.
    pub taught_on: Option<Date>,
    /// The last day it was taught to the group without this pupil, while still missed.
    pub missed_on: Option<Date>,
    /// Number of lessons recorded that taught it to this pupil.
    pub times: u32,
    /// Number of catch-up records that taught it to this pupil.
    pub catch_ups: u32,
    /// Whether that day is the one as of which it was carried in, and no lesson's.
    pub carried_in: bool,
}

impl ItemCoverage {
    fn taught(&mut self, on: Date, carried_in: bool) {
        if self.taught_on.is_none_or(|first| on < first) {
            (self.taught_on, self.carried_in) = (Some(on), carried_in);
        }
    }

    fn missed(&mut self, on: Date, carried_in: bool) {
        if self.taught_on.is_none() && self.missed_on.is_none_or(|last| on > last) {
            (self.missed_on, self.carried_in) = (Some(on), carried_in);
        }
    }
}

/// Coverage of every item the pupil's lessons touched, of what was taught in catch-up and of what was
/// carried in. A pupil stands in a record's register only for days in the group, so moves and leavers
/// need no special case.
pub fn coverage<'a>(
    pupil: PupilId,
    carried: impl IntoIterator<Item = &'a CarriedIn>,
    records: impl IntoIterator<Item = &'a Record>,
    catch_ups: impl IntoIterator<Item = &'a CatchUp>,
) -> BTreeMap<ItemId, ItemCoverage> {
    let mut covered: BTreeMap<ItemId, ItemCoverage> = BTreeMap::new();
    for carried in carried {
        let Some(missed) = carried.pupils.get(&pupil) else { continue };
        for item in &carried.items {
            let line = covered.entry(*item).or_default();
            if missed.contains(item) {
                line.missed(carried.as_of, true);
            } else {
                line.taught(carried.as_of, true);
            }
        }
    }
    for record in records {
        let Some(entry) = record.register.iter().find(|entry| entry.pupil_id == pupil) else { continue };
        for item in &record.items {
            let line = covered.entry(*item).or_default();
            if entry.was_taught() {
                line.taught(record.on, false);
                line.times += 1;
            } else {
                line.missed(record.on, false);
            }
        }
    }
    for catch_up in catch_ups.into_iter().filter(|one| one.pupils.contains(&pupil)) {
        for item in &catch_up.items {
            let line = covered.entry(*item).or_default();
            line.taught(catch_up.on, false);
            line.catch_ups += 1;
        }
    }
    for line in covered.values_mut().filter(|line| line.taught_on.is_some()) {
        line.missed_on = None;
    }
    covered
}

/// The days on which each item was taught to a pupil: by lessons, in catch-up, and the day as of which it was
/// carried in.
pub fn days_taught<'a>(
    pupil: PupilId,
    carried: impl IntoIterator<Item = &'a CarriedIn>,
    records: impl IntoIterator<Item = &'a Record>,
    catch_ups: impl IntoIterator<Item = &'a CatchUp>,
) -> BTreeMap<ItemId, BTreeSet<Date>> {
    let mut days: BTreeMap<ItemId, BTreeSet<Date>> = BTreeMap::new();
    let mut taught = |item: &ItemId, on: Date| _ = days.entry(*item).or_default().insert(on);
    for carried in carried {
        let Some(missed) = carried.pupils.get(&pupil) else { continue };
        carried
            .items
            .iter()
            .filter(|item| !missed.contains(item))
            .for_each(|item| taught(item, carried.as_of));
    }
    for record in records {
        let theirs = |entry: &RegisterEntry| entry.pupil_id == pupil && entry.was_taught();
        if record.register.iter().any(theirs) {
            record.items.iter().for_each(|item| taught(item, record.on));
        }
    }
    for catch_up in catch_ups.into_iter().filter(|one| one.pupils.contains(&pupil)) {
        catch_up.items.iter().for_each(|item| taught(item, catch_up.on));
    }
    days
}

#[cfg(test)]
mod tests;
