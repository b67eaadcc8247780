use std::collections::BTreeSet;

use uuid::Uuid;

use super::{
    AdultsChoice, Choices, ClassChoice, ClassNow, Facts, GroupNow, Odd, PupilChoice, PupilNow, Rollover,
    rollover,
};
use crate::{
    id::{ClassId, GroupId, Id, PupilId, StaffId},
    rules::{RulePack, pack},
    text::Name,
    time::Date,
};

fn id<K>(n: u128) -> Id<K> {
    Id::from_uuid(Uuid::from_u128(n))
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

const ELM: u128 = 1;
const OAK: u128 = 2;
const ASH: u128 = 3;

/// Elm is a mixed class of Reception and Year 1, Oak of Year 2, Ash is empty.
struct School {
    rules: &'static RulePack,
    pupils: Vec<PupilNow>,
    classes: Vec<ClassNow>,
    groups: Vec<GroupNow>,
    staff: BTreeSet<StaffId>,
}

impl School {
    fn new() -> Self {
        let class =
            |n, name: &str| ClassNow { id: id(n), name: name.to_owned(), adults: BTreeSet::from([id(50)]) };
        Self {
            rules: pack("england").unwrap(),
            pupils: vec![
                // On 31 August 2026: 5, so Year 1 from September.
                pupil(11, "2021-03-04", ELM, Some("reception")),
                // Six: Year 2.
                pupil(12, "2020-02-29", ELM, Some("year_1")),
                // Six on 31 August, of the Year 2 cohort, taught a year below it.
                pupil(13, "2020-07-01", ELM, Some("reception")),
                // Seven: beyond this pack's last year group.
                pupil(14, "2019-05-06", OAK, Some("year_2")),
            ],
            classes: vec![class(ELM, "Elm"), class(OAK, "Oak"), class(ASH, "Ash")],
            groups: vec![GroupNow { id: id(70), members: BTreeSet::from([id(14)]), taught: false }],
            staff: BTreeSet::from([id(50), id(51)]),
        }
    }

    fn facts(&self) -> Facts<'_> {
        Facts {
            year: 2026,
            first: day("2026-09-01"),
            pupils: &self.pupils,
            classes: &self.classes,
            groups: &self.groups,
            staff: &self.staff,
            rules: self.rules,
        }
    }

    fn plan(&self, choices: &Choices) -> Rollover {
        rollover(&self.facts(), choices).unwrap()
    }
}

fn pupil(n: u128, born: &str, class: u128, year_group: Option<&str>) -> PupilNow {
    PupilNow {
        id: id(n),
        born: Some(day(born)),
        left_on: None,
        classes: BTreeSet::from([id(class)]),
        ahead: None,
        year_group: year_group.map(|code| (2025, code.to_owned())),
        year_group_ahead: None,
        taught: false,
    }
}

fn to(class: u128, year_group: Option<&str>, to: &str) -> ClassChoice {
    let year_group = year_group.map(str::to_owned);
    ClassChoice { class_id: id(class), year_group, to: Some(name(to)), leaves: false }
}

fn leaves(class: u128) -> ClassChoice {
    ClassChoice { class_id: id(class), year_group: None, to: None, leaves: true }
}

/// Reception of Elm stays, its Year 1 goes to Oak, Oak leaves.
fn usual() -> Choices {
    let classes = vec![to(ELM, None, "elm"), to(ELM, Some("year_1"), "Oak"), leaves(OAK)];
    Choices { classes, ..Choices::default() }
}

fn places(plan: &Rollover) -> Vec<(u128, String, Option<&str>)> {
    let place = |to: &BTreeSet<String>, leaves| {
        if leaves { "leaves".into() } else { to.iter().cloned().collect::<Vec<_>>().join("+") }
    };
    let line = |moved: &'_ super::Moved| (moved.pupil.uuid().as_u128(), place(&moved.to, moved.leaves));
    plan.pupils
        .iter()
        .map(|moved| {
            let (n, to) = line(moved);
            (n, to, moved.year_group.as_deref())
        })
        .collect()
}

