use uuid::Uuid;

use super::*;

fn day(day: u32) -> Date {
    Date::from_ymd_opt(2026, 11, day).unwrap()
}

fn staff(n: u128) -> StaffId {
    StaffId::from_uuid(Uuid::from_u128(n))
}

fn pupil(n: u128) -> PupilId {
    PupilId::from_uuid(Uuid::from_u128(n))
}

const ALDER: ClassId = ClassId::from_uuid(Uuid::from_u128(1));
const FOXES: GroupId = GroupId::from_uuid(Uuid::from_u128(2));

fn checker(n: u128) -> Checker {
    Checker { staff_id: staff(n), class_id: None, group_id: None, pupil_id: None }
}

fn in_alder() -> Places {
    Places { classes: [ALDER].into(), groups: BTreeSet::new() }
}

#[test]
fn a_round_is_for_those_it_names_or_for_everybody() {
    let nobody_said = RoundPlan::default();
    assert!(nobody_said.is_for(pupil(1), &Places::default()));
    let whom = Whom { class_ids: vec![ALDER], group_ids: vec![FOXES], pupil_ids: vec![pupil(7)] };
    let mut plan = RoundPlan { whom: Some(whom), ..RoundPlan::default() };
    let foxes = Places { classes: BTreeSet::new(), groups: [FOXES].into() };
    assert!(plan.is_for(pupil(1), &in_alder()) && plan.is_for(pupil(1), &foxes));
    assert!(plan.is_for(pupil(7), &Places::default()) && !plan.is_for(pupil(1), &Places::default()));
    // The seventh record was made one with the ninth.
    plan.rename(|id| if id == pupil(7) { pupil(9) } else { id });
    assert!(plan.is_for(pupil(9), &Places::default()) && !plan.is_for(pupil(7), &Places::default()));
    assert!(plan.names_pupils() && !nobody_said.names_pupils());
}

#[test]
fn the_nearest_word_says_who_checks_a_pupil() {
    let of_class = Checker { class_id: Some(ALDER), ..checker(1) };
    let with_another = Checker { class_id: Some(ALDER), ..checker(2) };
    let of_group = Checker { group_id: Some(FOXES), ..checker(3) };
    let of_pupil = Checker { pupil_id: Some(pupil(7)), ..checker(4) };
    let plan = RoundPlan { whom: None, checkers: vec![of_class, with_another, of_group, of_pupil] };
    let both = Places { groups: [FOXES].into(), ..in_alder() };
    assert_eq!(plan.checkers_of(pupil(1), &in_alder()), [staff(1), staff(2)].into());
    assert_eq!(plan.checkers_of(pupil(1), &both), [staff(3)].into());
    assert_eq!(plan.checkers_of(pupil(7), &both), [staff(4)].into());
    assert_eq!(plan.checkers_of(pupil(1), &Places::default()), [].into());
}

#[test]
fn lists_that_say_nothing_or_too_much_are_refused() {
    let plan = |whom: Option<Whom>, checkers: Vec<Checker>| RoundPlan { whom, checkers }.check();
    assert_eq!(plan(None, vec![]), Ok(()));
    assert_eq!(plan(Some(Whom::default()), vec![]), Err(RoundError::Nobody));
    let many = Whom { pupil_ids: (0..501).map(pupil).collect(), ..Whom::default() };
    assert_eq!(plan(Some(many), vec![]), Err(RoundError::TooMany("whom")));
    let one = Checker { class_id: Some(ALDER), ..checker(1) };
    let two = Checker { group_id: Some(FOXES), ..one.clone() };
    assert_eq!(plan(None, vec![one.clone(), checker(1)]), Err(RoundError::OfOne(1)));
    assert_eq!(plan(None, vec![one.clone(), two]), Err(RoundError::OfOne(1)));
    assert_eq!(plan(None, vec![one.clone(), one]), Err(RoundError::Twice(1)));
}

#[test]
fn new_days_may_leave_no_answer_outside() {
    let dates = |opens, closes| Dates { opens_on: day(opens), closes_on: day(closes) };
    let answers = [(day(16), 3), (day(18), 20), (day(20), 2)];
    assert_eq!(dates(16, 20).check(&answers), Ok(()));
    assert_eq!(dates(16, 17).check(&answers), Err(RoundError::LeavesAfter(22)));
    assert_eq!(dates(17, 27).check(&answers), Err(RoundError::LeavesBefore(3)));
    assert_eq!(dates(27, 16).check(&[]), Err(RoundError::Reversed));
}

#[test]
fn how_far_a_pupil_is() {
    let known = Known { items: 3, ..Known::default() };
    assert_eq!(known.standing(), Standing::LeftToDo);
    assert_eq!(Known { settled: 2, answered: 2, ..known }.standing(), Standing::UnderWay);
    assert_eq!(Known { begun: true, ..known }.standing(), Standing::UnderWay);
    assert_eq!(Known { settled: 3, answered: 1, ..known }.standing(), Standing::Done);
    assert_eq!(
        Known { settled: 3, answered: 3, begun: true, ..known }.standing(),
        Standing::UnderWay,
        "not finished"
    );
    // A sitting finished, or every item left out, and nothing answered: it is to be done still.
    assert_eq!(Known { finished: true, ..known }.standing(), Standing::LeftToDo);
    assert_eq!(Known { finished: true, settled: 3, ..known }.standing(), Standing::LeftToDo);
    assert_eq!(Known { finished: true, settled: 1, answered: 1, ..known }.standing(), Standing::Done);
    let done = Known { finished: true, answered: 1, exempt: true, absent: true, ..known };
    assert_eq!(done.standing(), Standing::Done, "what was done stays done");
    let away = Known { absent: true, settled: 1, ..known };
    assert_eq!(away.standing(), Standing::AbsentToday);
    assert_eq!(Known { exempt: true, ..away }.standing(), Standing::Exempt);
    assert_eq!(Known { not_accessible: true, ..away }.standing(), Standing::NotAccessible);
}
