use super::*;
use crate::{calendar::DayPart, id::ClassId};

fn day(s: &str) -> Date {
    s.parse().unwrap()
}

fn oak() -> ClassId {
    ClassId::from_uuid(uuid::Uuid::from_u128(7))
}

fn event(line: u64, summary: &str, categories: &[&str], from: &str, until: &str) -> FileEvent {
    FileEvent {
        line,
        summary: summary.to_owned(),
        categories: categories.iter().map(|category| (*category).to_owned()).collect(),
        cancelled: false,
        days: Some((day(from), day(until))),
    }
}

fn plan(
    calendar: &Calendar,
    events: &[FileEvent],
    meanings: &Meanings,
) -> Result<CalendarImport, Vec<(String, String)>> {
    let classes = [(oak(), "Oak".to_owned())];
    let words = Words { said: meanings, rules: crate::rules::pack("england").unwrap(), classes: &classes };
    plan_import(calendar, events.to_vec(), words)
        .map_err(|faults| faults.into_iter().map(|fault| (fault.field, fault.message)).collect())
}

fn year() -> Vec<FileEvent> {
    vec![
        event(3, "2026-27", &["SCHOOL-YEAR"], "2026-09-01", "2027-08-31"),
        event(9, "Autumn 2", &["HALF-TERM"], "2026-11-02", "2026-12-18"),
        event(15, "Autumn 1", &["Half Term"], "2026-09-01", "2026-10-23"),
    ]
}

fn not_known(category: &str) -> Option<String> {
    Some(format!("its category {category:?} is not known: say what it is, or that it is ignored"))
}

/// The calendar after an import.
fn after(calendar: &Calendar, done: &CalendarImport) -> Calendar {
    let with_years =
        done.years.iter().fold(calendar.clone(), |after, (year, plan)| after.with_year(*year, plan));
    done.closures.iter().fold(with_years, |after, (_, plan)| after.with_closure(plan))
}

#[test]
fn a_year_its_half_terms_and_closures_are_read_and_read_again_they_change_nothing() {
    let mut events = year();
    events.push(event(21, "Training", &["INSET"], "2026-09-01", "2026-09-01"));
    events.push(event(27, "Farm", &["trip", "year_1", "AFTERNOON"], "2026-11-12", "2026-11-12"));
    events.push(event(33, "Museum", &["TRIP", "CLASS"], "2026-11-13", "2026-11-13"));
    let done = plan(&Calendar::default(), &events, &Meanings::default()).unwrap();
    let (number, planned) = &done.years[0];
    assert_eq!((*number, planned.starts_on, done.years.len()), (2026, day("2026-09-01"), 1));
    let names: Vec<String> = planned.half_terms.iter().map(|term| term.name.to_string()).collect();
    assert_eq!(names, ["Autumn 1", "Autumn 2"]);
    let (line, farm) = &done.closures[1];
    assert_eq!((*line, farm.kind, farm.part), (27, ClosureKind::Trip, DayPart::Afternoon));
    assert_eq!(farm.whom, ClosedFor::YearGroups(["year_1".to_owned()].into()));
    assert_eq!((done.closures.len(), done.left_out.len(), done.questions.len()), (2, 1, 0));

    let calendar = after(&Calendar::default(), &done);
    let again = plan(&calendar, &events, &Meanings::default()).unwrap();
    assert_eq!((again.years.len(), again.closures.len(), again.unchanged), (0, 0, 5));
}