fn odd(plan: &Rollover) -> Vec<(Odd, Option<u128>)> {
    plan.warnings.iter().map(|w| (w.what, w.pupil_id.map(|id: PupilId| id.uuid().as_u128()))).collect()
}

#[test]
fn a_mixed_class_is_split_and_year_groups_move_on() {
    let school = School::new();
    let plan = school.plan(&usual());
    let expected = [
        (11, "Elm".to_owned(), Some("year_1")),
        (12, "Oak".to_owned(), Some("year_2")),
        // Stays one apart from the cohort, and with those of the same year group.
        (13, "Elm".to_owned(), Some("year_1")),
        (14, "leaves".to_owned(), None),
    ];
    assert_eq!(places(&plan), expected);
    // The group's only pupil leaves. Ash has an adult and nobody in it: nothing to say.
    assert_eq!(odd(&plan), [(Odd::OutOfCohort, Some(13)), (Odd::NobodyInGroup, None)]);
    assert!(plan.unsaid.is_empty());
    let counts: Vec<_> = plan.classes.iter().map(|c| (c.name.as_str(), c.pupils_before, c.pupils)).collect();
    assert_eq!(counts, [("Ash", 0, 0), ("Elm", 3, 2), ("Oak", 1, 1)]);
}

#[test]
fn a_line_for_a_pupil_counts_first() {
    let school = School::new();
    let mut choices = usual();
    choices.pupils = vec![
        // Back with the year of birth.
        PupilChoice {
            pupil_id: id(13),
            to: Some(name("Birch")),
            leaves: false,
            year_group: Some("year_2".into()),
        },
        PupilChoice { pupil_id: id(11), to: None, leaves: true, year_group: None },
        // Stays though there is no later year group.
        PupilChoice { pupil_id: id(14), to: Some(name("BIRCH")), leaves: false, year_group: None },
    ];
    choices.adults = vec![AdultsChoice { class: name("birch"), staff_ids: BTreeSet::from([id(51)]) }];
    let plan = school.plan(&choices);
    let expected = [
        (11, "leaves".to_owned(), None),
        (12, "Oak".to_owned(), Some("year_2")),
        (13, "Birch".to_owned(), Some("year_2")),
        (14, "Birch".to_owned(), None),
    ];
    assert_eq!(places(&plan), expected);
    assert_eq!(odd(&plan), [(Odd::BeyondLastYearGroup, Some(14))]);
    let birch = plan.classes.iter().find(|class| class.name == "Birch").unwrap();
    assert_eq!((birch.id, birch.pupils, birch.adults_change), (None, 2, true));
    assert_eq!(birch.adults, BTreeSet::from([id(51)]));
}

#[test]
fn what_nobody_says_is_asked_and_not_guessed() {
    let school = School::new();
    let plan =
        school.plan(&Choices { classes: vec![to(ELM, Some("reception"), "Elm")], ..Choices::default() });
    // Elm's one in Year 1, and Oak's.
    assert_eq!(plan.unsaid.into_iter().collect::<Vec<(ClassId, usize)>>(), [(id(ELM), 1), (id(OAK), 1)]);
    // In two classes that part on whether their pupils leave: both are open.
    let mut school = School::new();
    school.pupils[0].classes.insert(id(OAK));
    let plan = school.plan(&usual());
    assert_eq!(plan.unsaid.into_iter().collect::<Vec<_>>(), [(id(ELM), 1), (id(OAK), 1)]);
    assert_eq!(plan.pupils.len(), 3);
}

