//! What pupils of a group or class do not know yet, by item: counts, in which unknown is never "not secure".

use std::collections::BTreeMap;

use super::{ItemStanding, Standing, percent};
use crate::id::{ItemId, PupilId};

/// How one item stands with some pupils.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ItemGaps {
    /// The item.
    pub item_id: ItemId,
    /// Pupils it was taught to.
    pub taught: usize,
    /// Pupils with whom it is secure.
    pub secure: usize,
    /// Pupils with whom it is not yet secure.
    pub not_yet_secure: usize,
    /// Of these, those who were right every time: on too few days, or too soon.
    pub right_so_far: usize,
    /// Pupils with whom it was secure, and whose latest answer was not right.
    pub revisit: usize,
    /// Pupils who missed it.
    pub missed: usize,
    /// Pupils it was taught to whom nobody asked.
    pub not_asked: usize,
    /// Pupils of whom nothing is known.
    pub unknown: usize,
    /// Secure among those a check tells about, those who missed it left out; none where there are none.
    pub secure_percent: Option<u8>,
    /// Who has a gap: to revisit, missed, or not yet secure and not right every time.
    pub pupils: Vec<(PupilId, Standing)>,
}

/// Counts each item over those pupils of whom something stands there about it, in the order given.
#[must_use]
pub fn gaps(items: &[ItemId], pupils: &BTreeMap<PupilId, BTreeMap<ItemId, ItemStanding>>) -> Vec<ItemGaps> {
    let by_item = |item_id: &ItemId| {
        let mut out = ItemGaps {
            item_id: *item_id,
            taught: 0,
            secure: 0,
            not_yet_secure: 0,
            right_so_far: 0,
            revisit: 0,
            missed: 0,
            not_asked: 0,
            unknown: 0,
            secure_percent: None,
            pupils: Vec::new(),
        };
        for (pupil, one) in pupils.iter().filter_map(|(pupil, all)| Some((*pupil, all.get(item_id)?))) {
            out.taught += usize::from(one.taught.taught_on.is_some());
            let count = match one.standing {
                Standing::Secure => &mut out.secure,
                Standing::NotYetSecure => &mut out.not_yet_secure,
                Standing::Revisit => &mut out.revisit,
                Standing::Missed => &mut out.missed,
                Standing::NotAsked => &mut out.not_asked,
                Standing::Unknown => &mut out.unknown,
            };
            *count += 1;
            let right_so_far = one.standing == Standing::NotYetSecure && one.progress.always_right;
            out.right_so_far += usize::from(right_so_far);
            if one.is_gap() {
                out.pupils.push((pupil, one.standing));
            }
        }
        let told = out.secure + out.not_yet_secure + out.revisit;
        out.secure_percent = percent(out.secure as u64, told as u64);
        out
    };
    items.iter().map(by_item).collect()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{attainment::progress, lesson::ItemCoverage, rules::SecureRule, time::Date};

    #[test]
    fn who_was_never_asked_is_in_no_percentage() {
        use Standing::{Missed, NotAsked, NotYetSecure, Revisit, Secure, Unknown};
        let rule = SecureRule { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 };
        let item_id = ItemId::from_uuid(Uuid::nil());
        let one = |standing: Standing, always_right: bool| {
            let taught_on = (!matches!(standing, Missed | Unknown)).then(Date::default);
            ItemStanding {
                item_id,
                standing,
                progress: super::super::Progress { always_right, ..progress(taught_on, &[], &rule) },
                taught: ItemCoverage { taught_on, ..ItemCoverage::default() },
                last_taught: taught_on,
                answered: None,
                chosen: None,
                known: None,
            }
        };
        let all = [
            (Secure, true),
            (Secure, false),
            (NotYetSecure, true),
            (NotYetSecure, false),
            (Revisit, false),
            (Missed, false),
            (NotAsked, false),
            (Unknown, false),
        ];
        let id = |n: usize| PupilId::from_uuid(Uuid::from_u128(n as u128));
        let pupils = all
            .iter()
            .enumerate()
            .map(|(n, (standing, right))| (id(n), BTreeMap::from([(item_id, one(*standing, *right))])))
            .collect();
        let found = gaps(&[item_id], &pupils).remove(0);
        assert_eq!((found.taught, found.secure, found.not_yet_secure, found.right_so_far), (6, 2, 2, 1));
        assert_eq!((found.revisit, found.missed, found.not_asked, found.unknown), (1, 1, 1, 1));
        // Two of five a check tells about.
        assert_eq!(found.secure_percent, Some(40));
        assert_eq!(found.pupils, [(id(3), NotYetSecure), (id(4), Revisit), (id(5), Missed)]);
        assert_eq!(gaps(&[item_id], &BTreeMap::new())[0].secure_percent, None);
    }
}
