//! Two steps: L1 of m and o, L2 of d; L3 of e. Worked by hand.

use uuid::Uuid;

use super::*;
use crate::{
    id::{GroupId, LessonRecordId, StaffId, VersionId},
    lesson::{Mark, RegisterEntry, coverage, items_taught, next_lesson},
    sequence::settle,
};

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2027, 1, d).unwrap()
}

fn pupil(n: u128) -> PupilId {
    PupilId::from_uuid(Uuid::from_u128(n))
}

fn content() -> Content {
    let item = |g: &str, p: &str| serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
    let draft = serde_json::json!({"steps": [
        {"title": "S1", "lessons": [{"title": "L1", "items": [item("m", "m"), item("o", "ɒ")]},
                                    {"title": "L2", "items": [item("d", "d")]}]},
        {"title": "S2", "lessons": [{"title": "L3", "items": [item("e", "e")]}]}]});
    let mut next = 0;
    settle(serde_json::from_value(draft).unwrap(), &crate::sequence::Known::default(), &mut || {
        next += 1;
        Uuid::from_u128(next)
    })
    .unwrap()
}

struct World {
    content: Content,
    then: Vec<PupilId>,
    before: Option<CarriedIn>,
    records: Vec<Record>,
}

impl World {
    fn new() -> Self {
        Self { content: content(), then: vec![pupil(1), pupil(2)], before: None, records: Vec::new() }
    }

    fn lesson(&self, n: usize) -> LessonId {
        self.content.lessons().nth(n - 1).unwrap().2.id
    }

    fn item(&self, n: usize) -> ItemId {
        self.content.items().nth(n).unwrap().id
    }

    /// A record of lesson `n` on a day of January with pupils 1 and 2, the second absent.
    fn log(&mut self, n: usize, d: u32, outcome: Outcome) {
        let (_, _, lesson) = self.content.lesson(self.lesson(n)).unwrap();
        let entry = |n, mark| RegisterEntry { pupil_id: pupil(n), mark, missed: false };
        self.records.push(Record {
            id: LessonRecordId::from_uuid(Uuid::from_u128(u128::from(d))),
            group: GroupId::from_uuid(Uuid::nil()),
            on: day(d),
            slot: 1,
            generation: 0,
            version: VersionId::from_uuid(Uuid::nil()),
            lesson: lesson.id,
            outcome,
            items: lesson.items.iter().map(|item| item.id).collect(),
            reason: None,
            register: vec![entry(1, Mark::Present), entry(2, Mark::Absent)],
            taught_by: StaffId::from_uuid(Uuid::nil()),
            entered_by: StaffId::from_uuid(Uuid::nil()),
        });
    }

    /// Pupils 1 and 2 are in the group, and were unless `then` says otherwise; it is the 20th.
    fn carry(&self, d: u32, extent: Extent, edit: impl FnOnce(&mut Statement)) -> Result<CarriedIn, String> {
        let mut statement = Statement { as_of: day(d), extent: extent.clone(), pupils: None, missed: vec![] };
        edit(&mut statement);
        let facts = CarryFacts {
            content: &self.content,
            members: &[pupil(1), pupil(2)],
            then: &self.then,
            before: self.before.as_ref(),
            records: &self.records,
            today: day(20),
        };
        carry_in(facts, statement).map_err(|error| format!("{}: {error}", error.field(&extent)))
    }
}

