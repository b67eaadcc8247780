//! What can be true of a catch-up record.

use uuid::Uuid;

use super::*;
use crate::{
    calendar::{Calendar, HalfTerm, Year},
    id::HalfTermId,
    sequence::settle,
    text::Title,
};

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2026, 11, d).unwrap()
}

struct World {
    contents: Vec<(VersionId, Arc<Content>)>,
    members: Vec<PupilId>,
    taught: BTreeSet<ItemId>,
    met: BTreeMap<PupilId, BTreeSet<ItemId>>,
    calendar: Calendar,
}

impl World {
    /// Two versions, of m, o and of m, o, d; the group was taught m and o.
    fn new() -> Self {
        let item = |grapheme: &str, phoneme: &str| serde_json::json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}});
        let mut next = 0;
        let mut content = |items: Vec<serde_json::Value>| {
            let draft = serde_json::json!({"steps": [{"title": "S", "lessons": [
                {"title": "L", "items": items}]}]});
            let new_id = &mut || {
                next += 1;
                Uuid::from_u128(next)
            };
            Arc::new(
                settle(serde_json::from_value(draft).unwrap(), &crate::sequence::Known::default(), new_id)
                    .unwrap(),
            )
        };
        let (first, second) =
            (content(vec![item("m", "m"), item("o", "ɒ")]), content(vec![item("d", "d"), item("o", "ɒ")]));
        let term = HalfTerm {
            id: HalfTermId::from_uuid(Uuid::nil()),
            name: Title::new("Autumn 2").unwrap(),
            starts_on: day(2),
            ends_on: day(27),
        };
        let year = Year { year: 2026, starts_on: day(1), ends_on: day(30), half_terms: vec![term] };
        let version = |n| VersionId::from_uuid(Uuid::from_u128(n));
        Self {
            taught: first.items().map(|item| item.id).collect(),
            contents: vec![(version(2), second), (version(1), first)],
            members: (1..=3).map(|n| PupilId::from_uuid(Uuid::from_u128(n))).collect(),
            met: BTreeMap::new(),
            calendar: Calendar { years: vec![year], closures: vec![] },
        }
    }

    /// The id of an item by its letter.
    fn item(&self, letter: &str) -> ItemId {
        let all = self.contents.iter().flat_map(|(_, content)| content.items());
        all.into_iter().find(|item| item.label.as_str().starts_with(letter)).unwrap().id
    }

    fn say(
        &self,
        on: Date,
        items: &[&str],
        pupils: &[usize],
    ) -> Result<(CatchUp, Vec<Warning>), Vec<String>> {
        let report = CatchUpReport {
            on,
            items: items.iter().map(|letter| self.item(letter)).collect(),
            pupils: (0..)
                .zip(pupils.iter().map(|n| PupilId::from_uuid(Uuid::from_u128(*n as u128))))
                .collect(),
            taught_by: None,
        };
        let facts = CatchUpFacts {
            id: CatchUpId::from_uuid(Uuid::from_u128(7)),
            group: GroupId::from_uuid(Uuid::nil()),
            members: &self.members,
            contents: &self.contents,
            taught: &self.taught,
            met: &self.met,
            day: self.calendar.day(on),
            today: day(20),
            entered_by: StaffId::from_uuid(Uuid::from_u128(9)),
        };
        let said =
            |faults: Vec<Fault>| faults.iter().map(|f| format!("{}: {}", f.field, f.message)).collect();
        catch_up(facts, &report).map_err(said)
    }
}

#[test]
fn items_come_in_teaching_order_with_the_versions_they_stand_in() {
    let w = World::new();
    let (record, warnings) = w.say(day(10), &["m", "o"], &[2, 1]).unwrap();
    // o stands in the version told from first, m in the one before only.
    assert_eq!(record.items, [w.item("o"), w.item("m")]);
    assert_eq!(record.versions, [w.contents[1].0, w.contents[0].0]);
    assert_eq!(record.pupils, [w.members[0], w.members[1]]);
    assert_eq!((record.taught_by, warnings), (record.entered_by, vec![]));
}

#[test]
fn catch_up_is_no_new_teaching() {
    let mut w = World::new();
    let new =
        "items[1]: \u{201c}d /d/\u{201d} was not taught to this group by then: catch-up is no new teaching";
    assert_eq!(w.say(day(10), &["m", "d"], &[1]), Err(vec![new.into()]));
    // Who was to be taught it in another group may be, and only then all of them.
    w.met.insert(w.members[0], [w.item("d")].into());
    assert!(w.say(day(10), &["m", "d"], &[1]).is_ok());
    assert_eq!(w.say(day(10), &["m", "d"], &[1, 2]), Err(vec![new.into()]));
}

#[test]
fn what_cannot_be_true_is_refused_all_at_once() {
    let w = World::new();
    let said = w.say(day(10), &["m", "m"], &[1, 4, 1]).unwrap_err();
    let expected = [
        "pupil_ids[1]: this pupil was not in the group that day",
        "pupil_ids[2]: this pupil stands twice",
        "items[1]: this item stands twice",
    ];
    assert_eq!(said, expected);
    let nothing = w.say(day(10), &[], &[]).unwrap_err();
    assert_eq!(nothing, ["items: give at least one", "pupil_ids: give at least one"]);
}

#[test]
fn the_day_is_bounded_as_a_lessons_is() {
    let w = World::new();
    assert_eq!(w.say(day(21), &["m"], &[1]), Err(vec!["on: 2026-11-21 is in the future".into()]));
    let before = Date::from_ymd_opt(2026, 10, 31).unwrap();
    let out = "on: 2026-10-31 is in no school year of the calendar".to_owned();
    assert_eq!(w.say(before, &["m"], &[1]), Err(vec![out]));
    assert_eq!(w.say(day(14), &["m"], &[1]).unwrap().1, [Warning::OnWeekend]);
}

#[test]
fn names_of_before_become_those_there_are() {
    let pupil = |n| PupilId::from_uuid(Uuid::from_u128(n));
    let now = |id: PupilId| if [pupil(7), pupil(8)].contains(&id) { pupil(1) } else { id };
    let of =
        |named: &[u128]| pupils_under_one_record(&named.iter().map(|n| pupil(*n)).collect::<Vec<_>>(), now);
    assert_eq!(of(&[7, 2]), [(0, pupil(1)), (1, pupil(2))]);
    // Whoever comes after keeps the place sent.
    assert_eq!(of(&[1, 7, 8, 4]), [(0, pupil(1)), (3, pupil(4))]);
    // One record twice stays twice: it is a mistake.
    assert_eq!(of(&[7, 7]), [(0, pupil(1)), (1, pupil(1))]);
}
