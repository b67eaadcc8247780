//! Releases one after the other, and what one release says beside another.

use super::*;

fn by(published: bool, by: &[By]) -> Choice<'static> {
    choice(published, by)
}

fn told(made: &Made) -> BTreeMap<String, bool> {
    let row = |row: String| (row.split(' ').next().unwrap().to_owned(), !row.ends_with(" c"));
    rows(made).into_iter().map(row).collect()
}

/// Year groups in one release and classes in the next: Reception less Birch would be the four of Nest.
#[test]
fn year_groups_first_and_classes_then_give_no_class_away() {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (30, 20), 0);
    pupils(&mut lines, "Reception", "Nest", (4, 0), 0);
    pupils(&mut lines, "Year 1", "Elm", (26, 18), 0);
    pupils(&mut lines, "Year 1", "Fir", (30, 21), 0);
    let cohort = cohort(lines);
    for order in [[By::YearGroup, By::Class], [By::Class, By::YearGroup]] {
        let first = release(&cohort, &by(false, &order[..1]), england(), &[]);
        let second = release(&cohort, &by(false, &order[1..]), england(), &first.ledger);
        let mut all = told(&first);
        all.extend(told(&second));
        let known = |name: &str| all[name];
        assert!(!known("Nest"), "{all:?}");
        assert!(!(known("Reception") && known("Birch")), "{all:?}");
        assert!(!(known("Birch") && known("Elm") && known("Fir")), "{all:?}");
        // The day after nothing is brought back.
        let morrow = Cohort { as_of: day("2026-12-19"), ..cohort.clone() };
        let third = release(&morrow, &by(false, &[By::YearGroup, By::Class]), england(), &first.ledger);
        for (name, known) in told(&third) {
            assert_eq!(all.get(&name), Some(&known), "{name}");
        }
    }
}

#[test]
fn another_number_of_the_same_pupils_is_judged_anew() {
    let of = |year_1: usize| {
        let mut lines = Vec::new();
        pupils(&mut lines, "Reception", "Birch", (30, 20), 0);
        pupils(&mut lines, "Year 1", "Elm", (30, year_1), 0);
        pupils(&mut lines, "Year 2", "Fir", (30, 15), 0);
        cohort(lines)
    };
    for published in [false, true] {
        let first = release(&of(24), &by(published, &[By::YearGroup]), england(), &[]);
        assert!(told(&first)["Year"]);
        let second = release(&of(30), &by(published, &[By::YearGroup]), england(), &first.ledger);
        let year_1 = rows(&second).into_iter().find(|row| row.starts_with("Year 1")).unwrap();
        assert_eq!(year_1, "Year 1 c", "all of them met it");
    }
}

/// One class a year group: the two are one figure, and a later release of the same half term finds it there.
#[test]
fn a_class_that_is_a_year_group_has_one_figure() {
    let of = |year_2: usize| {
        let mut lines = Vec::new();
        pupils(&mut lines, "Reception", "Birch", (30, 29), 0);
        pupils(&mut lines, "Year 1", "Elm", (30, 24), 0);
        pupils(&mut lines, "Year 2", "Fir", (28, 15), year_2);
        cohort(lines)
    };
    let both = by(false, &[By::YearGroup, By::Class]);
    let first = release(&of(3), &both, england(), &[]);
    let expected = ["all 68/88 77% 675-848", "Reception c", "Year 1 24/30 80% 627-905", "Year 2 c"];
    assert_eq!(rows(&first)[..4], expected);
    assert_eq!(rows(&first)[4..], ["Birch c", "Elm 24/30 80% 627-905", "Fir c"]);
    let mut late = of(3);
    for line in late.lines.iter_mut().filter(|line| line.met.is_empty()) {
        line.met.insert("words".into(), true);
    }
    let second = release(&late, &both, england(), &first.ledger);
    // The three who were asked late would be 71 less 68.
    assert_eq!(rows(&second)[0], "all c");
}

#[test]
fn few_of_whom_nothing_is_known_are_not_told_of_as_such() {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (30, 20), 2);
    pupils(&mut lines, "Year 1", "Elm", (30, 20), 3);
    pupils(&mut lines, "Year 2", "Fir", (30, 20), 0);
    pupils(&mut lines, "Nursery", "Nest", (0, 0), 4);
    let made = release(&cohort(lines), &by(false, &[By::YearGroup]), england(), &[]);
    let of = |name: &str| {
        let rows = &made.release.figures().tables[0].rows;
        rows.iter().find(|row| row.name.as_deref() == Some(name)).unwrap().figure
    };
    assert_eq!(
        of("Nursery").symbol,
        Some(Symbol::Confidential),
        "that none of four was asked says something"
    );
    assert_eq!(["Reception", "Year 1", "Year 2"].map(|year| of(year).not_known), [None; 3]);
}

#[test]
fn what_one_left_does_to_the_next_release_stays_near() {
    let mut lines = Vec::new();
    for (year, classes) in [("Reception", ["B1", "B2"]), ("Year 1", ["E1", "E2"]), ("Year 2", ["F1", "F2"])] {
        for class in classes {
            pupils(&mut lines, year, class, (30, 20), 0);
        }
    }
    let december = cohort(lines);
    let both = by(false, &[By::YearGroup, By::Class]);
    let first = release(&december, &both, england(), &[]);
    assert!(told(&first).values().all(|told| *told));
    let mut april = Cohort { as_of: day("2027-04-01"), half_term_from: day("2027-02-22"), ..december };
    april.lines.remove(0);
    let second = release(&april, &both, england(), &first.ledger);
    let told = told(&second);
    assert_eq!(["all", "Reception", "B1"].map(|name| told[name]), [false; 3]);
    assert!(["E1", "E2", "F1", "F2"].iter().all(|class| told[*class]), "{told:?}");
}

/// A result of the statutory check is the same in every half term: three who moved would be 23 less 20.
#[test]
fn results_that_stay_are_tied_from_half_term_to_half_term() {
    let of = |moved: usize| {
        let mut lines = Vec::new();
        pupils(&mut lines, "Year 1", "Hornbeam", (23, 9), 0);
        pupils(&mut lines, "Year 1", "Larch", (25, 12), 0);
        // Some who did not meet it move to a class of their own.
        for line in lines.iter_mut().skip(20).take(moved) {
            line.class = Some("Rowan".into());
        }
        for line in &mut lines {
            line.met = line.met.values().map(|met| ("statutory".to_owned(), *met)).collect();
        }
        of_check(cohort(Vec::new()), 2026, lines)
    };
    let choice =
        Choice { measures: vec![england().reports.measure("statutory").unwrap()], ..by(false, &[By::Class]) };
    let first = release(&of(0), &choice, england(), &[]);
    assert!(told(&first)["Hornbeam"]);
    let next = Cohort { as_of: day("2027-02-10"), half_term_from: day("2027-01-04"), ..of(3) };
    let second = release(&next, &choice, england(), &first.ledger);
    assert!(!told(&second)["Hornbeam"] && !told(&second)["Rowan"], "{:?}", rows(&second));
}
