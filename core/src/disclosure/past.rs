//! What earlier releases tell about the figures of a new one.

use std::collections::BTreeSet;

use super::linked::Before;
use crate::rules::ReleaseRule;

/// A group of pupils as a release keeps it: pseudonyms that mean nothing outside and go with retention.
pub type Population = BTreeSet<u64>;

/// A figure of an earlier release of the same measure, to the same readers or to more.
#[derive(Clone, Copy, Debug)]
pub struct Past<'a> {
    /// Whom it was about.
    pub population: &'a Population,
    /// What of them: the answers counted, which are others where a pupil took the same check again.
    pub answers: &'a Population,
    /// How many of them met it then.
    pub met: u32,
    /// What the release said of it.
    pub said: PastSaid,
    /// Whether it was of the same half term as the new one.
    pub of_this_half_term: bool,
}

crate::vocabulary! {
    /// What a release said of a figure.
    pub enum PastSaid {
        /// It told it.
        Told = "told",
        /// It left it out, with a sign in its place or, had it been asked for, would have.
        LeftOut = "left_out",
        /// No row was about it.
        Nothing = "nothing",
    }
}

/// What is out about a figure.
///
/// It was told, in this half term and as it is now. It was left out and stays so, in this half term or as long as it is
/// the same number. Or one about nearly the same pupils was told, whatever day that was of, because few pupils' answers
/// change between two days.
#[must_use]
pub fn before(
    (population, answers): (&Population, &Population),
    met: u32,
    past: &[Past<'_>],
    rule: &ReleaseRule,
) -> Before {
    let same = || past.iter().filter(|one| one.answers == answers);
    if same().any(|one| one.said == PastSaid::Told && one.of_this_half_term && one.met == met) {
        return Before::Told;
    }
    if same().any(|one| one.said == PastSaid::LeftOut && (one.of_this_half_term || one.met == met)) {
        return Before::LeftOut;
    }
    let nearly =
        |one: &Past<'_>| one.said == PastSaid::Told && nearly_the_same(one.population, population, rule);
    if past.iter().any(nearly) { Before::NearlyTold } else { Before::Nothing }
}

/// Whether two groups differ by so few pupils, and not by none, that both told would tell about these.
#[must_use]
pub fn nearly_the_same(one: &Population, other: &Population, rule: &ReleaseRule) -> bool {
    if one.len().abs_diff(other.len()) >= rule.differing_pupils {
        return false;
    }
    let differ = one.symmetric_difference(other).take(rule.differing_pupils).count();
    (1..rule.differing_pupils).contains(&differ)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    #[test]
    fn a_leaver_or_a_joiner_between_two_terms_keeps_the_later_figure_back() {
        let rule = &pack("england").unwrap().disclosure.closed;
        let autumn: Population = (0..30).collect();
        let one_left: Population = (0..29).collect();
        let one_for_another: Population = (1..31).collect();
        let three_left: Population = (0..27).collect();
        let now = |population: &Population, met, said, of_this_half_term| {
            let past = Past { population: &autumn, answers: &autumn, met: 20, said, of_this_half_term };
            before((population, population), met, &[past], rule)
        };
        assert_eq!(now(&one_left, 20, PastSaid::Told, false), Before::NearlyTold);
        assert_eq!(now(&one_for_another, 20, PastSaid::Told, false), Before::NearlyTold);
        assert_eq!(now(&three_left, 20, PastSaid::Told, false), Before::Nothing);
        assert_eq!(now(&autumn, 20, PastSaid::Told, false), Before::Nothing, "nobody differs");
        assert_eq!(now(&one_left, 20, PastSaid::LeftOut, false), Before::Nothing, "nothing is out");
        assert_eq!(now(&one_left, 20, PastSaid::Nothing, true), Before::Nothing, "nothing is out");
        assert_eq!(now(&autumn, 20, PastSaid::Told, true), Before::Told);
        assert_eq!(
            now(&autumn, 30, PastSaid::Told, true),
            Before::Nothing,
            "another number of the same pupils"
        );
        assert_eq!(now(&autumn, 21, PastSaid::LeftOut, true), Before::LeftOut);
        assert_eq!(now(&autumn, 20, PastSaid::LeftOut, false), Before::LeftOut);
        assert_eq!(now(&autumn, 21, PastSaid::LeftOut, false), Before::Nothing);
    }
}