#[test]
fn what_is_not_said_is_asked() {
    let calendar =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let events = [
        event(5, "Spring term, first half", &["Term dates"], "2027-01-05", "2027-02-12"),
        event(11, "Staff day", &[], "2026-11-13", "2026-11-13"),
        event(17, "Fair", &["PTA"], "2026-12-05", "2026-12-05"),
        event(23, "Two things", &["INSET", "TRIP"], "2026-12-04", "2026-12-04"),
    ];
    let asked = plan(&calendar, &events, &Meanings::default()).unwrap();
    let why = [
        "neither its name nor its category \"Term dates\" says what it is",
        "nothing says what it is",
        "neither its name nor its category \"PTA\" says what it is",
        "its categories say two things",
    ];
    let questions: Vec<_> = events.iter().cloned().zip(why.map(str::to_owned)).collect();
    assert_eq!(asked.questions, questions);
    let mut meanings = Meanings::default();
    for (words, meaning) in [
        ("term DATES", Meaning::HalfTerm),
        ("Staff day", Meaning::Inset),
        ("pta", Meaning::LeftOut),
        ("Two things", Meaning::Trip),
    ] {
        meanings.say(words, Said::Is(meaning)).unwrap();
    }
    let told = plan(&calendar, &events, &meanings).unwrap();
    assert_eq!((told.questions.len(), told.left_out.len()), (0, 1));
    assert_eq!(told.years[0].1.half_terms.len(), 3, "the others stay");
    let closed: Vec<(u64, ClosureKind)> =
        told.closures.iter().map(|(line, plan)| (*line, plan.kind)).collect();
    assert_eq!(closed, [(11, ClosureKind::Inset), (23, ClosureKind::Trip)]);
    // What is said of a name counts before a category of ours.
    let mut inset = Meanings::default();
    inset.say("Staff day", Said::Is(Meaning::LeftOut)).unwrap();
    let left =
        plan(&calendar, &[event(1, "Staff day", &["INSET"], "2026-11-13", "2026-11-13")], &inset).unwrap();
    assert_eq!((left.closures.len(), left.left_out.len()), (0, 1));
    // With a time of day it is no day.
    let timed = FileEvent { days: None, ..event(1, "Staff day", &["INSET"], "2026-11-13", "2026-11-13") };
    assert_eq!(plan(&calendar, &[timed], &Meanings::default()).unwrap().left_out[0].1, "has a time of day");
}

#[test]
fn words_mean_one_thing() {
    let mut meanings = Meanings::default();
    assert_eq!(meanings.say("Staff day", Said::Is(Meaning::Inset)), Ok(()));
    assert_eq!(meanings.say(" staff-DAY", Said::Is(Meaning::Inset)), Ok(()));
    let twice = Err(MeaningError::Twice(Said::Is(Meaning::Inset)));
    assert_eq!(meanings.say("staff day", Said::Is(Meaning::Trip)), twice);
    assert_eq!(meanings.say("staff day", Said::Nothing), twice);
    assert_eq!(meanings.say(" ", Said::Is(Meaning::Trip)), Err(MeaningError::Empty));
}

#[test]
fn what_is_said_of_an_event_whose_categories_are_unknown_is_asked() {
    let calendar =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let farm = |categories: &[&str]| event(5, "Farm", categories, "2026-11-13", "2026-11-13");
    let mut meanings = Meanings::default();
    meanings.say("farm", Said::Is(Meaning::Trip)).unwrap();
    let whom = |categories: &[&str], meanings: &Meanings| {
        let plan = plan(&calendar, &[farm(categories)], meanings).unwrap();
        (
            plan.closures.first().map(|(_, plan)| plan.whom.clone()),
            plan.questions.first().map(|(_, why)| why.clone()),
        )
    };
    let year_1 = Some(ClosedFor::YearGroups(["year_1".to_owned()].into()));
    assert_eq!(whom(&["Year 1"], &meanings), (year_1, None));
    assert_eq!(whom(&["Morning"], &meanings), (Some(ClosedFor::School), None));
    assert_eq!(whom(&["Year 7"], &meanings), (None, not_known("Year 7")));
    meanings.say("Year 7", Said::Is(Meaning::Trip)).unwrap();
    assert_eq!(whom(&["Year 7"], &meanings), (Some(ClosedFor::School), None));
    // Two categories that are said to be two things.
    let mut two = Meanings::default();
    two.say("Red", Said::Is(Meaning::Trip)).unwrap();
    two.say("Blue", Said::Is(Meaning::Inset)).unwrap();
    let why = Some("its categories are said to be two things".to_owned());
    assert_eq!(whom(&["Red", "Blue"], &two), (None, why));
}

#[test]
fn a_morning_and_an_afternoon_are_the_day_and_what_is_cancelled_is_left_out() {
    let calendar =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let part = |categories: &[&str]| {
        let events = [event(5, "Training", categories, "2026-11-13", "2026-11-13")];
        plan(&calendar, &events, &Meanings::default()).unwrap().closures[0].1.part
    };
    assert_eq!(part(&["INSET", "AFTERNOON"]), DayPart::Afternoon);
    assert_eq!(part(&["INSET", "Morning", "Afternoon"]), DayPart::Whole);
    let training = event(5, "Training", &["INSET"], "2026-11-13", "2026-11-13");
    let cancelled = FileEvent { cancelled: true, ..training };
    let done = plan(&calendar, std::slice::from_ref(&cancelled), &Meanings::default()).unwrap();
    assert_eq!((done.closures.len(), done.left_out), (0, vec![(cancelled, "is cancelled")]));
}

