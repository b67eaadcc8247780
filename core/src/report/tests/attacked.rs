//! Schools of chance.

use std::collections::BTreeSet;

use super::{
    attack::{Attack, Seen, seen},
    *,
};

type Pupils = BTreeSet<u64>;

/// A school of chance with everything a release may be broken down by.
fn chance(seed: u64) -> Cohort {
    let mut rng = Rng::for_purpose(seed, "release");
    let one_of = |rng: &mut Rng, list: &[&str]| list[rng.below(list.len())].to_owned();
    let terms: Vec<&str> =
        england().reports.terms_of_birth.iter().map(|term| term.coded.label.as_str()).collect();
    // In some schools a year group is one class; in some a class is of two ages.
    let forms: &[&str] = if seed.is_multiple_of(3) { &["Ash"] } else { &["Ash", "Beech"] };
    let lines = (0..60 + rng.below(180) as u64).map(|pupil| {
        let year = one_of(&mut rng, &["Reception", "Year 1", "Year 2"]);
        let class = format!("{year} {}", one_of(&mut rng, forms));
        let disadvantaged = if rng.below(100) < 22 { "Disadvantaged" } else { "Not disadvantaged" };
        let measures = ["words", "gpcs"].into_iter().filter(|_| rng.below(100) < 95).collect::<Vec<_>>();
        Line {
            pupil,
            year_group: Some(year),
            class: Some(if rng.below(40) == 0 { "Mixed".to_owned() } else { class }),
            term_of_birth: Some(one_of(&mut rng, &terms)),
            fields: BTreeMap::from([("disadvantage".to_owned(), disadvantaged.to_owned())]),
            met: measures.into_iter().map(|one| (one.to_owned(), rng.below(100) < 80)).collect(),
            secure: None,
        }
    });
    cohort(lines.collect())
}

fn everything(published: bool) -> Choice<'static> {
    let measures = ["words", "gpcs"].map(|code| england().reports.measure(code).unwrap());
    let by = [By::YearGroup, By::Class, By::TermOfBirth, By::Field("disadvantage".to_owned())];
    Choice {
        measures: measures.to_vec(),
        by: by.to_vec(),
        published,
        smaller_groups: false,
        pooled_years: None,
    }
}

#[test]
fn what_is_left_out_carries_no_number_in_any_byte() {
    let mut left_out = 0;
    for seed in 0..60 {
        for published in [false, true] {
            let made = release(&chance(seed), &everything(published), england(), &[]);
            for row in made.release.figures().tables.iter().flat_map(|table| &table.rows) {
                if row.figure.symbol.is_some() {
                    let bytes = serde_json::to_string(&Row { name: None, ..row.clone() }).unwrap();
                    assert!(!bytes.contains(|one: char| one.is_ascii_digit()), "{bytes}");
                    left_out += 1;
                }
            }
        }
    }
    assert!(left_out > 100, "{left_out}");
}

#[test]
fn a_release_is_the_same_bytes_each_time_whatever_order_pupils_come_in() {
    for seed in 0..20 {
        let as_is = chance(seed);
        let mut other = as_is.clone();
        Rng::new(seed).shuffle(&mut other.lines);
        let bytes = |cohort: &Cohort| {
            release(cohort, &everything(false), england(), &[]).release.canonical().unwrap()
        };
        assert_eq!(bytes(&as_is), bytes(&other));
    }
}

/// Some of what a release may be broken down by.
fn some(rng: &mut Rng, published: bool) -> Choice<'static> {
    let mut all = everything(published);
    all.by.retain(|by| rng.below(2) == 0 && !(published && *by == By::Class));
    all.measures.truncate(1);
    all
}

/// Asserts that no figure that is left out is known from all that was told, nor the few in whom two groups differ of
/// which one was told.
pub fn nothing_is_known(seed: u64, rows: &[Seen], is_secret: impl Fn(&Seen) -> bool) {
    let hidden = rows.iter().filter(|row| row.told.is_none() && !row.pupils.is_empty() && is_secret(row));
    let told: Vec<&Seen> = rows.iter().filter(|row| row.told.is_some()).collect();
    let mut targets: Vec<(String, Pupils)> =
        hidden.map(|row| (row.name.clone(), row.pupils.clone())).collect();
    for one in &told {
        for other in rows {
            for (more, less) in [(*one, other), (other, *one)] {
                let rest: Pupils = more.pupils.difference(&less.pupils).copied().collect();
                if (1..3).contains(&rest.len()) {
                    targets.push((format!("{} without {}", more.name, less.name), rest));
                }
            }
        }
    }
    targets.sort();
    targets.dedup();
    let groups: Vec<Pupils> = targets.iter().map(|(_, pupils)| pupils.clone()).collect();
    let attack = Attack::on(rows.iter(), &groups);
    for (name, pupils) in &targets {
        let (low, high) = attack.range(pupils);
        let seen: Vec<_> = rows.iter().map(|row| (&row.name, row.pupils.len(), row.met, row.told)).collect();
        assert!(low < high, "school {seed}: {name} of {} is {low}: {seen:#?}", pupils.len());
    }
}

