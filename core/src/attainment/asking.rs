//! What to ask next, so that most is learned of what pupils know in the time there is.

use std::collections::BTreeMap;

use super::{ItemStanding, Parameters, Standing};
use crate::{
    id::{ItemId, PupilId},
    time::Date,
};

/// What one item is worth asking one pupil.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Whether it was taught to the pupil.
    pub taught: bool,
    /// Whether it was secure, and the latest answer was not right.
    pub revisit: bool,
    /// Whether it was taught before the latest holiday, and not asked since.
    pub due: bool,
    /// How much more certain an answer makes, in bits, 0 to 1.
    pub gain: f64,
}

impl Candidate {
    /// What an item is worth on a day, of which a holiday ended last `back_on`; none where it was asked that day,
    /// since days are what the rule counts.
    #[must_use]
    pub fn of(one: &ItemStanding, on: Date, back_on: Option<Date>, values: &Parameters) -> Option<Self> {
        let asked = one.progress.last_asked;
        if asked == Some(on) {
            return None;
        }
        let before = |day: Option<Date>| back_on.is_some_and(|back| day.is_some_and(|day| day < back));
        // A pupil who chooses is asked so again.
        let by_choice = one.chosen.is_some() && one.answered.is_none();
        Some(Self {
            taught: one.taught.taught_on.is_some(),
            revisit: one.standing == Standing::Revisit,
            due: before(one.taught.taught_on) && (asked.is_none() || before(asked)),
            gain: values.gain(one.known.unwrap_or(values.known_before), by_choice),
        })
    }

    /// To revisit comes before what is due, and that before the rest: a gain is at most 1 bit.
    fn worth(&self) -> f64 {
        self.gain + if self.revisit { 2.0 } else { f64::from(u8::from(self.due)) }
    }
}

/// An item to ask next.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// The item.
    pub item_id: ItemId,
    /// Whom it is to be asked.
    pub pupils: Vec<PupilId>,
    /// Of these, with whom it is to revisit.
    pub revisit: usize,
    /// Of these, those not asked since the latest holiday.
    pub due: usize,
    /// How much more certain the answers make, in bits, all pupils together.
    pub gain: f64,
}