#[test]
fn what_was_said_before_stays_and_who_is_gone_is_left_out() {
    let mut school = School::new();
    // Placed for September by an import, with a year group of that year.
    school.pupils[0].ahead = Some(BTreeSet::from([id(ASH)]));
    school.pupils[0].year_group_ahead = Some("year_2".into());
    // A child who starts in September: in no class yet.
    school.pupils.push(PupilNow {
        classes: BTreeSet::new(),
        ahead: Some(BTreeSet::from([id(ELM)])),
        ..pupil(15, "2022-08-31", ELM, None)
    });
    // Left in spring; and one whose last day is in the year to come.
    school.pupils[2].left_on = Some(day("2026-08-31"));
    school.pupils[1].left_on = Some(day("2026-09-01"));
    let plan = school.plan(&usual());
    let expected = [
        (11, "Ash".to_owned(), Some("year_2")),
        (12, "Oak".to_owned(), Some("year_2")),
        (14, "leaves".to_owned(), None),
        // Four on 31 August 2026 by one day.
        (15, "Elm".to_owned(), Some("reception")),
    ];
    assert_eq!(places(&plan), expected);
    assert_eq!(odd(&plan), [(Odd::OutOfCohort, Some(11)), (Odd::NobodyInGroup, None)]);
    assert!(plan.pupils[0].ahead && !plan.pupils[1].ahead);
}

#[test]
fn a_pupil_without_class_or_birth_is_pointed_out() {
    let mut school = School::new();
    school.pupils = vec![PupilNow {
        classes: BTreeSet::new(),
        born: None,
        year_group: None,
        ..pupil(11, "2021-01-01", ELM, None)
    }];
    assert_eq!(
        odd(&school.plan(&Choices::default()))[..2],
        [(Odd::NoClass, Some(11)), (Odd::NoYearGroup, Some(11))]
    );
}

#[test]
fn a_year_without_a_rollover_is_counted() {
    let mut school = School::new();
    // Last on record two years before the coming one, as nobody rolled over in between: by then a year
    // further, and another with the coming year.
    school.pupils = vec![
        pupil(11, "2020-03-04", ELM, None),
        // A year below the year of birth, then as now.
        pupil(12, "2019-12-01", ELM, None),
        pupil(13, "2019-05-06", OAK, None),
    ];
    for (pupil, code) in school.pupils.iter_mut().zip(["reception", "nursery", "year_1"]) {
        pupil.year_group = Some((2024, code.to_owned()));
    }
    let plan = school.plan(&Choices { classes: vec![to(ELM, None, "Elm"), to(OAK, None, "Ash")], ..usual() });
    let before: Vec<_> = plan.pupils.iter().map(|moved| moved.year_group_before.as_deref()).collect();
    assert_eq!(before, [Some("year_1"), Some("reception"), Some("year_2")]);
    let after: Vec<_> = plan.pupils.iter().map(|moved| moved.year_group.as_deref()).collect();
    assert_eq!(after, [Some("year_2"), Some("year_1"), None]);
    let odd = odd(&plan);
    assert_eq!(odd[..2], [(Odd::OutOfCohort, Some(12)), (Odd::BeyondLastYearGroup, Some(13))]);
}

#[test]
fn one_who_leaves_with_older_ones_is_pointed_out() {
    let mut school = School::new();
    school.pupils.push(pupil(15, "2020-05-06", OAK, Some("year_1")));
    assert!(odd(&school.plan(&usual())).contains(&(Odd::LeavesEarly, Some(15))));
    assert!(!odd(&school.plan(&usual())).contains(&(Odd::LeavesEarly, Some(14))));
    // Said of this very pupil, it is meant.
    let own = PupilChoice { pupil_id: id(15), to: None, leaves: true, year_group: None };
    let said = school.plan(&Choices { pupils: vec![own], ..usual() });
    assert!(!odd(&said).contains(&(Odd::LeavesEarly, Some(15))));
}

#[test]
fn one_who_leaves_and_was_taught_since_is_pointed_out() {
    let mut school = School::new();
    school.pupils[0].taught = true;
    school.pupils[3].taught = true;
    assert_eq!(odd(&school.plan(&usual()))[1], (Odd::LeavesYetTaught, Some(14)));
    let said = odd(&school.plan(&usual()));
    assert_eq!(said.iter().filter(|(what, _)| *what == Odd::LeavesYetTaught).count(), 1);
}