/// 400 schools, each with two releases of one snapshot: no figure left out is worked out of both.
#[test]
fn nothing_left_out_is_worked_out_of_two_releases() {
    let (mut told, mut all) = ([0, 0], [0, 0]);
    for seed in 0..400 {
        let mut rng = Rng::for_purpose(seed, "two releases");
        let published = seed % 2 == 1;
        let cohort = chance(seed);
        let (one, other) = (some(&mut rng, published), some(&mut rng, published));
        let first = release(&cohort, &one, england(), &[]);
        let second = release(&cohort, &other, england(), &first.ledger);
        let mut rows = seen(&cohort, &one, "words", &first);
        for row in &rows {
            told[usize::from(published)] += usize::from(row.told.is_some());
            all[usize::from(published)] += 1;
        }
        rows.extend(seen(&cohort, &other, "words", &second));
        nothing_is_known(seed, &rows, |_| true);
    }
    let useful = [0, 1].map(|audience| 100 * told[audience] / all[audience]);
    assert!((50..80).contains(&useful[0]) && useful[1] > 80, "{useful:?} % of {all:?} figures are told");
}

/// Another snapshot of the half term: some answers came late.
fn with_late_answers(cohort: &Cohort, rng: &mut Rng) -> Cohort {
    let mut next = Cohort { as_of: day("2026-12-22"), ..cohort.clone() };
    for line in next.lines.iter_mut().filter(|line| !line.met.contains_key("words")) {
        if rng.below(2) == 0 {
            line.met.insert("words".to_owned(), rng.below(100) < 80);
        }
    }
    next
}

#[test]
fn nothing_left_out_is_worked_out_of_another_snapshot_of_the_half_term_either() {
    for seed in 0..400 {
        let mut rng = Rng::for_purpose(seed, "two snapshots");
        let published = seed % 2 == 1;
        let cohort = chance(seed);
        let next = with_late_answers(&cohort, &mut rng);
        let (one, other) = (some(&mut rng, published), some(&mut rng, published));
        let first = release(&cohort, &one, england(), &[]);
        let second = release(&next, &other, england(), &first.ledger);
        let mut rows = seen(&cohort, &one, "words", &first);
        rows.extend(seen(&next, &other, "words", &second));
        // What is left out only beside another, and fit to tell by itself, may have been known before.
        let rule = if published { england().disclosure.published } else { england().disclosure.closed };
        let fit = |row: &Seen| {
            let not_met = row.pupils.len() as u32 - row.met;
            row.pupils.len() >= rule.minimum_group
                && row.met >= rule.minimum_met
                && not_met >= rule.minimum_not_met
        };
        nothing_is_known(seed, &rows, |row| !fit(row));
    }
}

/// A half term later some have left and some have come: of groups that differ by one or two only one is told.
#[test]
fn nearly_the_same_pupils_are_not_told_of_in_two_half_terms() {
    let mut left_out = 0;
    for seed in 0..100 {
        let mut rng = Rng::for_purpose(seed, "two half terms");
        let published = seed % 2 == 1;
        let cohort = chance(seed);
        let mut next =
            Cohort { as_of: day("2027-02-10"), half_term_from: day("2027-01-04"), ..cohort.clone() };
        next.lines.retain(|_| rng.below(60) > 0);
        for pupil in 1_000..1_000 + rng.below(3) as u64 {
            next.lines.push(Line { pupil, ..cohort.lines[rng.below(cohort.lines.len())].clone() });
        }
        let choice = everything(published);
        let first = release(&cohort, &choice, england(), &[]);
        let second = release(&next, &choice, england(), &first.ledger);
        let (before, after) =
            (seen(&cohort, &choice, "words", &first), seen(&next, &choice, "words", &second));
        for one in before.iter().filter(|row| row.told.is_some()) {
            for other in &after {
                let differ = one.pupils.symmetric_difference(&other.pupils).count();
                let near = (1..3).contains(&differ);
                assert!(!near || other.told.is_none(), "school {seed}: {} and {}", one.name, other.name);
                left_out += usize::from(near);
            }
        }
    }
    assert!(left_out > 50, "{left_out}");
}

/// What is told of a figure does not hang on what else was asked for.
#[test]
fn another_breakdown_brings_nothing_back_and_takes_nothing_away() {
    for seed in 0..100 {
        let cohort = chance(seed);
        let published = seed % 2 == 1;
        let all = seen(
            &cohort,
            &everything(published),
            "words",
            &release(&cohort, &everything(published), england(), &[]),
        );
        let choice = some(&mut Rng::for_purpose(seed, "fewer"), published);
        for row in seen(&cohort, &choice, "words", &release(&cohort, &choice, england(), &[])) {
            let same = all.iter().find(|one| one.name == row.name).unwrap();
            assert_eq!(same.told, row.told, "school {seed}: {}", row.name);
        }
    }
}
