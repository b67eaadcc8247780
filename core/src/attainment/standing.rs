//! How each GPC stands with one pupil: by the rule, with why, and the estimate beside it.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    Answer, Estimator, History, PupilRecords, State,
    mastery::{Progress, progress},
};
use crate::{check::Outcome, id::ItemId, lesson::ItemCoverage, rules::SecureRule, time::Date};

crate::vocabulary! {
    /// How one GPC stands with one pupil. Only what a check tells can be not yet secure.
    pub enum Standing {
        /// The rule for secure is met.
        Secure = "secure",
        /// The rule was met, and the latest answer was not right.
        Revisit = "revisit",
        /// Taught without this pupil and not since; whatever checks say, unless they show it secure.
        Missed = "missed",
        /// Checked; the rule is not met yet.
        NotYetSecure = "not_yet_secure",
        /// Taught, and no check tells.
        NotAsked = "not_asked",
        /// Neither taught to this pupil nor missed, and no check tells.
        Unknown = "unknown",
    }
}

impl Standing {
    fn of(state: State, line: &ItemCoverage) -> Self {
        match state {
            State::Secure => Self::Secure,
            State::Revisit => Self::Revisit,
            _ if line.taught_on.is_none() && line.missed_on.is_some() => Self::Missed,
            State::Practising => Self::NotYetSecure,
            State::Taught => Self::NotAsked,
            State::Unknown => Self::Unknown,
        }
    }
}

/// What answers of one way of answering come to, by themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Apart {
    /// How often it was asked here, or carried in.
    pub asked: usize,
    /// How often it was right.
    pub right: usize,
    /// What the rule makes of these answers alone.
    pub progress: Progress,
}

impl Apart {
    fn of(taught_on: Option<Date>, answers: &[Answer], by_choice: bool, rule: &SecureRule) -> Option<Self> {
        let told = |answer: &&Answer| answer.by_choice == by_choice && answer.outcome != Outcome::NotOffered;
        let theirs: Vec<Answer> = answers.iter().filter(told).copied().collect();
        (!theirs.is_empty()).then(|| Self {
            asked: theirs.len(),
            right: theirs.iter().filter(|answer| answer.outcome == Outcome::Right).count(),
            progress: progress(taught_on, &theirs, rule),
        })
    }
}

/// How one GPC stands with one pupil.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ItemStanding {
    /// The item.
    pub item_id: ItemId,
    /// How it stands.
    pub standing: Standing,
    /// The rule, and how far it is met, by all answers.
    pub progress: Progress,
    /// Teaching.
    pub taught: ItemCoverage,
    /// The last day on which it was taught to the pupil.
    pub last_taught: Option<Date>,
    /// Answers that were given, as opposed to chosen.
    pub answered: Option<Apart>,
    /// Answers chosen among several shown.
    pub chosen: Option<Apart>,
    /// How likely it is known, as an estimate; none where nothing was taught and nothing asked.
    pub known: Option<f64>,
}

impl ItemStanding {
    /// Whether it is a gap: to revisit, missed, or not yet secure and not right every time.
    pub fn is_gap(&self) -> bool {
        match self.standing {
            Standing::Revisit | Standing::Missed => true,
            Standing::NotYetSecure => !self.progress.always_right,
            Standing::Secure | Standing::NotAsked | Standing::Unknown => false,
        }
    }
}