#[test]
fn a_class_over_the_packs_size_is_pointed_out() {
    let mut school = School::new();
    // England expects at most 30.
    school.pupils = (0..31).map(|n| pupil(100 + n, "2021-01-01", ELM, Some("reception"))).collect();
    let size = |school: &School| odd(&school.plan(&usual())).contains(&(Odd::LargeClass, None));
    assert!(size(&school));
    school.pupils.pop();
    assert!(!size(&school));
    school.rules = pack("south-australia").unwrap();
    school.pupils.push(pupil(200, "2021-01-01", ELM, Some("reception")));
    assert!(!size(&school));
}

#[test]
fn an_end_is_an_end_and_an_adult_a_change_only_if_it_is_one() {
    let school = School::new();
    let same = AdultsChoice { class: name("ELM"), staff_ids: BTreeSet::from([id(50)]) };
    let none = AdultsChoice { class: name("Oak"), staff_ids: BTreeSet::new() };
    let plan = school.plan(&Choices { groups_ending: vec![id(70)], adults: vec![same, none], ..usual() });
    assert_eq!((plan.ends, plan.goes_on), (BTreeSet::from([id(70)]), BTreeSet::new()));
    let changes: Vec<_> = plan.classes.iter().map(|c| (c.name.as_str(), c.adults_change)).collect();
    assert_eq!(changes, [("Ash", false), ("Elm", false), ("Oak", true)]);
    let warned: Vec<_> = plan.warnings.iter().map(|w| (w.what, w.class.as_deref())).collect();
    assert_eq!(warned, [(Odd::OutOfCohort, None), (Odd::NoAdult, Some("Oak"))]);
}

#[test]
fn every_line_that_cannot_be_is_named() {
    let mut school = School::new();
    school.pupils[3].left_on = Some(day("2026-02-13"));
    let unknown: GroupId = id(99);
    school.groups[0].taught = true;
    let choices = Choices {
        classes: vec![
            to(9, None, "Elm"),
            ClassChoice { leaves: true, ..to(ELM, Some("year_9"), "Elm") },
            to(OAK, None, "Oak"),
            ClassChoice { to: None, ..to(OAK, None, "Oak") },
        ],
        pupils: vec![
            PupilChoice { pupil_id: id(8), to: Some(name("Elm")), leaves: false, year_group: None },
            PupilChoice { pupil_id: id(14), to: Some(name("Elm")), leaves: false, year_group: None },
            PupilChoice { pupil_id: id(11), to: None, leaves: false, year_group: None },
            PupilChoice { pupil_id: id(11), to: None, leaves: true, year_group: Some("year_1".into()) },
        ],
        groups_ending: vec![unknown, id(70)],
        adults: vec![AdultsChoice { class: name("Yew"), staff_ids: BTreeSet::from([id(59)]) }],
    };
    let faults = rollover(&school.facts(), &choices).unwrap_err();
    let said: Vec<String> =
        faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect();
    assert_eq!(
        said,
        [
            "classes[0].class_id: is not a class of this school",
            "classes[1].year_group: is none of nursery, reception, year_1, year_2",
            "classes[1]: say either `to` with a class or `leaves`",
            "classes[3]: say either `to` with a class or `leaves`",
            "classes[3].class_id: stands twice for the same year group",
            "pupils[0].pupil_id: is not a pupil of this school",
            "pupils[1].pupil_id: has left by then; if the pupil comes back, clear the last day first",
            "pupils[2]: say either `leaves`, or `to` with a class, `year_group` or both",
            "pupils[3].pupil_id: stands twice",
            "pupils[3]: say either `leaves`, or `to` with a class, `year_group` or both",
            "groups_ending[0]: is no open group of this school",
            "groups_ending[1]: has a lesson of the school year on record",
            "adults[0].class: is no class of this school, and no pupil goes to it",
            "adults[0].staff_ids: one of them is not of this school's staff",
        ]
    );
}