#[test]
fn a_lesson_a_step_or_a_list_says_how_far() {
    let world = World::new();
    let lessons = |extent| world.carry(4, extent, |_| {}).map(|carried| carried.lessons);
    let (one, two, three) = (world.lesson(1), world.lesson(2), world.lesson(3));
    assert_eq!(lessons(Extent::Through(two)), Ok(vec![one, two]));
    assert_eq!(lessons(Extent::ThroughStep(1)), Ok(vec![one, two]));
    assert_eq!(lessons(Extent::ThroughStep(2)), Ok(vec![one, two, three]));
    // A list is put in teaching order.
    assert_eq!(lessons(Extent::Lessons(vec![three, one])), Ok(vec![one, three]));
    let stranger = LessonId::from_uuid(Uuid::max());
    let check = |extent, expected: &str| assert_eq!(lessons(extent), Err(expected.to_owned()));
    check(Extent::Through(stranger), "through_lesson_id: is not a lesson of the sequence version");
    check(Extent::ThroughStep(0), "through_step: must be 1 to 2, the steps of the sequence version");
    check(Extent::ThroughStep(3), "through_step: must be 1 to 2, the steps of the sequence version");
    check(Extent::Lessons(vec![one, stranger]), "lesson_ids[1]: is not a lesson of the sequence version");
    check(Extent::Lessons(vec![one, one]), "lesson_ids[1]: this lesson stands twice");
    let nothing = "lesson_ids: give at least one lesson; to take everything back, remove what was carried in";
    check(Extent::Lessons(vec![]), nothing);
}

#[test]
fn it_counts_as_taught_on_its_day_to_whom_it_names() {
    let mut world = World::new();
    let (m, o, d, e) = (world.item(0), world.item(1), world.item(2), world.item(3));
    let carried = world.carry(4, Extent::ThroughStep(1), |s| s.missed = vec![(pupil(2), vec![o])]).unwrap();
    assert_eq!(carried.items, [m, o, d]);
    let next = next_lesson(&world.content, Some(&carried), &[]).unwrap();
    assert_eq!(next.lesson.id, world.lesson(3));
    world.log(3, 6, Outcome::Delivered);
    assert_eq!(items_taught(Some(&carried), &world.records), BTreeSet::from([m, o, d, e]));
    let of = |n, item| {
        let covered = coverage(pupil(n), [&carried], world.records.iter(), []);
        covered.get(&item).map(|line| (line.taught_on, line.missed_on, line.times, line.carried_in))
    };
    assert_eq!(of(1, o), Some((Some(day(4)), None, 0, true)));
    assert_eq!(of(1, e), Some((Some(day(6)), None, 1, false)));
    assert_eq!(of(2, m), Some((Some(day(4)), None, 0, true)));
    assert_eq!(of(2, o), Some((None, Some(day(4)), 0, true)));
    assert_eq!(of(2, e), Some((None, Some(day(6)), 0, false)));
    // Somebody who joined later was taught nothing of it.
    assert_eq!(of(3, m), None);
}

#[test]
fn a_lesson_here_teaches_what_was_missed_and_teaches_again_what_was_not() {
    let mut world = World::new();
    let missed = |s: &mut Statement| s.missed = vec![(pupil(1), vec![content().items().next().unwrap().id])];
    let carried = world.carry(4, Extent::ThroughStep(1), missed).unwrap();
    world.log(1, 7, Outcome::Retaught);
    let of = |n, item| {
        let covered = coverage(pupil(n), [&carried], world.records.iter(), []);
        let line = covered[&world.item(item)];
        (line.taught_on, line.missed_on, line.times, line.carried_in)
    };
    // Pupil 1 missed m before and was there on the 7th; pupil 2 was away then, and needed neither.
    assert_eq!(of(1, 0), (Some(day(7)), None, 1, false));
    assert_eq!(of(1, 1), (Some(day(4)), None, 1, true));
    assert_eq!(of(2, 0), (Some(day(4)), None, 0, true));
}

