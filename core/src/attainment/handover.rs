//! What is handed on of a pupil: how old the checks are, and the GPCs in the order of their use to somebody new.

use std::collections::BTreeMap;

use super::{ItemStanding, PupilRecords, Standing};
use crate::{check::Outcome, id::ItemId, time::Date};

/// How old what checks tell of a pupil is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CheckAge {
    /// The last day on which a check here asked a GPC; none where none has. What was carried in nobody here asked.
    pub last_check_on: Option<Date>,
    /// How many days ago that is.
    pub days: Option<i64>,
    /// Whether no check has asked since the latest holiday, or none ever: what stands there is to be asked again before
    /// anybody relies on it.
    pub re_check: bool,
}

impl CheckAge {
    /// As of a day, where lessons went on after the latest holiday on `back_on`.
    pub fn of(records: Option<&PupilRecords>, on: Date, back_on: Option<Date>) -> Self {
        let answers = records.into_iter().flat_map(|records| records.answers.values().flatten());
        let here = answers.filter(|answer| !answer.carried_in && answer.outcome != Outcome::NotOffered);
        let last_check_on = here.map(|answer| answer.on).max();
        Self {
            last_check_on,
            days: last_check_on.map(|day| on.signed_duration_since(day).num_days()),
            re_check: last_check_on.is_none_or(|last| back_on.is_some_and(|back| last < back)),
        }
    }
}

/// The GPCs of one pupil, as somebody new needs them; each list in teaching order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HandedOn {
    /// GPCs taught to the pupil.
    pub taught: usize,
    /// Those that are secure.
    pub secure: Vec<ItemStanding>,
    /// Those with a gap: to revisit, missed, or not yet secure and not right every time.
    pub gaps: Vec<ItemStanding>,
    /// Those right every time, on too few days or too soon.
    pub right_so_far: Vec<ItemStanding>,
    /// Those taught that nobody asked.
    pub not_asked: Vec<ItemStanding>,
    /// How many were taught to the pupil's groups and never to the pupil, nor missed nor asked.
    pub unknown: usize,
}

/// Sorts what stands there of a pupil; `order` is the teaching order.
#[must_use]
pub fn handed_on(order: &[ItemId], standings: &BTreeMap<ItemId, ItemStanding>) -> HandedOn {
    let mut out = HandedOn::default();
    for one in order.iter().filter_map(|item| standings.get(item)).copied() {
        out.taught += usize::from(one.taught.taught_on.is_some());
        match one.standing {
            Standing::Secure => out.secure.push(one),
            _ if one.is_gap() => out.gaps.push(one),
            Standing::NotAsked => out.not_asked.push(one),
            Standing::Unknown => out.unknown += 1,
            _ => out.right_so_far.push(one),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use uuid::Uuid;

    use super::*;
    use crate::{
        attainment::{Answer, Estimator, Parameters, standings},
        lesson::ItemCoverage,
        rules::pack,
    };

    fn day(month: u32, d: u32) -> Date {
        Date::from_ymd_opt(2026, month, d).unwrap()
    }

    fn item(n: u128) -> ItemId {
        ItemId::from_uuid(Uuid::from_u128(n))
    }

    fn answer(on: Date, outcome: Outcome, carried_in: bool) -> Answer {
        Answer { on, outcome, carried_in, by_choice: false }
    }

    #[test]
    fn a_check_of_before_the_holiday_is_to_be_asked_again() {
        use Outcome::{NotOffered, Right};
        let mut records = PupilRecords::default();
        let mut of = |answers: &[Answer], back_on| {
            records.answers.insert(item(1), answers.to_vec());
            CheckAge::of(Some(&records), day(9, 3), back_on)
        };
        let july = answer(day(7, 10), Right, false);
        let age = of(&[july], Some(day(9, 2)));
        // 21 days of July, 31 of August, 3 of September.
        assert_eq!((age.last_check_on, age.days, age.re_check), (Some(day(7, 10)), Some(55), true));
        // Neither what was carried in nor what was not asked is a check of a later day.
        let later = [july, answer(day(9, 1), Right, true), answer(day(9, 2), NotOffered, false)];
        assert_eq!(of(&later, Some(day(9, 2))), age);
        let back = of(&[july, answer(day(9, 2), Right, false)], Some(day(9, 2)));
        assert_eq!((back.days, back.re_check), (Some(1), false));
        // Without a holiday nothing makes it old; without a check there is nothing to rely on.
        assert!(!of(&[july], None).re_check);
        let never = CheckAge { last_check_on: None, days: None, re_check: true };
        assert_eq!((of(&[], None), CheckAge::of(None, day(9, 3), None)), (never, never));
    }

    #[test]
    fn every_gpc_stands_in_one_list() {
        use Outcome::{Right, Wrong};
        let rule = &pack("england").unwrap().attainment;
        let mut records = PupilRecords::default();
        let taught = ItemCoverage { taught_on: Some(day(1, 5)), times: 1, ..ItemCoverage::default() };
        let missed = ItemCoverage { missed_on: Some(day(1, 5)), ..ItemCoverage::default() };
        let mut is = |n: u128, line: Option<ItemCoverage>, answers: &[(u32, Outcome)]| {
            records.covered.extend(line.map(|line| (item(n), line)));
            let answers = answers.iter().map(|(d, outcome)| answer(day(1, *d), *outcome, false));
            records.answers.insert(item(n), answers.collect());
        };
        let secure = [(6, Right), (7, Right), (12, Right)];
        is(1, Some(taught), &secure);
        is(2, Some(taught), &[secure[0], secure[1], secure[2], (13, Wrong)]);
        is(3, Some(missed), &[]);
        is(4, Some(taught), &[(6, Wrong)]);
        is(5, Some(taught), &[(6, Right)]);
        is(6, Some(taught), &[]);
        is(7, None, &[]);
        let items: BTreeSet<ItemId> = (1..=7).map(item).collect();
        let estimator = Estimator::new(Parameters::of(&rule.estimate));
        let standings = standings(&records, &items, &rule.secure, &estimator, day(2, 1));
        // The last taught stands first, if it is so in the sequence.
        let order: Vec<ItemId> = (1..=7).rev().map(item).collect();
        let found = handed_on(&order, &standings);
        let ids = |list: &[ItemStanding]| list.iter().map(|one| one.item_id).collect::<Vec<_>>();
        assert_eq!(ids(&found.secure), [item(1)]);
        assert_eq!(ids(&found.gaps), [item(4), item(3), item(2)]);
        assert_eq!(ids(&found.right_so_far), [item(5)]);
        assert_eq!(ids(&found.not_asked), [item(6)]);
        assert_eq!((found.taught, found.unknown), (5, 1));
    }
}
