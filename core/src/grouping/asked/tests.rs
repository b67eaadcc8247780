use super::*;
use crate::{id::Id, rules::pack, text::Name};

fn id<K>(n: u128) -> Id<K> {
    Id::from_uuid(uuid::Uuid::from_u128(n))
}

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2026, 11, d).unwrap()
}

/// Zoe (1) and Max (2) of class 51 are in group 71, Ida (3) of class 52 in none; Bo (4) is in year 2.
fn school() -> SchoolNow {
    let pupil = |n, class, year: &str, groups: &[u128]| PupilNow {
        id: id(n),
        year_group: Some(year.into()),
        classes: [id(class)].into(),
        groups: groups.iter().map(|group| id(*group)).collect(),
    };
    let group = |name: &str, sequence, closed_on| GroupNow {
        name: name.into(),
        sequence: id(sequence),
        closed_on,
        adults: BTreeSet::new(),
        lessons: Vec::new(),
    };
    SchoolNow {
        today: day(25),
        pupils: vec![
            pupil(1, 51, "year_1", &[71]),
            pupil(2, 51, "year_1", &[71]),
            pupil(3, 52, "year_1", &[]),
            pupil(4, 52, "year_2", &[]),
        ],
        classes: [id(51), id(52)].into(),
        groups: [
            (id(71), group("Ants", 90, None)),
            (id(72), group("Bees", 91, None)),
            (id(73), group("Owls", 90, Some(day(24)))),
        ]
        .into(),
        staff: [id(80), id(82)].into(),
        may_teach: [id(80)].into(),
    }
}

fn slot(group: Option<u128>, name: &str) -> Slot {
    Slot {
        group_id: group.map(id),
        name: Name::new(name).unwrap(),
        staff_id: None,
        room: None,
        time: None,
        least: 0,
        most: 9,
        year_groups: BTreeSet::new(),
    }
}

fn asked(groups: Vec<Slot>) -> Asked {
    Asked {
        as_of: None,
        sequence_id: id(90),
        pupil_ids: vec![],
        class_ids: BTreeSet::new(),
        year_groups: BTreeSet::new(),
        groups,
        leave: BTreeSet::new(),
        together: vec![],
        apart: vec![],
        pins: vec![],
    }
}

fn whom(asked: &Asked) -> Result<Vec<u128>, Vec<String>> {
    let rules = pack("england").unwrap();
    let pupils = asked.whom(&school(), rules).map_err(|faults| {
        faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect::<Vec<_>>()
    })?;
    Ok(pupils.iter().map(|id| id.uuid().as_u128()).collect())
}

#[test]
fn pupils_come_by_id_class_year_group_and_group_each_once() {
    let new = || asked(vec![slot(None, "Foxes")]);
    assert_eq!(whom(&new()), Ok(vec![]));
    assert_eq!(whom(&Asked { pupil_ids: vec![id(3), id(1), id(3)], ..new() }), Ok(vec![1, 3]));
    assert_eq!(whom(&Asked { class_ids: [id(52)].into(), ..new() }), Ok(vec![3, 4]));
    let year = Asked { pupil_ids: vec![id(3)], year_groups: ["year_1".to_owned()].into(), ..new() };
    assert_eq!(whom(&year), Ok(vec![1, 2, 3]));
    // Nobody is lost from a group that is filled anew.
    let filled = Asked { pupil_ids: vec![id(4)], ..asked(vec![slot(Some(71), "Ants")]) };
    assert_eq!(whom(&filled), Ok(vec![1, 2, 4]));
}

