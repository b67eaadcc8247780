//! Which version of its sequence a group is taught from on a day. Several versions may be alive at once: a
//! group can finish the one it has while others go on to the next.

use std::collections::BTreeSet;

use uuid::Uuid;

use crate::{
    id::VersionId,
    time::{Date, Span},
};

/// A published version, as far as it matters when it is taught from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Published {
    /// Its id.
    pub id: VersionId,
    /// 1, 2, 3 ...
    pub number: i32,
    /// First day it is taught from.
    pub effective_on: Date,
    /// First day it is not taught from any more.
    pub withdrawn_on: Option<Date>,
}

impl Published {
    fn is_taught_on(&self, day: Date) -> bool {
        self.effective_on <= day && self.withdrawn_on.is_none_or(|withdrawn| day < withdrawn)
    }
}

/// The versions of its sequence, and those of them a group keeps on certain days. What is in force for a
/// group, or without a group for the sequence, is decided here and nowhere else.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Course {
    /// Every published version, any order.
    pub published: Vec<Published>,
    /// The versions the group keeps, earliest first; no day stands in two.
    pub kept: Vec<(VersionId, Span)>,
}

/// Records that stand in the way of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InTheWay {
    /// How many.
    pub records: usize,
    /// The latest day of one.
    pub latest: Date,
}

/// Days on which another version would be in force, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    /// The days.
    pub days: Span,
    /// The version now.
    pub before: Option<VersionId>,
    /// The version then.
    pub after: Option<VersionId>,
}

/// The version a draft would be published as.
fn to_be() -> VersionId {
    VersionId::from_uuid(Uuid::nil())
}

impl Course {
    /// The version in force on a day: the one kept, unless it was withdrawn by then, else the one that took
    /// effect last.
    pub fn in_force(&self, day: Date) -> Option<VersionId> {
        let kept = self.keeps(day);
        let taught = || self.published.iter().filter(|version| version.is_taught_on(day));
        let found = taught().find(|version| Some(version.id) == kept);
        found.or_else(|| taught().max_by_key(|one| (one.effective_on, one.number))).map(|one| one.id)
    }

    /// The version the group was told to keep on a day.
    pub fn keeps(&self, day: Date) -> Option<VersionId> {
        self.kept.iter().find(|(_, span)| span.holds(day)).map(|(id, _)| *id)
    }

    /// The last day of the version the group keeps on a day; none while it goes on, and where it keeps none.
    pub fn keeps_until(&self, day: Date) -> Option<Date> {
        self.kept.iter().find(|(_, span)| span.holds(day))?.1.until
    }

    /// Whether a group may have been taught from a version on some day up to this one, as far as those who
    /// teach could know: it was in force for who follows it, on the day it was withdrawn too. What a group keeps
    /// does not matter here: that can be said anew of a day on which another version was taught already.
    pub fn may_have_been_taught(&self, version: VersionId, until: Date) -> bool {
        let on = |one: &Published| {
            one.effective_on <= until && one.withdrawn_on.is_none_or(|day| day >= one.effective_on)
        };
        self.published.iter().any(|one| one.id == version && on(one))
    }

    /// The same with the draft published, in force from a day on.
    #[must_use]
    pub fn revised(mut self, effective_on: Date) -> Self {
        let number = self.published.iter().map(|one| one.number).max().unwrap_or_default() + 1;
        self.published.push(Published { id: to_be(), number, effective_on, withdrawn_on: None });
        self
    }

    /// Whether what [`Self::revised`] added is in force on a day.
    pub fn is_revised(&self, day: Date) -> bool {
        self.in_force(day) == Some(to_be())
    }

    /// The same with a version withdrawn from a day on, or taught again where there is no day.
    #[must_use]
    pub fn withdrawing(mut self, version: VersionId, from: Option<Date>) -> Self {
        for one in self.published.iter_mut().filter(|one| one.id == version) {
            one.withdrawn_on = from;
        }
        self
    }

    /// The same with the group keeping a version from a day on, or following the sequence. What was said of
    /// later days is said anew by this.
    #[must_use]
    pub fn keeping(mut self, version: Option<VersionId>, from: Date) -> Self {
        let eve = from.pred_opt();
        self.kept = self.kept.into_iter().filter_map(|(id, span)| Some((id, span.up_to(eve)?))).collect();
        match (version, self.kept.last_mut()) {
            (Some(id), Some((last, span))) if *last == id && span.until == eve => span.until = None,
            (Some(id), _) => self.kept.push((id, Span { from, until: None })),
            (None, _) => {}
        }
        self
    }

