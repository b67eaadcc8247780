//! What two records of one child come to as one.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::{
    id::{GroupId, PupilId},
    lesson::RegisterEntry,
    roster::{Merging, Weekdays, weekdays_of_both},
    time::{Date, Span, united},
};

use super::{member_days::PupilDays, pupil_before::PupilBefore, pupil_lessons::PupilMark};

type Placed<K> = (K, Date, Option<Date>);

/// The kept record's page and places with the other's: a year group the kept one has stands.
pub(super) fn as_one(kept: &PupilBefore, other: &PupilBefore, out: &Merging) -> PupilBefore {
    let text = |name: &Option<plumbline_core::text::Name>| name.as_ref().map(ToString::to_string);
    let years: BTreeMap<i32, String> = other.years.iter().chain(&kept.years).cloned().collect();
    let (mine, theirs) = (kept.groups.as_deref(), other.groups.as_deref());
    PupilBefore {
        id: kept.id,
        pupil_ref: out.row.pupil_ref.clone(),
        given_name: text(&out.row.given_name).unwrap_or_default(),
        family_name: text(&out.row.family_name),
        preferred_name: text(&out.row.preferred_name),
        label: kept.label.clone(),
        date_of_birth: out.row.date_of_birth,
        left_on: out.left_on,
        upn: out.row.upn.clone(),
        years: years.into_iter().collect(),
        classes: both(&kept.classes, &other.classes),
        groups: Some(both(mine.unwrap_or_default(), theirs.unwrap_or_default())),
        days: all_days(kept, other),
    }
}

/// Places of both, no day twice in one.
fn both<K: Ord + Copy>(one: &[Placed<K>], other: &[Placed<K>]) -> Vec<Placed<K>> {
    let mut spans: BTreeMap<K, Vec<Span>> = BTreeMap::new();
    for (place, from, until) in one.iter().chain(other) {
        spans.entry(*place).or_default().push(Span { from: *from, until: *until });
    }
    let spans =
        spans.into_iter().flat_map(|(place, spans)| united(spans).into_iter().map(move |s| (place, s)));
    spans.map(|(place, span)| (place, span.from, span.until)).collect()
}

/// The weekdays of both: on days both were in a group, the kept record's.
fn all_days(kept: &PupilBefore, other: &PupilBefore) -> PupilDays {
    let groups: BTreeSet<GroupId> = kept.days.iter().chain(&other.days).map(|(group, ..)| *group).collect();
    let in_group = |one: &PupilBefore, of: GroupId| {
        let places = one.groups.iter().flatten().filter(|(group, ..)| *group == of);
        let spans: Vec<Span> = places.map(|(_, from, until)| Span { from: *from, until: *until }).collect();
        let lines = one.days.iter().filter(|(group, ..)| *group == of);
        let lines = lines.map(|(_, from, bits)| (*from, bits.and_then(Weekdays::from_bits)));
        (spans, lines.collect::<Vec<_>>())
    };
    let both = groups.into_iter().flat_map(|group| {
        let (mine, theirs) = (in_group(kept, group), in_group(other, group));
        let lines = weekdays_of_both((&mine.0, &mine.1), (&theirs.0, &theirs.1)).into_iter();
        lines.map(move |(from, days)| (group, from, days.map(Weekdays::bits)))
    });
    both.collect()
}

/// One line of a register for two of one child.
pub(super) fn one_mark(kept: &PupilMark, other: &PupilMark) -> PupilMark {
    let entry = |mark: &PupilMark| RegisterEntry {
        // Whose lines they are does not decide which counts.
        pupil_id: PupilId::from_uuid(uuid::Uuid::nil()),
        mark: mark.mark,
        missed: mark.missed,
    };
    let one = entry(kept).or(entry(other));
    PupilMark { record: kept.record, mark: one.mark, missed: one.missed }
}
