//! Figures of the statutory check: of which it is, who was due, and what was published beside it.

use super::*;
use crate::disclosure::Released;

/// Pupils of a check, from a pseudonym on, in a class: so many of whom it is known, how many met it, and how many of whom it
/// is not known.
pub fn took(from: u64, class: &str, (of, met): (usize, usize), unknown: usize) -> Vec<Line> {
    let mut lines = Vec::new();
    pupils(&mut lines, "Year 1", class, (of, met), unknown);
    for line in &mut lines {
        line.pupil += from;
        line.met = line.met.values().map(|met| ("statutory".to_owned(), *met)).collect();
    }
    lines
}

pub fn statutory(by: &[By], pooled_years: Option<usize>) -> Choice<'static> {
    let measures = vec![england().reports.measure("statutory").unwrap()];
    Choice { measures, by: by.to_vec(), published: false, smaller_groups: false, pooled_years }
}

pub fn table(made: &Released<Release>) -> &Table {
    &made.figures().tables[0]
}

/// On roll are Reception and Year 1 of now; the check was of those of Elm and Fir.
fn two_classes(unknown: usize) -> Cohort {
    let mut lines = Vec::new();
    pupils(&mut lines, "Reception", "Birch", (20, 12), 0);
    pupils(&mut lines, "Year 1", "Elm", (24, 12), 0);
    let mut of_it = took(1_000, "Elm", (24, 18), unknown);
    of_it.extend(took(2_000, "Fir", (26, 20), 0));
    of_check(cohort(lines), 2026, of_it)
}

#[test]
fn the_whole_is_called_by_its_check_and_who_was_not_due_is_told_apart_from_who_is_unknown() {
    let by = [By::YearGroup, By::Class];
    let made = release(&two_classes(0), &statutory(&by, None), england(), &[]);
    // 38 of 50; in Reception and Birch nobody was due.
    assert_eq!(
        rows(&made),
        [
            "Year 1, check of 2026 38/50 76% 626-857",
            "Year 1 38/50 76% 626-857",
            "Reception z",
            "Elm 18/24 75% 551-880",
            "Fir 20/26 77% 579-890",
            "Birch z",
        ]
    );
    let check = table(&made.release).check.as_ref().unwrap();
    assert_eq!((check.year_group.as_str(), check.years.as_slice()), ("Year 1", [2026].as_slice()));
    // Nobody of it is in Year 1 now; in the summer of the check they are.
    assert!(table(&made.release).others_now);
    let mut summer = two_classes(0);
    summer.lines = summer.checks[0].lines.clone();
    assert!(!table(&release(&summer, &statutory(&by, None), england(), &[]).release).others_now);
    // Before the threshold is known nothing is: that is another symbol than of those who were not due.
    let mut early = two_classes(0);
    early.checks[0].lines.iter_mut().for_each(|line| line.met.clear());
    let made = release(&early, &statutory(&by, None), england(), &[]);
    let found: Vec<Option<Symbol>> = table(&made.release).rows.iter().map(|row| row.figure.symbol).collect();
    let (unknown, not_due) = (Some(Symbol::NotAvailable), Some(Symbol::NotApplicable));
    assert_eq!(found, [unknown, unknown, not_due, unknown, unknown, not_due]);
    let labels: Vec<&str> = made.release.figures().symbols.iter().map(|one| one.label.as_str()).collect();
    assert!(labels[0].starts_with("nothing known: these pupils were due"), "{labels:?}");
    assert!(labels[1].starts_with("nobody due: there are no pupils here"), "{labels:?}");
    // No check at all was held: nobody was due.
    let none = release(&two_forms(), &statutory(&by, None), england(), &[]);
    assert_eq!(rows(&none), ["all z"]);
    assert_eq!((&table(&none.release).check, &table(&none.release).notes), (&None, &Vec::new()));
}

#[test]
fn published_figures_stand_beside_the_whole_where_it_is_told_and_only_there() {
    let made = release(&two_classes(0), &statutory(&[], None), england(), &[]);
    let published = table(&made.release).published.clone().unwrap();
    assert_eq!(published.name, "Met the expected standard in Year 1");
    let latest = published.latest().unwrap();
    assert_eq!((latest.year, latest.percent, published.figures.len()), (2025, 80, 11));
    assert!(published.source.starts_with("Department for Education") && published.breaks.is_empty());
    assert!(published.caution.contains("no target and no rank"), "{}", published.caution);
    // The check of 2023 is beside what was published until then.
    let mut old = two_classes(0);
    old.checks[0].year = 2023;
    let made = release(&old, &statutory(&[], None), england(), &[]);
    let latest = table(&made.release).published.as_ref().unwrap().latest().unwrap();
    assert_eq!((latest.year, latest.percent), (2023, 79));
    // Two did not meet it: left out, and nothing beside it.
    let few = of_check(cohort(Vec::new()), 2026, took(0, "Elm", (12, 10), 0));
    let made = release(&few, &statutory(&[], None), england(), &[]);
    assert_eq!(rows(&made), ["Year 1, check of 2026 c"]);
    assert_eq!(table(&made.release).published, None);
    // By the end of Year 2 the way of counting changed in 2024, which is said.
    let mut second = two_classes(0);
    let check = &mut second.checks[0];
    (check.measure, check.year_group) = ("statutory_year_2".into(), "Year 2".into());
    for line in &mut check.lines {
        line.met = line.met.values().map(|met| ("statutory_year_2".to_owned(), *met)).collect();
    }
    let measures = vec![england().reports.measure("statutory_year_2").unwrap()];
    let made = release(&second, &Choice { measures, ..statutory(&[], None) }, england(), &[]);
    let published = table(&made.release).published.clone().unwrap();
    assert_eq!((published.latest().unwrap().percent, published.breaks[0].year), (89, 2024));
    let words = published.in_words();
    assert!(words[0].contains("2024 89%, 2025 89%. Source: Department for Education"), "{words:?}");
    assert!(words[1].contains("not comparable"), "{words:?}");
}

/// One leaves between the checks of Year 1 and of the end of Year 2: of 30 pupils 24 met it, of 29 of them 26.
#[test]
fn nearly_the_same_pupils_are_not_told_of_in_both_year_groups() {
    let year_1 = of_check(cohort(Vec::new()), 2026, took(0, "Elm", (30, 24), 0));
    let first = release(&year_1, &statutory(&[], None), england(), &[]);
    let year_2 = |left: u64| {
        let mut lines = took(0, "Elm", (30, 26), 0);
        lines.retain(|line| line.pupil >= left);
        for line in &mut lines {
            line.met = line.met.values().map(|met| ("statutory_year_2".to_owned(), *met)).collect();
        }
        let mut next = of_check(year_1.clone(), 2027, lines);
        let check = &mut next.checks[0];
        (check.measure, check.year_group) = ("statutory_year_2".into(), "Year 2".into());
        let measures = vec![england().reports.measure("statutory_year_2").unwrap()];
        rows(&release(&next, &Choice { measures, ..statutory(&[], None) }, england(), &first.ledger))
    };
    assert_eq!(year_2(0), ["Year 2, check of 2027 26/30 87% 703-947"]);
    assert_eq!(year_2(1), ["Year 2, check of 2027 c"]);
    assert_eq!(year_2(4), ["Year 2, check of 2027 c"]);
    assert_eq!(year_2(5), ["Year 2, check of 2027 21/25 84% 653-936"]);
}
