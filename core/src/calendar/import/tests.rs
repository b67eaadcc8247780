use super::*;

fn day(s: &str) -> Date {
    s.parse().unwrap()
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
    plan_import(calendar, events.to_vec(), meanings, &["reception", "year_1"])
        .map_err(|faults| faults.into_iter().map(|fault| (fault.field, fault.message)).collect())
}

fn year() -> Vec<FileEvent> {
    vec![
        event(3, "2026-27", &["SCHOOL-YEAR"], "2026-09-01", "2027-08-31"),
        event(9, "Autumn 2", &["HALF-TERM"], "2026-11-02", "2026-12-18"),
        event(15, "Autumn 1", &["Half Term"], "2026-09-01", "2026-10-23"),
    ]
}

/// The calendar after an import.
fn after(calendar: &Calendar, done: &CalendarImport) -> Calendar {
    let mut after = calendar.clone();
    let half_term = |term: &HalfTermPlan| HalfTerm {
        id: HalfTermId::from_uuid(Uuid::nil()),
        name: term.name.clone(),
        starts_on: term.starts_on,
        ends_on: term.ends_on,
    };
    for (year, plan) in &done.years {
        after.years.retain(|known| known.year != *year);
        let half_terms = plan.half_terms.iter().map(half_term).collect();
        after.years.push(Year { year: *year, starts_on: plan.starts_on, ends_on: plan.ends_on, half_terms });
    }
    let closure = |(_, plan): &(u64, ClosurePlan)| Closure {
        id: ClosureId::from_uuid(Uuid::nil()),
        plan: plan.clone(),
    };
    after.closures.extend(done.closures.iter().map(closure));
    after
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
    let questions: Vec<_> = events.iter().map(|event| (event.clone(), None)).collect();
    assert_eq!(asked.questions, questions);
    let mut meanings = Meanings::default();
    for (words, meaning) in [
        ("term DATES", Meaning::HalfTerm),
        ("Staff day", Meaning::Inset),
        ("pta", Meaning::LeftOut),
        ("Two things", Meaning::Trip),
    ] {
        meanings.say(words, meaning).unwrap();
    }
    let told = plan(&calendar, &events, &meanings).unwrap();
    assert_eq!((told.questions.len(), told.left_out.len()), (0, 1));
    assert_eq!(told.years[0].1.half_terms.len(), 3, "the others stay");
    let closed: Vec<(u64, ClosureKind)> =
        told.closures.iter().map(|(line, plan)| (*line, plan.kind)).collect();
    assert_eq!(closed, [(11, ClosureKind::Inset), (23, ClosureKind::Trip)]);
    // What is said of a name counts before a category of ours.
    let mut inset = Meanings::default();
    inset.say("Staff day", Meaning::LeftOut).unwrap();
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
    assert_eq!(meanings.say("Staff day", Meaning::Inset), Ok(()));
    assert_eq!(meanings.say(" staff-DAY", Meaning::Inset), Ok(()));
    assert_eq!(meanings.say("staff day", Meaning::Trip), Err(MeaningError::Twice(Meaning::Inset)));
    assert_eq!(meanings.say(" ", Meaning::Trip), Err(MeaningError::Empty));
}

#[test]
fn what_is_said_of_an_event_whose_categories_are_unknown_is_asked() {
    let calendar =
        after(&Calendar::default(), &plan(&Calendar::default(), &year(), &Meanings::default()).unwrap());
    let farm = |categories: &[&str]| event(5, "Farm", categories, "2026-11-13", "2026-11-13");
    let mut meanings = Meanings::default();
    meanings.say("farm", Meaning::Trip).unwrap();
    let whom = |categories: &[&str], meanings: &Meanings| {
        let plan = plan(&calendar, &[farm(categories)], meanings).unwrap();
        (
            plan.closures.first().map(|(_, plan)| plan.whom.clone()),
            plan.questions.first().and_then(|(_, why)| *why),
        )
    };
    let year_1 = Some(ClosedFor::YearGroups(["year_1".to_owned()].into()));
    assert_eq!(whom(&["Year 1"], &meanings), (year_1, None));
    assert_eq!(whom(&["Morning"], &meanings), (Some(ClosedFor::School), None));
    let why = Some("a category of it names no year group: say of that too what it is");
    assert_eq!(whom(&["Year 7"], &meanings), (None, why));
    meanings.say("Year 7", Meaning::Trip).unwrap();
    assert_eq!(whom(&["Year 7"], &meanings), (Some(ClosedFor::School), None));
    // Two categories that are said to be two things.
    let mut two = Meanings::default();
    two.say("Red", Meaning::Trip).unwrap();
    two.say("Blue", Meaning::Inset).unwrap();
    let why = Some("its categories are said to be two things");
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
    // Two closures of a file stand against each other as well.
    let twice = [
        event(21, "Snow", &["CLOSURE"], "2026-11-12", "2026-11-13"),
        event(27, "Polls", &["CLOSURE"], "2026-11-13", "2026-11-13"),
    ];
    assert_eq!(
        refused(&twice),
        [said(27, "2026-11-13 is closed already: closure of 2026-11-12 to 2026-11-13")]
    );
}