    /// The records that stand in the way of `after` in place of this: on their day another version would be
    /// in force than now, and they were not made under that one. Each by its day and version.
    pub fn in_the_way(&self, after: &Self, records: &[(Date, VersionId)]) -> Option<InTheWay> {
        let found = records.iter().filter(|(day, version)| {
            let then = after.in_force(*day);
            self.in_force(*day) != then && then != Some(*version)
        });
        let days: Vec<Date> = found.map(|(day, _)| *day).collect();
        Some(InTheWay { records: days.len(), latest: *days.iter().max()? })
    }

    /// The days from `from` to the last, if there is one, on which a version is in force now and by `after`
    /// another would be, or none.
    pub fn changes(&self, after: &Self, from: Date, last: Option<Date>) -> Vec<Turn> {
        let days = self.turns().into_iter().chain(after.turns()).chain([from]);
        let days: BTreeSet<Date> =
            days.filter(|day| *day >= from && last.is_none_or(|last| *day <= last)).collect();
        let mut out: Vec<Turn> = Vec::new();
        let mut open = false;
        for day in days {
            let (before, then) = (self.in_force(day), after.in_force(day));
            let eve = day.pred_opt();
            match out.last_mut().filter(|_| open) {
                Some(turn) if (turn.before, turn.after) == (before, then) => continue,
                Some(turn) => turn.days.until = eve,
                None => {}
            }
            open = before.is_some() && before != then;
            if open {
                out.push(Turn { days: Span { from: day, until: last }, before, after: then });
            }
        }
        out
    }

    /// The days on which another version may come into force.
    fn turns(&self) -> BTreeSet<Date> {
        let published = self.published.iter().flat_map(|one| [Some(one.effective_on), one.withdrawn_on]);
        let kept = self
            .kept
            .iter()
            .flat_map(|(_, span)| [Some(span.from), span.until.and_then(|last| last.succ_opt())]);
        published.chain(kept).flatten().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        format!("2026-{text}").parse().unwrap()
    }

    fn id(n: u128) -> VersionId {
        VersionId::from_uuid(Uuid::from_u128(n))
    }

    /// Versions 1 from September and 2 from 30 November.
    fn course() -> Course {
        let version = |n: i32, on: &str| Published {
            id: id(n.unsigned_abs().into()),
            number: n,
            effective_on: day(on),
            withdrawn_on: None,
        };
        Course { published: vec![version(1, "09-01"), version(2, "11-30")], kept: Vec::new() }
    }

    /// Which version is in force on these days, by number; 0 is none, 9 the draft.
    fn on(course: &Course, days: &[&str]) -> Vec<u128> {
        let number = |id: VersionId| if id == to_be() { 9 } else { id.uuid().as_u128() };
        days.iter().map(|text| course.in_force(day(text)).map_or(0, number)).collect()
    }

    #[test]
    fn the_one_that_took_effect_last_is_in_force_unless_another_is_kept() {
        let days = ["08-31", "09-01", "11-29", "11-30", "12-15"];
        assert_eq!(on(&course(), &days), [0, 1, 1, 2, 2]);
        let stays = course().keeping(Some(id(1)), day("11-30"));
        assert_eq!(on(&stays, &days), [0, 1, 1, 1, 1]);
        // Back to following, and again: the days before stay as they were.
        let back = stays.clone().keeping(None, day("12-10"));
        assert_eq!(on(&back, &days), [0, 1, 1, 1, 2]);
        assert_eq!(back.kept, [(id(1), Span { from: day("11-30"), until: Some(day("12-09")) })]);
        let until = |text: &str| back.keeps_until(day(text)).map(|day| day.to_string());
        assert_eq!((until("12-01").as_deref(), until("12-10")), (Some("2026-12-09"), None));
        assert_eq!(back.keeping(Some(id(1)), day("12-10")), stays, "no seam");
        // Said anew for an earlier day, the later is gone.
        assert_eq!(on(&stays.keeping(None, day("11-01")), &days), [0, 1, 1, 2, 2]);
        // On the same day the later number counts.
        assert_eq!(on(&course().revised(day("11-30")), &["11-29", "11-30"]), [1, 9]);
        assert!(course().revised(day("11-30")).is_revised(day("11-30")));
    }

