//! The checks of several years together: against what somebody can work out of them and of single years.

use super::{
    attack::{Attack, Seen, seen},
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

/// Three checks of chance of either year group: some are in Year 1 once more, some leave, some join, and of those who did not
/// meet it in Year 1 some have by the end of Year 2.
fn chance(rng: &mut Rng) -> Cohort {
    let terms: Vec<String> =
        england().reports.terms_of_birth.iter().map(|term| term.coded.label.clone()).collect();
    let mut checks: Vec<OfCheck> = Vec::new();
    let mut before: Vec<Line> = Vec::new();
    for year in 2024..2027 {
        let is_met = |line: &Line| line.met.get("statutory") == Some(&true);
        let (again, moved): (Vec<Line>, Vec<Line>) =
            before.into_iter().partition(|line| !is_met(line) && rng.below(5) == 0);
        let size = 12 + rng.below(30);
        let mut lines = took(1_000 * year as u64, "Ash", (size, 0), 0);
        let mut next = took(1_000 * year as u64 + 500, "Ash", (rng.below(3), 0), 0);
        for line in lines.iter_mut().chain(&mut next) {
            let one_of = |rng: &mut Rng, list: &[&str]| list[rng.below(list.len())].to_owned();
            line.class = Some(one_of(rng, &["Ash", "Beech"]));
            line.term_of_birth = Some(terms[rng.below(terms.len())].clone());
            let value = if rng.below(100) < 25 { "Disadvantaged" } else { "Not disadvantaged" };
            line.fields.insert("disadvantage".into(), value.into());
            line.met.insert("statutory".into(), rng.below(100) < 78);
        }
        lines.extend(again.into_iter().map(|line| {
            let met = [("statutory".to_owned(), rng.below(100) < 60)].into();
            Line { met, ..line }
        }));
        next.extend(moved.into_iter().filter(|_| rng.below(12) > 0));
        for line in &mut next {
            let met = is_met(line) || rng.below(100) < 40;
            line.met = [("statutory_year_2".to_owned(), met)].into();
            line.year_group = Some("Year 2".into());
        }
        before = lines.clone();
        let of = |measure: &str, year_group: &str, mut lines: Vec<Line>| {
            lines.sort_by_key(|line| line.pupil);
            OfCheck { measure: measure.into(), year_group: year_group.into(), year, lines }
        };
        checks.insert(0, of("statutory_year_2", "Year 2", next));
        checks.insert(0, of("statutory", "Year 1", lines));
    }
    Cohort { checks, ..cohort(Vec::new()) }
}

/// What is asked of each release: the year, whether both year groups or one, and how many years together.
fn asked(rng: &mut Rng, published: bool) -> Vec<(i32, Choice<'static>)> {
    let both = ["statutory", "statutory_year_2"];
    // A check is told by itself or with others and never both ways, which is the server's to refuse.
    let together = [0, 1].map(|_| rng.below(2) == 0);
    let mut all = Vec::new();
    for (n, code) in both.into_iter().enumerate() {
        let years = if together[n] {
            vec![(2026, Some(2 + rng.below(2)))]
        } else {
            vec![(2024, None), (2025, None), (2026, None)]
        };
        all.extend(years.into_iter().map(|(year, pooled)| (year, vec![code], pooled)));
    }
    if together == [true, true] && rng.below(2) == 0 {
        all = vec![(2026, both.to_vec(), Some(3))];
    }
    rng.shuffle(&mut all);
    let mut choice = |(year, codes, pooled): (i32, Vec<&str>, _)| {
        let mut by = vec![By::TermOfBirth, By::Field("disadvantage".into()), By::Class];
        by.retain(|by| rng.below(3) > 0 && !(published && *by == By::Class));
        let measures = codes.iter().map(|code| england().reports.measure(code).unwrap()).collect();
        (year, Choice { published, measures, ..statutory(&by, pooled) })
    };
    all.into_iter().map(&mut choice).collect()
}

/// Single years and several together, of Year 1 and of the end of Year 2, each by some of what there is, in an order of
/// chance: to somebody who knows who is in which group nothing is known that is not fit to tell, nor the one or two in whom
/// two groups differ, and what was left out for its own sake stays as open as the rule promises.
#[test]
fn nothing_left_out_is_worked_out_of_single_years_and_several_of_either_year_group() {
    let (mut told, mut all, mut promised) = (0, 0, 0);
    for seed in 0..80 {
        let mut rng = Rng::for_purpose(seed, "pooled");
        let published = seed % 2 == 1;
        let cohort = chance(&mut rng);
        let rule = if published { &england().disclosure.published } else { &england().disclosure.closed };
        let fit = |row: &Seen| {
            let not_met = row.pupils.len() as u32 - row.met;
            row.pupils.len() >= rule.minimum_group
                && row.met >= rule.minimum_met
                && not_met >= rule.minimum_not_met
        };
        let (mut past, mut rows, mut ends) = (Vec::new(), Vec::new(), Vec::new());
        for (year, choice) in asked(&mut rng, published) {
            let then = until(&cohort, year);
            let made = release(&then, &choice, england(), &past);
            for measure in &choice.measures {
                rows.extend(seen(&then, &choice, &measure.code, &made));
            }
            ends.push(rows.len());
            past.extend(made.ledger);
        }
        told += rows.iter().filter(|row| row.told.is_some()).count();
        all += rows.len();
        nothing_is_known(seed, &rows, |row| !fit(row));
        promised += as_open_as_promised(seed, &rows, &ends, rule.hidden_width, fit);
    }
    assert!((200..all).contains(&told) && promised > 100, "{told} of {all}, {promised}");
}

/// Asserts of each figure that was left out for its own sake that it can be so many numbers as the rule promises, or as many
/// as before it was first left out, or as what is told of a whole leaves of any part of so many pupils. How many were looked at.
fn as_open_as_promised(
    seed: u64,
    rows: &[Seen],
    ends: &[usize],
    width: u32,
    fit: impl Fn(&Seen) -> bool,
) -> usize {
    let hidden: Vec<(usize, &Seen)> = (rows.iter().enumerate())
        .filter(|(_, row)| row.told.is_none() && !row.pupils.is_empty() && !fit(row))
        .collect();
    let targets: Vec<_> = hidden.iter().map(|(_, row)| row.pupils.clone()).collect();
    let now = Attack::on(rows.iter(), &targets);
    for (place, row) in &hidden {
        let of = |(low, high): (u32, u32)| high - low;
        let pupils = row.pupils.len() as u32;
        let whole = rows.iter().filter(|one| one.pupils.is_superset(&row.pupils)).filter_map(|one| {
            let (low, high) = one.told?;
            Some(high.min(pupils) - low.saturating_sub(one.pupils.len() as u32 - pupils))
        });
        let first = ends.iter().rposition(|end| end <= place).map_or(0, |before| ends[before]);
        let before = of(Attack::on(rows[..first].iter(), &targets).range(&row.pupils));
        let promised = width.min(pupils).min(before).min(whole.min().unwrap_or(width));
        let is = of(now.range(&row.pupils));
        assert!(is >= promised, "school {seed}: {} of {pupils}: {is} of {promised}", row.name);
    }
    hidden.len()
}

/// The same 30 pupils in Year 1 and by the end of Year 2: who met it then has met it by now.
#[test]
fn what_is_left_out_of_year_1_is_not_given_away_by_year_2() {
    let both = ["statutory", "statutory_year_2"];
    let of = |year_1: usize, year_2: usize| {
        let mut first = took(0, "Elm", (30, year_1), 0);
        let mut next = took(0, "Elm", (30, year_2), 0);
        next.iter_mut()
            .for_each(|line| line.met = [("statutory_year_2".to_owned(), line.met["statutory"])].into());
        first.sort_by_key(|line| line.pupil);
        let mut cohort = of_check(cohort(Vec::new()), 2025, first);
        let check = OfCheck {
            measure: "statutory_year_2".into(),
            year_group: "Year 2".into(),
            year: 2026,
            lines: next,
        };
        cohort.checks.push(check);
        cohort
    };
    let ask = |codes: &[&str]| {
        let measures = codes.iter().map(|code| england().reports.measure(code).unwrap()).collect();
        Choice { measures, ..statutory(&[], None) }
    };
    let whole = |made: &Made, n: usize| made.release.figures().tables[n].rows[0].figure.met;
    // Two met it in Year 1, too few to tell; four by the end of Year 2: told, that would leave nought to four, one too few.
    for order in [both, [both[1], both[0]]] {
        let made = release(&of(2, 4), &ask(&order), england(), &[]);
        assert_eq!([whole(&made, 0), whole(&made, 1)], [None, None], "{order:?}");
    }
    let first = release(&of(2, 4), &ask(&both[..1]), england(), &[]);
    let next = release(&of(2, 4), &ask(&both[1..]), england(), &first.ledger);
    assert_eq!([whole(&first, 0), whole(&next, 0)], [None, None]);
    // Five leave nought to five.
    let made = release(&of(2, 5), &ask(&both), england(), &[]);
    assert_eq!([whole(&made, 0), whole(&made, 1)], [None, Some(5)]);
    // 28 by the end of Year 2 are left out; 26 told of Year 1 would leave 26 to 30, and 25 do 25 to 30.
    let made = release(&of(26, 28), &ask(&both), england(), &[]);
    assert_eq!([whole(&made, 0), whole(&made, 1)], [None, None]);
    let made = release(&of(25, 28), &ask(&both), england(), &[]);
    assert_eq!([whole(&made, 0), whole(&made, 1)], [Some(25), None]);
    // Left out for governors: everybody is told of nothing that would give it away to them, and of what does not.
    for (year_2, told) in [(4, None), (6, Some(20))] {
        let cohort = of(2, year_2);
        let mut governors = release(&cohort, &ask(&both[..1]), england(), &[]).ledger;
        governors.iter_mut().for_each(|table| table.to_fewer = true);
        let choice = Choice { published: true, ..ask(&both[1..]) };
        let percent = |past: &[PastTable]| {
            let made = release(&cohort, &choice, england(), past);
            made.release.figures().tables[0].rows[0].figure.percent.map(|one| one.percent)
        };
        assert_eq!(percent(&governors), told, "{year_2}");
        assert!(percent(&[]).is_some(), "told by itself: {year_2}");
    }
    // Both fit to tell: nothing is hidden.
    let made = release(&of(20, 25), &ask(&both), england(), &[]);
    assert_eq!([whole(&made, 0), whole(&made, 1)], [Some(20), Some(25)]);
}