#[test]
fn what_cannot_be_is_refused_with_its_line() {
    let refused = |more: &[FileEvent]| {
        let events: Vec<FileEvent> = year().into_iter().chain(more.iter().cloned()).collect();
        plan(&Calendar::default(), &events, &Meanings::default()).unwrap_err()
    };
    let said = |line: u64, message: &str| (format!("line {line}"), message.to_owned());
    assert_eq!(
        refused(&[
            event(21, "Autumn 2", &["HALF-TERM"], "2026-11-03", "2026-12-18"),
            event(27, "Summer", &["HALF-TERM"], "2028-06-01", "2028-07-20"),
            event(33, "", &["HALF-TERM"], "2027-06-01", "2027-07-20"),
            event(39, "Again", &["SCHOOL-YEAR"], "2026-09-02", "2027-07-31"),
            event(45, "Away", &["CLOSURE"], "2026-10-26", "2026-10-30"),
        ]),
        [
            said(33, "the name must not be empty"),
            said(39, "the school year 2026 stands twice"),
            said(21, "Autumn 2 stands twice in one school year"),
            said(27, "Summer begins in no school year of the calendar or the file"),
            said(45, "no lessons are due for any of them then"),
        ]
    );
    assert_eq!(
        refused(&[event(21, "Spring", &["HALF-TERM"], "2026-12-18", "2027-02-12")]),
        [said(21, "Spring starts before Autumn 2 has ended")]
    );
    let autumns = event(21, "autumn  2", &["HALF-TERM"], "2026-11-03", "2026-12-18");
    assert_eq!(refused(&[autumns]), [said(21, "autumn  2 stands twice in one school year")]);
    // All of a year, in one event or in two.
    let shut = |line, from, until| event(line, "Shut", &["CLOSURE"], from, until);
    let none = "the school year 2026 would have no teaching day";
    assert_eq!(refused(&[shut(21, "2026-09-01", "2026-12-18")]), [said(21, none)]);
    let two = [shut(21, "2026-09-01", "2026-11-06"), shut(27, "2026-11-02", "2026-12-18")];
    assert_eq!(refused(&two), [said(21, none)]);
}

#[test]
fn every_category_is_known_or_asked_about() {
    let calendar =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let read = |categories: &[&str], meanings: &Meanings| {
        let plan =
            plan(&calendar, &[event(5, "Farm", categories, "2026-11-13", "2026-11-13")], meanings).unwrap();
        let why = plan.questions.first().map(|(_, why)| why.clone());
        (plan.closures.first().map(|(_, plan)| (plan.part, plan.whom.clone())), why)
    };
    let none = Meanings::default();
    let year_1 = || ClosedFor::YearGroups(["year_1".to_owned()].into());
    // As POST /closures reads year groups, and as classes are called.
    for label in ["Y1", "Yr 1", "year 1", "YEAR-1", "year_1"] {
        assert_eq!(read(&["TRIP", label], &none), (Some((DayPart::Whole, year_1())), None), "{label}");
    }
    let class = ClosedFor::Classes([oak()].into());
    assert_eq!(read(&["CLOSURE", "oak"], &none), (Some((DayPart::Whole, class.clone())), None));
    assert_eq!(read(&["TRIP", "Class", "Oak", "Morning"], &none), (Some((DayPart::Morning, class)), None));
    for unknown in ["year1", "Oak class", "AM", "Year 7"] {
        assert_eq!(read(&["CLOSURE", unknown], &none), (None, not_known(unknown)), "{unknown}");
    }
    let both = "it names year groups and classes: close them one by one";
    assert_eq!(read(&["TRIP", "Y1", "Oak"], &none), (None, Some(both.into())));
    // What is not known can be said.
    let mut said = Meanings::default();
    said.say("am", Said::Part(DayPart::Morning)).unwrap();
    said.say("Work", Said::Nothing).unwrap();
    assert_eq!(read(&["CLOSURE", "AM", "work"], &said), (Some((DayPart::Morning, ClosedFor::School)), None));
    // A half term is everybody's.
    let term = event(5, "Spring 1", &["HALF-TERM", "Y1"], "2027-01-05", "2027-02-12");
    let asked = plan(&calendar, &[term], &none).unwrap();
    assert_eq!((asked.questions.len(), asked.years.len()), (1, 0));
}