/// The items to ask next, worth most first, at most so many. Of one pupil those to revisit stand first, then
/// those due; of several each item is worth what it is for all together. An item is asked of no pupil it was not
/// taught to, unless `untaught` asks for that. Equal worth comes in teaching order.
#[must_use]
pub fn next_items(
    items: &[ItemId],
    pupils: &BTreeMap<PupilId, BTreeMap<ItemId, Candidate>>,
    most: usize,
    untaught: bool,
) -> Vec<Next> {
    let of_item = |item_id: &ItemId| {
        let mut next = Next { item_id: *item_id, pupils: Vec::new(), revisit: 0, due: 0, gain: 0.0 };
        let mut worth = 0.0;
        for (pupil, all) in pupils {
            let Some(one) = all.get(item_id).filter(|one| one.taught || untaught) else {
                continue;
            };
            next.pupils.push(*pupil);
            next.revisit += usize::from(one.revisit);
            next.due += usize::from(one.due && !one.revisit);
            next.gain += one.gain;
            worth += one.worth();
        }
        (!next.pupils.is_empty()).then_some((worth, next))
    };
    let mut found: Vec<(f64, Next)> = items.iter().filter_map(of_item).collect();
    found.sort_by(|(one, _), (other, _)| other.total_cmp(one));
    found.truncate(most);
    found.into_iter().map(|(_, next)| next).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;

    fn item(n: usize) -> ItemId {
        ItemId::from_uuid(Uuid::from_u128(n as u128))
    }

    fn pupil(n: usize) -> PupilId {
        PupilId::from_uuid(Uuid::from_u128(n as u128))
    }

    fn candidate() -> impl Strategy<Value = Option<Candidate>> {
        let one = (any::<bool>(), any::<bool>(), any::<bool>(), 0.0..=1.0_f64);
        proptest::option::of(one.prop_map(|(taught, revisit, due, gain)| Candidate {
            taught,
            revisit,
            due,
            gain,
        }))
    }

    fn keyed(all: &[Option<Candidate>]) -> BTreeMap<ItemId, Candidate> {
        all.iter().enumerate().filter_map(|(n, one)| Some((item(n), (*one)?))).collect()
    }

    proptest! {
        #[test]
        fn nothing_untaught_nothing_twice_and_never_more_than_fits(
            all in proptest::collection::vec(proptest::collection::vec(candidate(), 12), 0..6),
            most in 0_usize..15,
            untaught: bool,
        ) {
            let items: Vec<ItemId> = (0..12).map(item).collect();
            let pupils: BTreeMap<_, _> = all.iter().enumerate().map(|(n, of)| (pupil(n), keyed(of))).collect();
            let next = next_items(&items, &pupils, most, untaught);
            prop_assert!(next.len() <= most);
            let mut once: Vec<ItemId> = next.iter().map(|one| one.item_id).collect();
            once.sort_unstable();
            once.dedup();
            prop_assert_eq!(once.len(), next.len());
            let can = |n: usize, of: &[Option<Candidate>]| of[n].is_some_and(|one| one.taught || untaught);
            for one in &next {
                let n = items.iter().position(|item| *item == one.item_id).unwrap();
                prop_assert!(!one.pupils.is_empty());
                let whom: Vec<PupilId> =
                    all.iter().enumerate().filter(|(_, of)| can(n, of)).map(|(n, _)| pupil(n)).collect();
                prop_assert_eq!(&one.pupils, &whom);
            }
            // It is full, or everything that may be asked is in it.
            let may = (0..12).filter(|n| all.iter().any(|of| can(*n, of))).count();
            prop_assert_eq!(next.len(), most.min(may));
            // What is left out is worth no more than what is in.
            let worth = |id: ItemId| -> f64 {
                let n = items.iter().position(|item| *item == id).unwrap();
                all.iter().filter(|of| can(n, of)).filter_map(|of| of[n]).map(|one| one.worth()).sum()
            };
            let least = next.iter().map(|one| worth(one.item_id)).fold(f64::INFINITY, f64::min);
            for id in items.iter().filter(|id| !once.contains(id)).filter(|_| next.len() == most && most > 0) {
                prop_assert!(worth(*id) <= least + 1e-9);
            }
        }
    }

    #[test]
    fn to_revisit_stands_first_then_what_is_due_then_what_tells_most() {
        let one = |revisit, due, gain| Some(Candidate { taught: true, revisit, due, gain });
        let of = [
            one(false, false, 0.4),
            one(false, true, 0.1),
            one(true, false, 0.0),
            None,
            one(false, false, 0.9),
            one(false, true, 0.2),
        ];
        let items: Vec<ItemId> = (0..6).map(item).collect();
        let next = next_items(&items, &[(pupil(1), keyed(&of))].into(), 9, false);
        let order: Vec<ItemId> = next.iter().map(|one| one.item_id).collect();
        assert_eq!(order, [2, 5, 1, 4, 0].map(item));
    }

    #[test]
    fn what_was_asked_today_waits_and_a_holiday_makes_due() {
        use crate::{
            attainment::{Answer, Estimator, PupilRecords, standings},
            check::Outcome,
            lesson::ItemCoverage,
            rules::pack,
        };
        let day = |d| Date::from_ymd_opt(2026, 10, d).unwrap();
        let rule = &pack("england").unwrap().attainment;
        let mut records = PupilRecords::default();
        for (n, taught, asked) in
            [(1, 1, Some(20)), (2, 1, Some(15)), (3, 1, None), (4, 13, None), (5, 1, Some(5))]
        {
            let line = ItemCoverage { taught_on: Some(day(taught)), times: 1, ..ItemCoverage::default() };
            records.covered.insert(item(n), line);
            records.days.insert(item(n), [day(taught)].into());
            let right =
                |d| Answer { on: day(d), outcome: Outcome::Right, carried_in: false, by_choice: false };
            records.answers.insert(item(n), asked.map(right).into_iter().collect());
        }
        let values = Parameters::of(&rule.estimate);
        let items = (1..=5).map(item).collect();
        let found = standings(&records, &items, &rule.secure, &Estimator::new(values), day(20));
        // Back on the 12th.
        let due: Vec<Option<bool>> = found
            .values()
            .map(|one| Candidate::of(one, day(20), Some(day(12)), &values).map(|one| one.due))
            .collect();
        assert_eq!(due, [None, Some(false), Some(true), Some(false), Some(true)]);
    }
}