    #[test]
    fn one_withdrawn_is_not_taught_from_any_more_from_its_day() {
        let days = ["11-29", "11-30", "12-01", "12-02"];
        let gone = course().withdrawing(id(2), Some(day("12-02")));
        assert_eq!(on(&gone, &days), [1, 2, 2, 1]);
        assert_eq!(gone.clone().withdrawing(id(2), None), course());
        // Withdrawn before its day it never comes into force.
        assert_eq!(on(&course().withdrawing(id(2), Some(day("11-20"))), &days), [1, 1, 1, 1]);
        // Who keeps one that is withdrawn follows from then on.
        let kept = course().keeping(Some(id(1)), day("11-30")).withdrawing(id(1), Some(day("12-02")));
        assert_eq!(on(&kept, &days), [1, 1, 1, 2]);
    }

    #[test]
    fn what_took_effect_by_a_day_may_have_been_taught() {
        let was = |course: &Course, n: u128, until: &str| course.may_have_been_taught(id(n), day(until));
        assert!(was(&course(), 1, "12-15") && was(&course(), 1, "09-01") && !was(&course(), 1, "08-31"));
        assert!(was(&course(), 2, "11-30") && !was(&course(), 2, "11-29"));
        // Kept back-dated, the other may have been taught before it was said; one of no sequence here never.
        assert!(was(&course().keeping(Some(id(1)), day("11-30")), 2, "12-15"));
        assert!(!was(&course(), 3, "12-15"));
        // Withdrawn on its first day it may have been taught that morning; before it, never.
        assert!(was(&course().withdrawing(id(2), Some(day("11-30"))), 2, "12-01"));
        assert!(!was(&course().withdrawing(id(2), Some(day("11-29"))), 2, "12-01"));
    }

    #[test]
    fn records_of_another_version_stand_in_the_way_of_a_change_to_their_day() {
        let records = [(day("11-20"), id(1)), (day("11-24"), id(1)), (day("11-23"), id(1))];
        let way = |before: Course, after: Course| before.in_the_way(&after, &records);
        let found = InTheWay { records: 2, latest: day("11-24") };
        assert_eq!(way(course(), course().revised(day("11-23"))), Some(found));
        assert_eq!(way(course(), course().revised(day("11-25"))), None);
        let stays = course().revised(day("11-23")).keeping(Some(id(1)), day("11-23"));
        assert_eq!(way(course(), stays), None);
        // Those made under the version that comes into force do not.
        let early = course().revised(day("11-10"));
        assert_eq!(way(early, course()), None);
    }

    #[test]
    fn nobody_is_left_without_a_version() {
        let gone = |n: u128, from: &str| course().withdrawing(id(n), Some(day(from)));
        let changes = |before: &Course, after: &Course, last: Option<&str>| {
            let all = before.changes(after, day("11-25"), last.map(day)).into_iter();
            let number = |id: Option<VersionId>| id.map_or(0, |id| id.uuid().as_u128());
            let line =
                |turn: Turn| (turn.days.from, turn.days.until, number(turn.before), number(turn.after));
            all.map(line).collect::<Vec<_>>()
        };
        // From its own first day on the first is taught in place of the second.
        assert_eq!(changes(&course(), &gone(2, "11-25"), None), [(day("11-30"), None, 2, 1)]);
        let last = Some("12-18");
        assert_eq!(changes(&course(), &gone(2, "11-25"), last), [(day("11-30"), last.map(day), 2, 1)]);
        // Between the end of the one and the start of the other, unless the group has ended by then.
        let between = [(day("11-25"), Some(day("11-29")), 1, 0)];
        assert_eq!(changes(&course(), &gone(1, "11-25"), None), between);
        assert_eq!(changes(&course(), &gone(1, "11-25"), Some("11-24")), []);
        // Version 1 is withdrawn for December already: then 2 is the only one.
        let before = gone(1, "12-01");
        let after = before.clone().withdrawing(id(2), Some(day("11-25")));
        let found = [(day("11-30"), Some(day("11-30")), 2, 1), (day("12-01"), None, 2, 0)];
        assert_eq!(changes(&before, &after, None), found);
    }
}
