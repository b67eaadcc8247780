//! The checks of several years together: against what somebody can work out of them and of single years.

use super::{
    attack::seen,
    attacked::nothing_is_known,
    checks::{statutory, table, took},
    *,
};

/// So many pupils of each year's check, and how many met it; years from 2024 on.
fn three(years: [(usize, usize); 3]) -> Cohort {
    (2024..).zip(years).fold(cohort(Vec::new()), |cohort, (year, counts)| {
        of_check(cohort, year, took(1_000 * year as u64, "Elm", counts, 0))
    })
}

/// The latest check is of one year more each time.
fn until(cohort: &Cohort, year: i32) -> Cohort {
    let checks = cohort.checks.iter().filter(|check| check.year <= year).cloned().collect();
    Cohort {
        checks,
        as_of: day(&format!("{year}-12-18")),
        half_term_from: day(&format!("{year}-11-02")),
        ..cohort.clone()
    }
}

#[test]
fn three_years_together_are_told_where_one_is_too_few() {
    let both = [By::Field("sen".into())];
    let of = |split: bool| {
        let mut cohort = three([(10, 6), (12, 8), (11, 5)]);
        for check in cohort.checks.iter_mut().filter(|_| split) {
            for (n, line) in check.lines.iter_mut().enumerate() {
                let value = if n % 3 == 0 { "SEN support" } else { "No SEN" };
                line.fields.insert("sen".into(), value.into());
            }
        }
        cohort
    };
    let one = release(&of(true), &statutory(&both, None), england(), &[]);
    // Of 11 in 2026 the four at places 0, 3, 6 and 9 have SEN support: too few, so both sides go.
    assert_eq!(rows(&one), ["Year 1, check of 2026 5/11 45% 213-720", "SEN support c", "No SEN c"]);
    let notes = table(&one.release).notes.join(" ");
    assert!(notes.contains("Nothing can be told by SEN provision: too few pupils are in it"), "{notes}");
    assert!(notes.contains("The checks of 3 years together may be enough"), "{notes}");
    // Together: 4 of 10, 4 of 12 and 4 of 11 have SEN support, at places 0, 3, 6 and 9 each: those below 6, 8 and 5 met it,
    // which are 2, 3 and 2 of them; of the 21 others 4, 5 and 3.
    let all = release(&of(true), &statutory(&both, Some(3)), england(), &one.ledger);
    let expected = ["Year 1, checks of 2024, 2025 and 2026 together 19/33 58% 408-728"];
    assert_eq!(rows(&all)[..1], expected);
    assert_eq!(rows(&all)[1..], ["SEN support 7/12 58% 320-807", "No SEN 12/21 57% 365-755"]);
    let told = table(&all.release);
    assert_eq!(told.check.as_ref().unwrap().years, [2024, 2025, 2026]);
    assert!(told.notes.iter().any(|note| note.contains("each counted once")), "{:?}", told.notes);
    assert!(!told.notes.join(" ").contains("may be enough"), "{:?}", told.notes);
    // Nothing is offered where there is one check alone, and nothing is said where something is told.
    let alone = of_check(cohort(Vec::new()), 2026, took(0, "Elm", (4, 2), 0));
    let notes = table(&release(&alone, &statutory(&[], None), england(), &[]).release).notes.join(" ");
    assert!(
        notes.contains("Nothing can be told of all of them") && !notes.contains("may be enough"),
        "{notes}"
    );
    let notes = table(&release(&of(false), &statutory(&[], None), england(), &[]).release).notes.clone();
    assert_eq!(notes, [england().reports.as_at_check.clone()]);
}

#[test]
fn who_was_in_two_checks_is_counted_once_by_the_latest() {
    let mut cohort = three([(10, 5), (10, 5), (10, 5)]);
    // Three of 2025 who did not meet it were in Year 1 once more in 2026, and did.
    let again: Vec<u64> = cohort.checks[1].lines[7..].iter().map(|line| line.pupil).collect();
    for pupil in &again {
        let met = [("statutory".to_owned(), true)].into();
        let line = Line { pupil: *pupil, met, ..cohort.checks[0].lines[0].clone() };
        cohort.checks[0].lines.push(line);
    }
    let all = release(&cohort, &statutory(&[], Some(3)), england(), &[]);
    assert_eq!(rows(&all), ["Year 1, checks of 2024, 2025 and 2026 together 18/30 60% 423-754"]);
}

/// What is told of each year, and of the three together, to somebody who knows how many were in each check and how
/// releases are judged: what can each year's number be?
fn possible(
    sizes: [usize; 3],
    told: [Option<u32>; 3],
    together: Option<u32>,
) -> [std::collections::BTreeSet<u32>; 3] {
    let mut found: [std::collections::BTreeSet<u32>; 3] = Default::default();
    let fits = |told: Option<u32>, is: u32| told.is_none_or(|told| told == is);
    for a in 0..=sizes[0] as u32 {
        for b in 0..=sizes[1] as u32 {
            for c in 0..=sizes[2] as u32 {
                let each = [a, b, c];
                if fits(together, a + b + c) && each.iter().zip(told).all(|(is, told)| fits(told, *is)) {
                    found.iter_mut().zip(each).for_each(|(found, is)| _ = found.insert(is));
                }
            }
        }
    }
    found
}

