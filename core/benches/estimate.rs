//! Estimates for a school, beside the rule alone, and fitting the values to its answers.
//! `cargo bench -p plumbline-core --bench estimate`

#[path = "../tests/simulated/mod.rs"]
mod simulated;

use divan::{Bencher, black_box};
use plumbline_core::attainment::{Parameters, fit, state};
use simulated::{histories, rule, school, told, truths};

/// Pupils and GPCs.
const SIZE: (usize, usize) = (360, 90);

fn main() {
    divan::main();
}

/// Every pair that was asked, its history put in order and the rule applied too.
#[divan::bench]
fn estimated(bencher: Bencher<'_, '_>) {
    let school = school(&truths()[0], SIZE.0, SIZE.1, 1);
    let values = Parameters::of(&rule().estimate);
    bencher.bench(|| told(black_box(&school), &values).len());
}

#[divan::bench]
fn by_rule_alone(bencher: Bencher<'_, '_>) {
    let school = school(&truths()[0], SIZE.0, SIZE.1, 1);
    bencher.bench(|| {
        let pairs = school.iter().flatten();
        pairs
            .filter(|pair| {
                black_box(state(pair.taught.first().copied(), &pair.answers, &rule().secure)).as_str()
                    == "secure"
            })
            .count()
    });
}

#[divan::bench(sample_count = 10)]
fn fitted(bencher: Bencher<'_, '_>) {
    let pupils = histories(&school(&truths()[0], SIZE.0, SIZE.1, 1));
    bencher.bench(|| fit(&rule().estimate, black_box(&pupils)).fitted);
}