#[test]
fn what_does_not_go_with_the_school_is_named() {
    let mut ask = asked(vec![
        Slot { staff_id: Some(id(81)), ..slot(Some(71), "Foxes") },
        slot(Some(72), "Bees"),
        slot(Some(73), "Owls"),
        slot(Some(74), "Cats"),
        Slot { year_groups: ["year_99".to_owned()].into(), ..slot(None, "Foxes") },
    ]);
    ask.pupil_ids = vec![id(1), id(9)];
    ask.class_ids = [id(59)].into();
    ask.year_groups = ["year_99".to_owned()].into();
    ask.leave = [id(71)].into();
    assert_eq!(
        whom(&ask).unwrap_err(),
        [
            "pupil_ids[1]: is not a pupil of this school today",
            "class_ids: one of them is no class of this school",
            "year_groups: one of them is no year group of the rule pack",
            "groups[0].staff_id: is not of this school's staff",
            "groups[0].name: the group is called Ants",
            "groups[1].group_id: is taught another sequence",
            "groups[2].group_id: its last day is 2026-11-24",
            "groups[3].group_id: is no group of this school",
            "groups[4].year_groups: one of them is no year group of the rule pack",
            "leave: one of them is to be filled",
        ]
    );
    let ask = Asked { leave: [id(79)].into(), ..asked(vec![slot(None, "Foxes")]) };
    assert_eq!(whom(&ask).unwrap_err(), ["leave: one of them is no group of this school"]);
    let many = asked((0..31).map(|n| slot(None, &format!("Group {n}"))).collect());
    assert_eq!(whom(&many).unwrap_err(), ["groups: 31 are asked for, and 30 at most can be"]);
}

#[test]
fn who_is_in_a_group_asked_for_is_there_now() {
    let content = crate::sequence::Content::default();
    let ask = Asked { pupil_ids: vec![id(3)], ..asked(vec![slot(None, "Foxes"), slot(Some(71), "Ants")]) };
    let (school, rules) = (school(), pack("england").unwrap());
    let pupils = ask.whom(&school, rules).unwrap();
    let proposal = ask.propose(&school, &pupils, &Course::of(&content), &BTreeMap::new(), rules).unwrap();
    // Nothing to learn and nothing known: nobody of the group moves, and only who is in none comes in.
    let moves: Vec<PupilId> = proposal.moves().collect();
    assert_eq!((moves, proposal.cost), (vec![id(3)], 0));
}

#[test]
fn the_name_of_a_group_that_ends_is_free_from_the_day_after() {
    let mut school = school();
    school.groups.get_mut(&id(71)).unwrap().closed_on = Some(day(27));
    let ask = asked(vec![slot(None, "Ants"), slot(None, "Bees")]);
    let named = |from: Option<u32>| -> Vec<String> {
        ask.contradictions(&school, from.map(day)).into_iter().map(|fault| fault.field).collect()
    };
    // Before anybody says from when, the group with a last day may be gone by then.
    assert_eq!(named(None), ["groups[1].name"]);
    assert_eq!(named(Some(27)), ["groups[0].name", "groups[1].name"]);
    assert_eq!(named(Some(28)), ["groups[1].name"]);
}

#[test]
fn a_group_named_without_a_time_has_its_timetables() {
    let mut school = school();
    let ants = school.groups.get_mut(&id(71)).unwrap();
    // 9.00 to 9.30.
    ants.adults = [id(80)].into();
    ants.lessons = std::iter::once(540..570).collect();
    let mut wasps = ants.clone();
    (wasps.name, wasps.lessons) = ("Wasps".into(), vec![]);
    school.groups.insert(id(74), wasps);
    let said = |ask: &Asked| -> Vec<String> {
        let faults = ask.contradictions(&school, None).into_iter();
        faults.map(|fault| format!("{}: {}", fault.field, fault.message)).collect()
    };
    let at = |time: &str| Some(crate::text::Title::new(time).unwrap());
    let new = |time: &str| Slot { staff_id: Some(id(80)), time: at(time), ..slot(None, "Foxes") };
    let with = |time: &str| asked(vec![slot(Some(71), "Ants"), new(time)]);
    assert_eq!(said(&with("9.15")), ["groups[1].staff_id: takes Ants at that time by its timetable"]);
    assert!(said(&with("9.30")).is_empty());
    let two =
        |time: &str| asked(vec![slot(Some(71), "Ants"), Slot { time: at(time), ..slot(Some(74), "Wasps") }]);
    assert_eq!(said(&two("9.15")), ["groups[1].time: Ants has the same adult at that time by its timetable"]);
    assert!(said(&two("9.30")).is_empty());
}
