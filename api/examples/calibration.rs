//! How well the estimate tells what simulated pupils know, beside the rule taken as a forecast.
//! `cargo run --example calibration`

#[path = "../../core/tests/simulated/mod.rs"]
mod simulated;

use plumbline_core::attainment::Parameters;
use simulated::{Told, fitted, mean, off, reliability, rule, school, told, truths};

fn brier(told: &[Told]) -> f64 {
    mean(told.iter().map(Told::error)).0
}

fn main() {
    let pack = Parameters::of(&rule().estimate);
    println!(
        "Brier scores of pairs that were asked (0 is best), and how far ten bins are off on the average\n"
    );
    println!("{:26} {:>6} {:>6} {:>12} {:>12}", "simulated school", "pairs", "rule", "pack", "fitted");
    let mut tables = Vec::new();
    for truth in truths() {
        let school = school(&truth, 360, 90, 11);
        let found = fitted(&school);
        let (by_pack, by_fit) = (told(&school, &pack), told(&school, &found.parameters));
        let rule = mean(by_pack.iter().map(Told::rule_error)).0;
        let shown = |told: &[Told]| format!("{:.3} ({:.3})", brier(told), off(&reliability(told)));
        let (pack, fit) = (shown(&by_pack), shown(&by_fit));
        println!("{:26} {:>6} {rule:>6.3} {pack:>14} {fit:>14}", truth.name, by_pack.len());
        tables.push((truth.name, reliability(&by_fit)));
    }
    for (name, bins) in tables {
        println!("\n{name}, with fitted values\n{:>6} {:>6} {:>6}", "pairs", "told", "known");
        for bin in bins.iter().filter(|bin| bin.pairs > 0.0) {
            println!("{:>6} {:>6.3} {:>6.3}", bin.pairs, bin.told, bin.known);
        }
    }
}