/// How items stand with one pupil on a day. Answers of later days count not.
#[must_use]
pub fn standings(
    records: &PupilRecords,
    items: &BTreeSet<ItemId>,
    rule: &SecureRule,
    estimator: &Estimator,
    on: Date,
) -> BTreeMap<ItemId, ItemStanding> {
    let none = Default::default();
    let standing = |item_id: &ItemId| {
        let taught = records.covered.get(item_id).copied().unwrap_or_default();
        let days = records.days.get(item_id).unwrap_or(&none);
        let answers = records.answers.get(item_id).map_or(&[][..], Vec::as_slice);
        let answers: Vec<Answer> = answers.iter().filter(|answer| answer.on <= on).copied().collect();
        let progress = progress(taught.taught_on, &answers, rule);
        let history = History::new(days, &answers, rule, on);
        let standing = ItemStanding {
            item_id: *item_id,
            standing: Standing::of(progress.state, &taught),
            progress,
            taught,
            last_taught: days.range(..=on).next_back().copied(),
            answered: Apart::of(taught.taught_on, &answers, false, rule),
            chosen: Apart::of(taught.taught_on, &answers, true, rule),
            known: (!history.is_empty()).then(|| estimator.known(&history, on)),
        };
        (*item_id, standing)
    };
    items.iter().map(standing).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{attainment::Parameters, rules::pack};
    use uuid::Uuid;

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2026, 10, d).unwrap()
    }

    fn item(n: u128) -> ItemId {
        ItemId::from_uuid(Uuid::from_u128(n))
    }

    #[test]
    fn each_item_stands_as_it_is_worked_by_hand() {
        use Outcome::{NotOffered, Right, Wrong};
        let rule = &pack("england").unwrap().attainment;
        let taught = ItemCoverage { taught_on: Some(day(1)), times: 1, ..ItemCoverage::default() };
        let missed = ItemCoverage { missed_on: Some(day(1)), ..ItemCoverage::default() };
        let mut records = PupilRecords::default();
        let mut is = |n: u128, line: Option<ItemCoverage>, answers: &[(u32, Outcome, bool)]| {
            if let Some(line) = line {
                records.covered.insert(item(n), line);
                if let Some(on) = line.taught_on {
                    records.days.insert(item(n), [on].into());
                }
            }
            let answer = |(d, outcome, by_choice): &(u32, Outcome, bool)| Answer {
                on: day(*d),
                outcome: *outcome,
                carried_in: false,
                by_choice: *by_choice,
            };
            records.answers.insert(item(n), answers.iter().map(answer).collect());
        };
        let right = |d| (d, Right, false);
        is(1, Some(taught), &[right(2), right(3), right(8)]);
        is(2, Some(taught), &[right(2), right(3), right(8), (9, Wrong, false)]);
        is(3, Some(missed), &[]);
        is(4, Some(missed), &[(2, Wrong, false)]);
        is(5, Some(missed), &[right(1), right(2), right(8)]);
        is(6, Some(taught), &[right(2)]);
        is(7, Some(taught), &[(3, NotOffered, false)]);
        is(8, None, &[]);
        is(9, None, &[(2, Right, true), (3, Wrong, false)]);
        // Answered after the day that is asked about.
        is(10, Some(taught), &[right(21)]);
        let items: BTreeSet<ItemId> = (1..=10).map(item).collect();
        let estimator = Estimator::new(Parameters::of(&rule.estimate));
        let found = standings(&records, &items, &rule.secure, &estimator, day(20));
        let found: Vec<ItemStanding> = found.into_values().collect();
        let stand: Vec<Standing> = found.iter().map(|one| one.standing).collect();
        use Standing::{Missed, NotAsked, NotYetSecure, Revisit, Secure, Unknown};
        assert_eq!(
            stand,
            [
                Secure,
                Revisit,
                Missed,
                Missed,
                Secure,
                NotYetSecure,
                NotAsked,
                Unknown,
                NotYetSecure,
                NotAsked
            ]
        );
        // Nothing taught and nothing asked is no estimate.
        let told: Vec<bool> = found.iter().map(|one| one.known.is_some()).collect();
        assert_eq!(told, [true, true, false, true, true, true, true, false, true, true]);
        assert!(found[0].known > found[1].known && found[1].known > found[3].known);
        // Said and chosen stand apart.
        let nine = found[8];
        let counts = |apart: Option<Apart>| apart.map(|one| (one.asked, one.right, one.progress.days_right));
        assert_eq!((counts(nine.answered), counts(nine.chosen)), (Some((1, 0, 0)), Some((1, 1, 1))));
        assert_eq!((counts(found[0].answered), found[0].chosen), (Some((3, 3, 3)), None));
    }
}
