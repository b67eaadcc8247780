//! What earlier releases tell about the figures of a new one.

use std::collections::BTreeSet;

use super::linked::Before;
use crate::rules::ReleaseRule;

/// A group of pupils as a release keeps it: pseudonyms that mean nothing outside and go with retention.
pub type Population = BTreeSet<u64>;

/// A figure of an earlier release, to the same readers or to more.
#[derive(Clone, Debug)]
pub struct Past<'a> {
    /// What was measured, as of which day: two figures of one key and population are the same figure.
    pub measure: &'a str,
    /// As of which day.
    pub as_of: crate::time::Date,
    /// Whom it was about.
    pub population: &'a Population,
    /// Whether it was told.
    pub told: bool,
}

/// What is out about a figure. The same figure was told or left out; one about nearly the same pupils that was told
/// keeps this one back, whatever day that was of, because few pupils' answers change between two days.
#[must_use]
pub fn before(
    measure: &str,
    as_of: crate::time::Date,
    population: &Population,
    past: &[Past<'_>],
    rule: &ReleaseRule,
) -> Before {
    let of_it = || past.iter().filter(|one| one.measure == measure);
    let same = || of_it().filter(|one| one.as_of == as_of && one.population == population);
    if same().any(|one| one.told) {
        return Before::Told;
    }
    if same().next().is_some() {
        return Before::LeftOut;
    }
    let nearly = |one: &Past<'_>| {
        let differ = one.population.symmetric_difference(population).count();
        one.told && (1..rule.differing_pupils).contains(&differ)
    };
    if of_it().any(nearly) { Before::NearlyTold } else { Before::Nothing }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    #[test]
    fn a_leaver_or_a_joiner_between_two_terms_keeps_the_later_figure_back() {
        let rule = &pack("england").unwrap().disclosure.closed;
        let day = |text: &str| text.parse().unwrap();
        let autumn: Population = (0..30).collect();
        let (december, april) = (day("2026-12-18"), day("2027-04-01"));
        let told = |told| [Past { measure: "words", as_of: december, population: &autumn, told }];
        let now = |population: &Population, measure, as_of, was_told| {
            before(measure, as_of, population, &told(was_told), rule)
        };
        let one_left: Population = (0..29).collect();
        let one_for_another: Population = (1..31).collect();
        let three_left: Population = (0..27).collect();
        assert_eq!(now(&one_left, "words", april, true), Before::NearlyTold);
        assert_eq!(now(&one_for_another, "words", april, true), Before::NearlyTold);
        assert_eq!(now(&three_left, "words", april, true), Before::Nothing);
        assert_eq!(now(&autumn, "words", april, true), Before::Nothing, "nobody differs");
        assert_eq!(now(&one_left, "words", april, false), Before::Nothing, "nothing is out");
        assert_eq!(now(&one_left, "sounds", april, true), Before::Nothing, "another measure");
        assert_eq!(now(&autumn, "words", december, true), Before::Told);
        assert_eq!(now(&autumn, "words", december, false), Before::LeftOut);
    }
}