#[test]
fn what_cannot_be_true_is_refused_by_its_field() {
    let mut world = World::new();
    let (m, e) = (world.item(0), world.item(3));
    let one = || Extent::ThroughStep(1);
    let check = |done: Result<CarriedIn, String>, expected: &str| {
        assert_eq!(done.map(|_| ()), Err(expected.to_owned()));
    };
    check(world.carry(21, one(), |_| {}), "as_of: 2027-01-21 is in the future");
    let named = |pupils: &[u128]| pupils.iter().map(|n| pupil(*n)).collect::<Vec<_>>();
    let pupils = |list: &[u128]| world.carry(4, one(), |s| s.pupils = Some(named(list)));
    check(pupils(&[1, 3]), "pupil_ids[1]: this pupil is not in the group");
    check(pupils(&[1, 1]), "pupil_ids[1]: this pupil stands twice");
    let missed = |list: Vec<(PupilId, Vec<ItemId>)>| world.carry(4, one(), |s| s.missed = list);
    check(
        missed(vec![(pupil(3), vec![m])]),
        "missed[0].pupil_id: this pupil is not one of those it was taught to",
    );
    check(
        missed(vec![(pupil(1), vec![]), (pupil(1), vec![])]),
        "missed[1].pupil_id: this pupil stands twice",
    );
    check(missed(vec![(pupil(1), vec![m, e])]), "missed[0].item_ids[1]: is not an item of these lessons");
    world.log(2, 6, Outcome::Delivered);
    let recorded =
        "through_step: the lesson \u{201c}L2\u{201d} is recorded on 2027-01-06: it was not taught before";
    check(world.carry(4, one(), |_| {}), recorded);
}

#[test]
fn it_can_be_put_right_until_a_record_rests_on_it() {
    let mut world = World::new();
    world.before = Some(world.carry(4, Extent::ThroughStep(1), |s| s.pupils = Some(vec![pupil(1)])).unwrap());
    world.log(1, 7, Outcome::Retaught);
    // L1 stays, on a day not after the 7th; L2 may go, and who it was taught to may change.
    let one = Extent::Through(world.lesson(1));
    let changed = world.carry(7, one.clone(), |s| s.pupils = Some(vec![pupil(1), pupil(2)])).unwrap();
    assert_eq!((changed.lessons.len(), changed.pupils.len()), (1, 2));
    let two = Extent::Lessons(vec![world.lesson(2)]);
    let rests = "the record of 2027-01-07 teaches again what was carried in: delete that record first";
    assert_eq!(world.carry(4, two, |_| {}).map(|_| ()), Err(format!("lesson_ids: {rests}")));
    assert_eq!(world.carry(8, one, |_| {}).map(|_| ()), Err(format!("through_lesson_id: {rests}")));
    let before = world.before.unwrap();
    assert_eq!(before.take_back(&world.records), Err(CarryError::RestsOn(day(7))));
    assert_eq!(before.take_back(&[]), Ok(()));
}

#[test]
fn who_has_left_may_stay_named() {
    let mut world = World::new();
    let old = world.carry(4, Extent::ThroughStep(1), |_| {}).unwrap();
    let pupils = [(pupil(9), BTreeSet::new())].into();
    world.before = Some(CarriedIn { pupils, ..old });
    let kept = world.carry(4, Extent::ThroughStep(1), |s| s.pupils = Some(vec![pupil(9), pupil(1)])).unwrap();
    assert_eq!(kept.pupils.len(), 2);
}

#[test]
fn unless_told_it_was_taught_to_the_group_of_its_day_and_stays_with_those_named() {
    let mut world = World::new();
    // Pupil 9 was in the group then and has moved on; pupil 2 joined since.
    world.then = vec![pupil(1), pupil(9)];
    let pupils = |carried: &CarriedIn| carried.pupils.keys().copied().collect::<Vec<_>>();
    let first = world.carry(4, Extent::ThroughStep(1), |_| {}).unwrap();
    assert_eq!(pupils(&first), [pupil(1), pupil(9)]);
    // Whoever was there then may be named, and who is there now.
    let named = world.carry(4, Extent::ThroughStep(1), |s| s.pupils = Some(vec![pupil(9), pupil(2)]));
    assert_eq!(pupils(&named.unwrap()), [pupil(2), pupil(9)]);
    world.before = Some(first);
    world.then = vec![pupil(1), pupil(2)];
    let later = world.carry(5, Extent::ThroughStep(2), |_| {}).unwrap();
    assert_eq!(pupils(&later), [pupil(1), pupil(9)]);
}