#[test]
fn what_was_closed_in_whatever_order_is_read_into_an_empty_calendar() {
    // Year 2 was away on the 10th and 11th before the school was shut on the 9th and 10th; and three stretches of
    // which the longest was closed last but one.
    let mut events = year();
    events.extend([
        event(21, "Shut", &["CLOSURE"], "2026-11-09", "2026-11-10"),
        event(27, "Trip", &["TRIP", "year_2"], "2026-11-10", "2026-11-10"),
        event(33, "A", &["CLOSURE"], "2026-11-23", "2026-11-24"),
        event(39, "B", &["INSET"], "2026-11-24", "2026-11-26"),
        event(45, "C", &["CLOSURE"], "2026-11-25", "2026-11-26"),
    ]);
    let done = plan(&Calendar::default(), &events, &Meanings::default()).unwrap();
    assert_eq!((done.closures.len(), done.left_out.len()), (5, 0));
    let calendar = after(&Calendar::default(), &done);
    assert_eq!(calendar.closures, done.after.closures);
    let again = plan(&calendar, &events, &Meanings::default()).unwrap();
    assert_eq!((again.closures.len(), again.unchanged), (0, 8));
    // What is closed here already is left out.
    let polls = [event(51, "Polls", &["INSET"], "2026-11-09", "2026-11-09")];
    let left = plan(&calendar, &polls, &Meanings::default()).unwrap();
    assert_eq!(left.left_out[0].1, "all its days are closed already");
}

#[test]
fn the_order_of_years_decides_nothing() {
    // The first year is known to end in August; the file ends it in July, and begins the next one on the 1st of August.
    let known =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let events = [
        event(3, "2027-28", &["SCHOOL-YEAR"], "2027-08-01", "2028-07-31"),
        event(9, "Autumn 1", &["HALF-TERM"], "2027-09-01", "2027-10-22"),
        event(15, "2026-27", &["SCHOOL-YEAR"], "2026-09-01", "2027-07-31"),
    ];
    let done = plan(&known, &events, &Meanings::default()).unwrap();
    assert_eq!(done.years.iter().map(|(year, _)| *year).collect::<Vec<_>>(), [2026, 2027]);
    // Moved the other way, the earlier one would meet the later one as it is known and not as it will be.
    let known = after(&known, &done);
    let back = [
        event(3, "2026-27", &["SCHOOL-YEAR"], "2026-09-01", "2027-08-31"),
        event(9, "2027-28", &["SCHOOL-YEAR"], "2027-09-01", "2028-07-31"),
    ];
    assert_eq!(plan(&known, &back, &Meanings::default()).unwrap().years.len(), 2);
    let meets = plan(&known, &back[..1], &Meanings::default()).unwrap_err();
    assert_eq!(meets, [("line 3".to_owned(), "the year shares days with the school year 2027".to_owned())]);
}

#[test]
fn a_file_empties_no_year_where_another_was_closed_before() {
    let mut known =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let next = [
        event(3, "2027-28", &["SCHOOL-YEAR"], "2027-09-01", "2028-08-31"),
        event(9, "Autumn 1", &["HALF-TERM"], "2027-09-01", "2027-10-22"),
    ];
    known = after(&known, &plan(&known, &next, &Meanings::default()).unwrap());
    let closed = ClosurePlan {
        from: day("2026-09-01"),
        until: day("2027-08-31"),
        kind: ClosureKind::Closure,
        part: DayPart::Whole,
        whom: ClosedFor::School,
    };
    known = known.with_closure(&closed);
    // Two halves, either of which leaves something.
    let halves = [
        event(3, "Repairs", &["CLOSURE"], "2027-09-01", "2027-09-30"),
        event(9, "Repairs", &["CLOSURE"], "2027-10-01", "2027-10-22"),
    ];
    let emptied = plan(&known, &halves, &Meanings::default()).unwrap_err();
    assert_eq!(
        emptied,
        [("line 3".to_owned(), "the school year 2027 would have no teaching day".to_owned())]
    );
}
