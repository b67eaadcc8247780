//! The open list of one pupil: items taught without this pupil. One leaves the list when it was taught to
//! this pupil and then answered right in a check, and by nothing else. Days are not taken apart: what was
//! missed on a day comes before what was taught on it, that before what was asked, and answers of one day
//! count together.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::{
    check::{CheckItem, CheckKind, Outcome},
    id::{CheckItemId, ItemId, PupilId},
    lesson::{CarriedIn, CatchUp, Record},
    sequence::{Content, Item, ItemKind},
    time::Date,
};

crate::vocabulary! {
    /// What an item on the open list waits for.
    pub enum Stage as "CatchUpStage" {
        /// Missed and not taught since, or answered wrong since it was.
        ToTeach = "to_teach",
        /// Taught since it was missed, and not answered right in a check since.
        ToCheck = "to_check",
    }
}

/// An item on the open list of one pupil.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OpenItem {
    /// The item.
    pub item_id: ItemId,
    /// What it waits for.
    pub stage: Stage,
    /// The first day it was taught without this pupil.
    pub missed_on: Date,
    /// The last day since on which it was taught to this pupil.
    pub taught_on: Option<Date>,
    /// The last day since on which this pupil was asked it in a check.
    pub asked_on: Option<Date>,
    /// Whether it is to be taught again because it was answered wrong since it was taught.
    pub again: bool,
}

/// One pupil's answers to checks that count, by the item asked for.
pub type Answers = BTreeMap<ItemId, Vec<(Date, Outcome)>>;

/// What happened about one item on one day.
#[derive(Clone, Copy, Debug, Default)]
struct Day {
    missed: bool,
    taught: bool,
    /// Whether every answer was right; none where nothing was asked.
    right: Option<bool>,
}

/// The items that can stand on open lists, in teaching order: each once, and none that only goes back.
#[derive(Clone, Debug)]
pub struct Listed<'a> {
    items: Vec<&'a Item>,
    place: BTreeMap<ItemId, usize>,
}

impl<'a> Listed<'a> {
    /// Those of some versions.
    pub fn of(contents: impl IntoIterator<Item = &'a Content>) -> Self {
        let mut listed = Self { items: Vec::new(), place: BTreeMap::new() };
        for item in contents.into_iter().flat_map(Content::items) {
            if item.kind != ItemKind::Review && !listed.place.contains_key(&item.id) {
                listed.place.insert(item.id, listed.items.len());
                listed.items.push(item);
            }
        }
        listed
    }

    /// The items.
    pub fn items(&self) -> &[&'a Item] {
        &self.items
    }

    /// The open list of a pupil, longest open first, then in teaching order. Without `answers`, for who may not
    /// know them, it is what was missed and not taught since. What no check asks for leaves it once it was taught.
    pub fn open<'b>(
        &self,
        pupil: PupilId,
        carried: impl IntoIterator<Item = &'b CarriedIn>,
        records: impl IntoIterator<Item = &'b Record>,
        catch_ups: impl IntoIterator<Item = &'b CatchUp>,
        answers: Option<&Answers>,
    ) -> Vec<OpenItem> {
        let place = |line: &OpenItem| self.place.get(&line.item_id).copied();
        let mut open = open_items(pupil, carried, records, catch_ups, answers);
        open.retain(|line| {
            place(line).is_some_and(|n| line.stage == Stage::ToTeach || is_checked(self.items[n].kind))
        });
        open.sort_by_key(|line| (line.missed_on, place(line)));
        open
    }
}

/// Whether there are checks that ask for items of a kind.
const fn is_checked(kind: ItemKind) -> bool {
    matches!(kind, ItemKind::Gpc | ItemKind::ExceptionWord)
}

/// What is open of all a pupil missed, longest open first.
fn open_items<'a>(
    pupil: PupilId,
    carried: impl IntoIterator<Item = &'a CarriedIn>,
    records: impl IntoIterator<Item = &'a Record>,
    catch_ups: impl IntoIterator<Item = &'a CatchUp>,
    answers: Option<&Answers>,
) -> Vec<OpenItem> {
    let mut days: BTreeMap<ItemId, BTreeMap<Date, Day>> = BTreeMap::new();
    let mut happened = |item: ItemId, on: Date, taught: bool| {
        let day = days.entry(item).or_default().entry(on).or_default();
        (day.taught, day.missed) = (day.taught || taught, day.missed || !taught);
    };
    for carried in carried {
        let Some(missed) = carried.pupils.get(&pupil) else { continue };
        for item in &carried.items {
            happened(*item, carried.as_of, !missed.contains(item));
        }
    }
    for record in records {
        let Some(entry) = record.register.iter().find(|entry| entry.pupil_id == pupil) else { continue };
        for item in &record.items {
            happened(*item, record.on, entry.was_taught());
        }
    }
    for catch_up in catch_ups.into_iter().filter(|one| one.pupils.contains(&pupil)) {
        for item in &catch_up.items {
            happened(*item, catch_up.on, true);
        }
    }
    for (item, given) in answers.into_iter().flatten() {
        let Some(days) = days.get_mut(item) else { continue };
        for (on, outcome) in given.iter().filter(|(_, outcome)| *outcome != Outcome::NotOffered) {
            let right = &mut days.entry(*on).or_default().right;
            *right = Some(right.unwrap_or(true) && *outcome == Outcome::Right);
        }
    }
    let open = days.iter().filter_map(|(item, days)| open_item(*item, days));
    let mut open: Vec<OpenItem> =
        open.filter(|line| answers.is_some() || line.stage == Stage::ToTeach).collect();
    open.sort_by_key(|line| line.missed_on);
    open
}

