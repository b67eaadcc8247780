//! The estimate beside the rule, on simulated pupils of whom is known what they know.
#![allow(clippy::unwrap_used)]

mod simulated;

use plumbline_core::attainment::{Fitted, Parameters};
use simulated::{Truth, fitted, mean, off, reliability, rule, school, told, truths};

/// Pupils and GPCs of a simulated school; about two in three of the pairs are asked.
const SIZE: (usize, usize) = (240, 60);
/// How many standard errors chance may take: once in some hundred thousand.
const CHANCE: f64 = 4.5;

fn of(name: &str) -> Truth {
    truths().into_iter().find(|truth| truth.name == name).unwrap()
}

/// With the true values the estimate is right but for chance: the bounds are the standard errors of the binomial
/// in each bin, and of the Brier score, whose expectation is then the mean of p(1 - p).
#[test]
fn with_the_true_values_it_is_calibrated() {
    for truth in truths().iter().filter(|truth| truth.fits()) {
        let told = told(&school(truth, SIZE.0, SIZE.1, 1), &truth.values);
        assert!(told.len() > 4000, "{}: {}", truth.name, told.len());
        for bin in reliability(&told).iter().filter(|bin| bin.pairs > 0.0) {
            assert!((bin.told - bin.known).abs() <= CHANCE * bin.error, "{}: {bin:?}", truth.name);
        }
        let spread = |p: f64| p * (1.0 - p);
        let expected: f64 = told.iter().map(|one| spread(one.likely)).sum();
        let found: f64 = told.iter().map(|one| one.error()).sum();
        let variance: f64 =
            told.iter().map(|one| spread(one.likely) * (1.0 - 2.0 * one.likely).powi(2)).sum();
        assert!((found - expected).abs() <= CHANCE * variance.sqrt(), "{}: {found} {expected}", truth.name);
    }
}

/// In every simulated school, those the model does not fit too, it errs less than the rule taken as a forecast,
/// with the pack's values and with fitted ones, by more than chance.
#[test]
fn it_errs_less_than_the_rule_in_every_school() {
    for truth in truths() {
        let school = school(&truth, SIZE.0, SIZE.1, 2);
        for values in [Parameters::of(&rule().estimate), fitted(&school).parameters] {
            let told = told(&school, &values);
            let (less, error) = mean(told.iter().map(|one| one.rule_error() - one.error()));
            assert!(less > CHANCE * error, "{}: {less} {error}", truth.name);
        }
    }
}

/// Fitted values come near the true ones, and make the estimate better wherever the pack's are far off.
#[test]
fn a_schools_own_answers_make_it_better() {
    for (name, at_least) in [("many slips", 0.0), ("many guesses", 0.0), ("forgets fast", 0.0)] {
        let school = school(&of(name), SIZE.0, SIZE.1, 3);
        let found = fitted(&school);
        assert!(found.fitted && found.answers > 4000, "{name}: {found:?}");
        let pack = told(&school, &Parameters::of(&rule().estimate));
        let own = told(&school, &found.parameters);
        let (less, error) = mean(pack.iter().zip(&own).map(|(pack, own)| pack.error() - own.error()));
        assert!(less > at_least + CHANCE * error, "{name}: {less} {error} {found:?}");
        assert!(off(&reliability(&own)) < off(&reliability(&pack)), "{name}");
    }
    let near = |found: f64, truth: f64, by: f64| assert!((found - truth).abs() < by, "{found} {truth}");
    let slips = fitted(&school(&of("many slips"), SIZE.0, SIZE.1, 4)).parameters;
    near(slips.slip, 0.22, 0.03);
    let guesses = fitted(&school(&of("many guesses"), SIZE.0, SIZE.1, 4)).parameters;
    near(guesses.guess, 0.22, 0.04);
    let fast = fitted(&school(&of("forgets fast"), SIZE.0, SIZE.1, 4)).parameters;
    near(fast.forgotten_per_day, 0.04, 0.012);
}

#[test]
fn a_fit_is_bounded_repeats_and_needs_enough() {
    let estimate = &rule().estimate;
    // Nobody slips, everybody guesses: beyond what the pack allows.
    let values = Parameters { slip: 0.001, guess: 0.6, ..Parameters::of(estimate) };
    let odd = school(&Truth { values, ..truths()[0] }, SIZE.0, SIZE.1, 5);
    let found = fitted(&odd);
    assert!(found.parameters.guess <= estimate.guess.most + 1e-9, "{found:?}");
    assert!(found.parameters.slip >= estimate.slip.least - 1e-9, "{found:?}");
    assert_eq!(found, fitted(&odd));
    // What nobody's answers tell of stays where the pack has it.
    let same = (found.parameters.guess_choosing - estimate.guess_choosing.value).abs();
    assert!(same < 1e-9, "{found:?}");
    // Too few pupils, and too few answers: the pack's values, and it says so.
    for size in [(estimate.fit.pupils_least - 1, 90), (60, 2)] {
        let few = school(&truths()[0], size.0, size.1, 6);
        let found = fitted(&few);
        let answers = few.iter().flatten().map(|pair| pair.answers.len()).sum();
        assert_eq!(found, Fitted::pack(estimate, found.pupils, answers));
        assert!(!found.fitted && found.pupils <= size.0);
    }
}

/// More answers than are looked at: those of some pupils, all of theirs.
#[test]
fn of_very_many_answers_some_pupils_are_looked_at() {
    let mut estimate = rule().estimate.clone();
    let pupils = simulated::histories(&school(&truths()[0], 120, 30, 7));
    let all = plumbline_core::attainment::fit(&estimate, &pupils);
    estimate.fit.answers_most = estimate.fit.answers_least;
    let some = plumbline_core::attainment::fit(&estimate, &pupils);
    assert!(some.fitted && some.pupils < all.pupils && some.answers < all.answers, "{some:?} {all:?}");
}
