//! What was taught to one pupil: by the pupil's own presence on the day, never by the
//! group's place. Taught is never known.

use std::collections::BTreeMap;

use serde::Serialize;

use super::record::Record;
use crate::{
    id::{ItemId, PupilId},
    time::Date,
};

/// What one pupil's lessons covered of one item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ItemCoverage {
    /// The first day it was taught to this pupil; none while it is missed.
    pub taught_on: Option<Date>,
    /// The last day it was taught to the group without this pupil, while still missed.
    pub missed_on: Option<Date>,
    /// Number of lessons that taught it to this pupil.
    pub times: u32,
}

/// Coverage of every item the pupil's lessons touched. A pupil stands in a record's
/// register only for days in the group, so moves and leavers need no special case.
pub fn coverage<'a>(
    pupil: PupilId,
    records: impl Iterator<Item = &'a Record>,
) -> BTreeMap<ItemId, ItemCoverage> {
    let mut covered: BTreeMap<ItemId, ItemCoverage> = BTreeMap::new();
    for record in records {
        let Some(entry) = record.register.iter().find(|entry| entry.pupil_id == pupil) else { continue };
        for item in &record.items {
            let line =
                covered.entry(*item).or_insert(ItemCoverage { taught_on: None, missed_on: None, times: 0 });
            if entry.was_taught() {
                line.taught_on = Some(line.taught_on.map_or(record.on, |on| on.min(record.on)));
                line.times += 1;
            } else {
                line.missed_on = line.missed_on.max(Some(record.on));
            }
        }
    }
    for line in covered.values_mut().filter(|line| line.taught_on.is_some()) {
        line.missed_on = None;
    }
    covered
}

#[cfg(test)]
mod tests;