/// Goes through the days of one item; none if it was never missed, or is missed no longer.
fn open_item(item_id: ItemId, days: &BTreeMap<Date, Day>) -> Option<OpenItem> {
    let mut open: Option<OpenItem> = None;
    for (on, day) in days {
        if open.is_none() && !day.missed {
            if day.taught {
                return None;
            }
            continue;
        }
        let line = open.get_or_insert(OpenItem {
            item_id,
            stage: Stage::ToTeach,
            missed_on: *on,
            taught_on: None,
            asked_on: None,
            again: false,
        });
        if day.taught {
            (line.stage, line.taught_on, line.again) = (Stage::ToCheck, Some(*on), false);
        }
        match day.right {
            Some(true) if line.stage == Stage::ToCheck => return None,
            Some(false) if line.taught_on.is_some() => (line.stage, line.again) = (Stage::ToTeach, true),
            _ => {}
        }
        line.asked_on = day.right.map(|_| *on).or(line.asked_on);
    }
    open
}

/// Which items of a sequence the items of checks ask for: a correspondence by itself, and anything else by
/// its label, where a check has that very word to read.
pub fn items_asked<'a>(
    checks: impl IntoIterator<Item = (CheckKind, &'a CheckItem)>,
    items: &[&Item],
) -> BTreeMap<CheckItemId, Vec<ItemId>> {
    let mut by_label: BTreeMap<&str, Vec<ItemId>> = BTreeMap::new();
    for item in items.iter().filter(|item| item.gpc.is_none()) {
        by_label.entry(item.label.as_str()).or_default().push(item.id);
    }
    let asked = |(kind, item): (CheckKind, &CheckItem)| {
        let reads_a_word = matches!(kind, CheckKind::WordReading | CheckKind::ExceptionWordReading);
        let of_label = || by_label.get(item.prompt.as_str()).filter(|_| reads_a_word);
        let asks = item.gpc_id.map_or_else(|| of_label().cloned(), |gpc| Some(vec![gpc]));
        asks.map(|asks| (item.id, asks))
    };
    checks.into_iter().filter_map(asked).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use uuid::Uuid;

    use super::*;
    use crate::{
        id::{CatchUpId, GroupId, LessonId, LessonRecordId, StaffId, VersionId},
        lesson::{Mark, Outcome as Delivered, RegisterEntry},
    };

    const PUPIL: PupilId = PupilId::from_uuid(Uuid::from_u128(1));
    const ITEM: ItemId = ItemId::from_uuid(Uuid::from_u128(2));

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2026, 11, d).unwrap()
    }

    fn lesson(d: u32, mark: Mark) -> Record {
        let nil = Uuid::nil();
        Record {
            id: LessonRecordId::from_uuid(nil),
            group: GroupId::from_uuid(nil),
            on: day(d),
            slot: 1,
            generation: 0,
            version: VersionId::from_uuid(nil),
            lesson: LessonId::from_uuid(nil),
            outcome: Delivered::Delivered,
            items: vec![ITEM],
            reason: None,
            register: vec![RegisterEntry { pupil_id: PUPIL, mark, missed: false }],
            taught_by: StaffId::from_uuid(nil),
            entered_by: StaffId::from_uuid(nil),
        }
    }

    fn caught_up(d: u32, pupil: PupilId) -> CatchUp {
        let nil = Uuid::nil();
        CatchUp {
            id: CatchUpId::from_uuid(nil),
            group: GroupId::from_uuid(nil),
            on: day(d),
            items: vec![ITEM],
            pupils: vec![pupil],
            versions: vec![],
            taught_by: StaffId::from_uuid(nil),
            entered_by: StaffId::from_uuid(nil),
        }
    }

    /// What happened, each with its day of November: `a` absent, `p` present, `u` caught up, `x` another
    /// pupil caught up; `r` answered right, `w` wrong, `-` gave no answer, `n` was not asked.
    fn line(happened: &str, answers_known: bool) -> Option<OpenItem> {
        let (mut records, mut catch_ups, mut answers) = (vec![], vec![], Answers::new());
        for word in happened.split_whitespace() {
            let d = word[1..].parse().unwrap();
            let mut answer = |outcome| answers.entry(ITEM).or_default().push((day(d), outcome));
            match &word[..1] {
                "a" => records.push(lesson(d, Mark::Absent)),
                "p" => records.push(lesson(d, Mark::Present)),
                "u" => catch_ups.push(caught_up(d, PUPIL)),
                "x" => catch_ups.push(caught_up(d, PupilId::from_uuid(Uuid::from_u128(9)))),
                "r" => answer(Outcome::Right),
                "w" => answer(Outcome::Wrong),
                "-" => answer(Outcome::NoResponse),
                _ => answer(Outcome::NotOffered),
            }
        }
        let mut open = open_items(PUPIL, None, &records, &catch_ups, answers_known.then_some(&answers));
        assert!(open.len() < 2);
        open.pop()
    }

    /// Stage, then the days missed, taught and asked, 0 for none; `again` behind.
    #[track_caller]
    fn check(happened: &str, expected: &str) {
        use chrono::Datelike as _;
        let of = |day: Option<Date>| day.map_or(0, |day| day.day());
        let said = line(happened, true).map_or("gone".to_owned(), |line| {
            let again = if line.again { " again" } else { "" };
            let days = [Some(line.missed_on), line.taught_on, line.asked_on].map(of);
            format!("{} {} {} {}{again}", line.stage, days[0], days[1], days[2])
        });
        assert_eq!(said, expected, "{happened}");
    }

    #[test]
    fn missed_is_open_until_taught_and_then_answered_right() {
        check("a2", "to_teach 2 0 0");
        check("a2 x3", "to_teach 2 0 0");
        check("a2 u3", "to_check 2 3 0");
        check("a2 p3", "to_check 2 3 0");
        check("a2 u3 r4", "gone");
        // On the day itself: what is taught on a day comes before what is asked.
        check("a2 u3 r3", "gone");
        check("a2 u3 n4", "to_check 2 3 0");
    }

    #[test]
    fn missed_and_taught_on_one_day_is_to_be_checked() {
        check("a2 u2", "to_check 2 2 0");
        // A second lesson of that item, whichever of the two was missed.
        check("a2 p2", "to_check 2 2 0");
        check("p2 a2", "to_check 2 2 0");
        check("a2 u2 r2", "gone");
        check("a2 u2 w2", "to_teach 2 2 2 again");
        check("a2 u2 r3", "gone");
        check("a2 r2", "to_teach 2 0 2");
    }

    #[test]
    fn taught_before_the_day_is_never_missed() {
        check("p1 a2", "gone");
        check("p1 a2 u2", "gone");
        check("p1", "gone");
        check("r1", "gone");
    }

    #[test]
    fn right_without_being_taught_is_no_catch_up() {
        check("a2 r3", "to_teach 2 0 3");
        check("r1 a2", "to_teach 2 0 0");
        check("a2 r3 u4", "to_check 2 4 3");
        check("a2 r3 u4 r5", "gone");
    }

    #[test]
    fn wrong_since_is_to_be_taught_again() {
        check("a2 u3 w4", "to_teach 2 3 4 again");
        check("a2 u3 -4", "to_teach 2 3 4 again");
        check("a2 u3 w3", "to_teach 2 3 3 again");
        // Right later, without being taught again, is not enough.
        check("a2 u3 w4 r5", "to_teach 2 3 5 again");
        check("a2 u3 w4 u5", "to_check 2 5 4");
        check("a2 u3 w4 u5 r6", "gone");
        // A day with a wrong answer is not right, and teaching of that day came before it.
        check("a2 u3 r4 w4", "to_teach 2 3 4 again");
        check("a2 u3 w4 u4", "to_teach 2 4 4 again");
        // What was cleared stays cleared: later answers are the business of its state.
        check("a2 u3 r4 w5", "gone");
        // Wrong before it was taught at all.
        check("a2 w3", "to_teach 2 0 3");
    }

    #[test]
    fn missed_twice_counts_from_the_first_day() {
        check("a2 a4", "to_teach 2 0 0");
        check("a2 u3 a4", "to_check 2 3 0");
    }

    #[test]
    fn who_may_not_know_answers_sees_what_was_not_taught_since() {
        for (happened, shown) in
            [("a2", true), ("a2 r3", true), ("a2 u3", false), ("a2 u3 w4", false), ("a2 u3 r4", false)]
        {
            let line = line(happened, false);
            assert_eq!(line.is_some(), shown, "{happened}");
            assert!(line.is_none_or(|line| line.stage == Stage::ToTeach && line.asked_on.is_none()));
        }
    }

    #[test]
    fn what_was_carried_in_is_missed_or_taught_as_of_its_day() {
        let carried = |missed: &[ItemId]| CarriedIn {
            as_of: day(1),
            lessons: vec![],
            items: vec![ITEM],
            pupils: [(PUPIL, missed.iter().copied().collect::<BTreeSet<_>>())].into(),
        };
        let open = |carried: &CarriedIn| open_items(PUPIL, [carried], &[], &[], None);
        assert_eq!(open(&carried(&[])), []);
        assert_eq!(open(&carried(&[ITEM])).len(), 1);
        assert_eq!(open_items(PUPIL, [&carried(&[])], &[lesson(2, Mark::Absent)], &[], None), []);
    }
}