/// Every order in which single years and the three together are released, over small checks: what one year left out is
/// never worked out of the others.
#[test]
fn three_years_less_two_never_give_the_third() {
    let met_of = |release: &Made| table(&release.release).rows[0].figure.met;
    let orders: [[usize; 4]; 6] =
        [[0, 1, 2, 3], [3, 2, 1, 0], [2, 3, 0, 1], [0, 3, 1, 2], [1, 2, 3, 0], [3, 0, 2, 1]];
    let (mut hidden, mut told_together) = (0, 0);
    let sizes = [6, 7, 8];
    for met in (0..=6).flat_map(|a| (0..=7).flat_map(move |b| (0..=8).map(move |c| [a, b, c]))) {
        let cohort = three([0, 1, 2].map(|n| (sizes[n], met[n])));
        for order in orders {
            let (mut past, mut told, mut together): (Vec<PastTable>, [Option<u32>; 3], _) =
                (Vec::new(), [None; 3], None);
            for what in order {
                let made = match what {
                    3 => release(&cohort, &statutory(&[], Some(3)), england(), &past),
                    year => {
                        let then = until(&cohort, 2024 + year as i32);
                        release(&then, &statutory(&[], None), england(), &past)
                    }
                };
                match what {
                    3 => together = met_of(&made),
                    year => told[year] = met_of(&made),
                }
                past.extend(made.ledger);
            }
            told_together += usize::from(together.is_some());
            let possible = possible(sizes, told, together);
            for (year, found) in possible.iter().enumerate().filter(|(year, _)| told[*year].is_none()) {
                assert!(found.len() > 1, "{met:?} {order:?}: {year} of {told:?} and {together:?} is known");
                hidden += 1;
            }
        }
    }
    assert!(hidden > 3_000 && told_together > 1_000, "{hidden} {told_together}");
}

/// Three checks of chance.
fn chance(rng: &mut Rng) -> Cohort {
    let terms: Vec<String> =
        england().reports.terms_of_birth.iter().map(|term| term.coded.label.clone()).collect();
    (2024..2027).fold(cohort(Vec::new()), |cohort, year| {
        let size = 12 + rng.below(30);
        let mut lines = took(1_000 * year as u64, "Ash", (size, 0), 0);
        for line in &mut lines {
            let one_of = |rng: &mut Rng, list: &[&str]| list[rng.below(list.len())].to_owned();
            line.class = Some(one_of(rng, &["Ash", "Beech"]));
            line.term_of_birth = Some(terms[rng.below(terms.len())].clone());
            let value = if rng.below(100) < 25 { "Disadvantaged" } else { "Not disadvantaged" };
            line.fields.insert("disadvantage".into(), value.into());
            line.met.insert("statutory".into(), rng.below(100) < 78);
        }
        of_check(cohort, year, lines)
    })
}

/// Single years, two and three together, each by some of what there is, in an order of chance: to somebody who knows who is
/// in which group nothing is known that is not fit to tell, nor the one or two in whom two groups differ.
#[test]
fn nothing_left_out_is_worked_out_of_single_years_and_several() {
    let (mut told, mut all) = (0, 0);
    for seed in 0..80 {
        let mut rng = Rng::for_purpose(seed, "pooled");
        let published = seed % 2 == 1;
        let cohort = chance(&mut rng);
        let mut releases: Vec<(i32, Option<usize>)> =
            vec![(2024, None), (2025, None), (2026, None), (2026, Some(2)), (2026, Some(3))];
        rng.shuffle(&mut releases);
        let (mut past, mut rows) = (Vec::new(), Vec::new());
        for (year, pooled_years) in releases {
            let mut by = vec![By::TermOfBirth, By::Field("disadvantage".into()), By::Class];
            by.retain(|by| rng.below(3) > 0 && !(published && *by == By::Class));
            let choice = Choice { published, ..statutory(&by, pooled_years) };
            let then = until(&cohort, year);
            let made = release(&then, &choice, england(), &past);
            rows.extend(seen(&then, &choice, "statutory", &made));
            past.extend(made.ledger);
        }
        told += rows.iter().filter(|row| row.told.is_some()).count();
        all += rows.len();
        let rule = if published { &england().disclosure.published } else { &england().disclosure.closed };
        let fit = |row: &super::attack::Seen| {
            let not_met = row.pupils.len() as u32 - row.met;
            row.pupils.len() >= rule.minimum_group
                && row.met >= rule.minimum_met
                && not_met >= rule.minimum_not_met
        };
        nothing_is_known(seed, &rows, |row| !fit(row));
    }
    assert!((200..all).contains(&told), "{told} of {all}");
}
