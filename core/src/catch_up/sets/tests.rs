//! Sets by hand, against every set there could be, and whatever the needs.

use std::collections::BTreeSet;

use proptest::prelude::*;
use uuid::Uuid;

use super::*;

const RULE: CatchUpRule = CatchUpRule { minutes: 10, minutes_per_item: 3, pupils_most: 4 };

fn pupil_id(n: usize) -> PupilId {
    PupilId::from_uuid(Uuid::from_u128(n as u128))
}

fn item_id(n: usize) -> ItemId {
    ItemId::from_uuid(Uuid::from_u128(1000 + n as u128))
}

fn day(d: u32) -> Date {
    Date::from_ymd_opt(2026, 11, d).unwrap()
}

fn adults(minutes: &[u16]) -> Vec<Adult> {
    let adult = |(n, minutes): (usize, &u16)| Adult {
        staff: StaffId::from_uuid(Uuid::from_u128(2000 + n as u128)),
        minutes: *minutes,
    };
    minutes.iter().enumerate().map(adult).collect()
}

/// A pupil for some adults, with items and the days of November since when each is open.
fn pupil(n: usize, adults: &[usize], needs: &[(usize, u32)]) -> Pupil {
    let need = |(item, d): &(usize, u32)| Need { item: item_id(*item), missed_on: day(*d) };
    Pupil { id: pupil_id(n), comes: true, adults: adults.to_vec(), needs: needs.iter().map(need).collect() }
}

/// Each set as `adult: pupils / items`, by number, and what is left as `pupil: items why`.
fn told(plan: &Plan) -> (Vec<String>, Vec<String>) {
    let join = |list: Vec<u128>| list.iter().map(u128::to_string).collect::<Vec<_>>().join(" ");
    let items = |ids: &[ItemId]| join(ids.iter().map(|id| id.uuid().as_u128() - 1000).collect());
    let set = |set: &Set| {
        let pupils = join(set.pupils.iter().map(|id| id.uuid().as_u128()).collect());
        format!("{}: {pupils} / {}", set.adult, items(&set.items))
    };
    let left = |left: &Left| format!("{}: {} {}", left.pupil.uuid().as_u128(), items(&left.items), left.why);
    (plan.sets.iter().map(set).collect(), plan.left.iter().map(left).collect())
}

#[test]
fn those_who_need_the_same_are_taught_together() {
    let pupils =
        [pupil(1, &[0], &[(1, 2), (2, 2)]), pupil(2, &[0], &[(1, 2), (2, 2)]), pupil(3, &[0], &[(3, 1)])];
    // Two pupils and two items are four needs, 6 minutes; the third pupil has 3 of the 4 that remain.
    let made = plan(&RULE, &adults(&[10]), &pupils);
    assert_eq!(told(&made), (vec!["0: 1 2 / 1 2".into(), "0: 3 / 3".into()], vec![]));
    assert_eq!(made.sets.iter().map(|set| set.minutes).collect::<Vec<_>>(), [6, 3]);
    // With 8 minutes the third has no time.
    let made = plan(&RULE, &adults(&[8]), &pupils);
    assert_eq!(told(&made), (vec!["0: 1 2 / 1 2".into()], vec!["3: 3 no_time".into()]));
}

#[test]
fn a_set_is_no_longer_and_no_larger_than_the_rule() {
    let needs: Vec<(usize, u32)> = (1..=5).map(|item| (item, item as u32)).collect();
    let pupils: Vec<Pupil> = (1..=5).map(|n| pupil(n, &[0], &needs)).collect();
    // Ten minutes hold three items and a set four pupils; the fifth comes next, then all have more.
    let made = plan(&RULE, &adults(&[27]), &pupils);
    let sets = vec!["0: 1 2 3 4 / 1 2 3".into(), "0: 5 / 1 2 3".into(), "0: 1 2 3 4 / 4 5".into()];
    let left = vec!["5: 4 5 no_time".into()];
    // 9 and 9 and 6 minutes are 24: the last 3 hold one item of the fifth.
    let (found, rest) = told(&made);
    assert_eq!(
        (&found[..3], &found[3..], rest),
        (&sets[..], &["0: 5 / 4".to_owned()][..], vec!["5: 5 no_time".to_owned()])
    );
    assert_eq!(told(&plan(&RULE, &adults(&[24]), &pupils)), (sets, left));
}

#[test]
fn of_sets_that_serve_as_many_the_longest_open_comes_first() {
    let pupils = [pupil(1, &[0], &[(1, 9)]), pupil(2, &[0], &[(2, 3)])];
    let made = plan(&RULE, &adults(&[3]), &pupils);
    assert_eq!(told(&made), (vec!["0: 2 / 2".into()], vec!["1: 1 no_time".into()]));
    // Of five who need one thing, the four for whom it has been open longest.
    let pupils: Vec<Pupil> = (1..=5).map(|n| pupil(n, &[0], &[(1, 10 - n as u32)])).collect();
    let made = plan(&RULE, &adults(&[3]), &pupils);
    assert_eq!(told(&made), (vec!["0: 2 3 4 5 / 1".into()], vec!["1: 1 no_time".into()]));
}

#[test]
fn an_adult_takes_only_whom_that_adult_may_take() {
    let pupils = [
        pupil(1, &[0], &[(1, 1)]),
        pupil(2, &[1], &[(1, 1)]),
        pupil(3, &[], &[(1, 1)]),
        pupil(4, &[0, 1], &[]),
    ];
    let made = plan(&RULE, &adults(&[10, 0]), &pupils);
    let left = vec!["2: 1 no_time".into(), "3: 1 no_adult".into()];
    assert_eq!(told(&made), (vec!["0: 1 / 1".into()], left));
    // Both could take the first: who can take fewest does, so that the other has time for the second.
    let pupils = [pupil(1, &[0, 1], &[(1, 1)]), pupil(2, &[0], &[(2, 1)])];
    assert_eq!(told(&plan(&RULE, &adults(&[3, 3]), &pupils)).0, ["1: 1 / 1", "0: 2 / 2"]);
}

#[test]
fn who_does_not_come_that_day_is_left() {
    let away = Pupil { comes: false, ..pupil(1, &[0], &[(1, 1)]) };
    let made = plan(&RULE, &adults(&[30]), &[away, pupil(2, &[0], &[(1, 1)])]);
    assert_eq!(told(&made), (vec!["0: 2 / 1".into()], vec!["1: 1 not_in".into()]));
}

#[test]
fn nobody_has_a_second_place_before_everybody_has_one() {
    let pupils =
        [pupil(1, &[0], &[(1, 1), (2, 1), (3, 1), (4, 1), (5, 1), (6, 1)]), pupil(2, &[0], &[(7, 9)])];
    let made = plan(&RULE, &adults(&[21]), &pupils);
    assert_eq!(told(&made), (vec!["0: 1 / 1 2 3".into(), "0: 2 / 7".into(), "0: 1 / 4 5 6".into()], vec![]));
}

#[test]
fn nothing_to_do_and_nobody_to_do_it_make_no_sets() {
    assert_eq!(plan(&RULE, &[], &[]), Plan::default());
    let made = plan(&RULE, &[], &[pupil(1, &[], &[(1, 1)])]);
    assert_eq!(told(&made), (vec![], vec!["1: 1 no_adult".into()]));
    let no_minutes = CatchUpRule { minutes_per_item: 0, ..RULE };
    assert_eq!(plan(&no_minutes, &adults(&[9]), &[pupil(1, &[0], &[(1, 1)])]).sets, []);
}

/// Needs as open while sets are taken away from them.
type Open = Vec<BTreeSet<usize>>;

fn subset(bits: usize, of: usize) -> Vec<usize> {
    (0..of).filter(|n| bits >> n & 1 == 1).collect()
}

/// Every set there could be now: adult, items and pupils.
fn every_set(
    rule: &CatchUpRule,
    minutes: &[u16],
    pupils: &[Pupil],
    open: &Open,
    waits: &[bool],
    items: usize,
) -> Vec<(usize, Vec<usize>, Vec<usize>)> {
    let mut found = Vec::new();
    for adult in 0..minutes.len() {
        for chosen in (1..1 << items).map(|bits| subset(bits, items)) {
            let takes = rule.minutes_per_item * chosen.len() as u16;
            if takes > rule.minutes || takes > minutes[adult] {
                continue;
            }
            for whom in (1..1 << pupils.len()).map(|bits| subset(bits, pupils.len())) {
                let may = |n: &usize| {
                    waits[*n]
                        && pupils[*n].adults.contains(&adult)
                        && chosen.iter().all(|i| open[*n].contains(i))
                };
                if whom.len() <= rule.pupils_most && whom.iter().all(may) {
                    found.push((adult, chosen.clone(), whom));
                }
            }
        }
    }
    found
}

/// The most needs that any choice of sets serves, with each pupil as often as there is time.
fn optimum(rule: &CatchUpRule, minutes: &[u16], pupils: &[Pupil], open: &Open, items: usize) -> usize {
    let free = vec![true; pupils.len()];
    let mut most = 0;
    for (adult, chosen, whom) in every_set(rule, minutes, pupils, open, &free, items) {
        let (mut minutes, mut open) = (minutes.to_vec(), open.clone());
        minutes[adult] -= rule.minutes_per_item * chosen.len() as u16;
        for n in &whom {
            open[*n].retain(|item| !chosen.contains(item));
        }
        most = most.max(chosen.len() * whom.len() + optimum(rule, &minutes, pupils, &open, items));
    }
    most
}

/// Up to three pupils, three items and two adults, items open since one day, so that the order of items is
/// that of their numbers.
fn small() -> impl Strategy<Value = (CatchUpRule, Vec<u16>, Vec<Pupil>, Open)> {
    let rule = (1_u16..=3, 1_usize..=3).prop_map(|(most_items, pupils_most)| CatchUpRule {
        minutes: most_items * 3 + 1,
        minutes_per_item: 3,
        pupils_most,
    });
    let needs = prop::collection::vec((0_usize..8, 0_usize..4), 3);
    (rule, prop::collection::vec(0_u16..8, 2), needs).prop_map(|(rule, minutes, needs)| {
        // One pupil without adults names every item once, in order.
        let open: Open = needs.iter().map(|(items, _)| subset(*items, 3).into_iter().collect()).collect();
        let pupils = needs.iter().enumerate().map(|(n, (items, adults))| {
            let needs: Vec<(usize, u32)> =
                subset(*items, 3).into_iter().map(|item| (item, 1 + item as u32)).collect();
            pupil(n, &subset(*adults, 2), &needs)
        });
        (rule, minutes, pupils.collect(), open)
    })
}

proptest! {
    #[test]
    fn each_set_is_the_best_there_was((rule, minutes, pupils, open) in small()) {
        let made = plan(&rule, &adults(&minutes), &pupils);
        let (mut minutes, mut open) = (minutes, open);
        let fewest = |adult: usize| pupils.iter().filter(|p| p.adults.contains(&adult)).count();
        let mut waits = vec![true; pupils.len()];
        let mut anew = true;
        let mut expected = Vec::new();
        loop {
            let all = every_set(&rule, &minutes, &pupils, &open, &waits, 3);
            let best = all.into_iter().min_by_key(|(adult, items, whom)| {
                (Reverse(items.len() * whom.len()), items.clone(), fewest(*adult), *adult,
                 whom.iter().map(|n| (Reverse(pupils[*n].needs.len()), *n)).collect::<BTreeSet<_>>())
            });
            let Some((adult, items, whom)) = best else {
                if anew { break }
                (waits, anew) = (vec![true; pupils.len()], true);
                continue;
            };
            anew = false;
            let takes = rule.minutes_per_item * items.len() as u16;
            minutes[adult] -= takes;
            for n in &whom {
                waits[*n] = false;
                open[*n].retain(|item| !items.contains(item));
            }
            expected.push(Set {
                adult,
                pupils: whom.iter().map(|n| pupil_id(*n)).collect(),
                items: items.iter().map(|n| item_id(*n)).collect(),
                minutes: takes,
            });
        }
        prop_assert_eq!(made.sets, expected);
    }

    #[test]
    fn at_least_half_of_what_any_choice_could_serve((rule, minutes, pupils, open) in small()) {
        let served: usize =
            plan(&rule, &adults(&minutes), &pupils).sets.iter().map(|s| s.items.len() * s.pupils.len()).sum();
        let most = optimum(&rule, &minutes, &pupils, &open, 3);
        prop_assert!(served <= most && served * 2 >= most, "{} of {}", served, most);
    }

    #[test]
    fn whatever_the_needs_the_rule_holds(
        needs in prop::collection::vec((prop::collection::btree_map(0_usize..12, 1_u32..28, 0..8), 0_usize..16), 0..30),
        minutes in prop::collection::vec(0_u16..40, 4),
    ) {
        let pupils: Vec<Pupil> = needs.iter().enumerate().map(|(n, (needs, adults))| {
            pupil(n, &subset(*adults, 4), &needs.iter().map(|(item, d)| (*item, *d)).collect::<Vec<_>>())
        }).collect();
        let made = plan(&RULE, &adults(&minutes), &pupils);
        let mut placed = BTreeSet::new();
        let mut used = [0_u16; 4];
        for set in &made.sets {
            prop_assert!(set.minutes <= RULE.minutes && set.pupils.len() <= RULE.pupils_most);
            prop_assert_eq!(set.minutes, RULE.minutes_per_item * set.items.len() as u16);
            used[set.adult] += set.minutes;
            for id in &set.pupils {
                let of = pupils.iter().find(|pupil| pupil.id == *id).unwrap();
                prop_assert!(of.adults.contains(&set.adult));
                for item in &set.items {
                    prop_assert!(of.needs.iter().any(|need| need.item == *item));
                    prop_assert!(placed.insert((*id, *item)), "taught twice");
                }
            }
        }
        prop_assert!(used.iter().zip(&minutes).all(|(used, has)| used <= has));
        // What has no place is left, whole and once; with time for one item and an adult, nothing is.
        for left in &made.left {
            let of = pupils.iter().find(|pupil| pupil.id == left.pupil).unwrap();
            prop_assert_eq!(left.why == NoPlace::NoAdult, of.adults.is_empty());
            prop_assert!(of.adults.iter().all(|n| minutes[*n] - used[*n] < RULE.minutes_per_item));
            for item in &left.items {
                prop_assert!(placed.insert((left.pupil, *item)));
            }
        }
        prop_assert_eq!(placed.len(), pupils.iter().map(|pupil| pupil.needs.len()).sum::<usize>());
        prop_assert_eq!(plan(&RULE, &adults(&minutes), &pupils), made);
    }
}

#[test]
fn two_hundred_pupils_and_ten_adults_with_all_needs_different() {
    // 200 pupils of 10 adults, each with 10 of 60 items, mixed by a step that shares few of them.
    let pupils: Vec<Pupil> = (0..200)
        .map(|n| {
            let items: BTreeSet<usize> = (0..10).map(|k| (n * 7 + k * (11 + n % 13)) % 60).collect();
            let needs: Vec<(usize, u32)> = items.iter().map(|item| (*item, 1 + (item % 25) as u32)).collect();
            pupil(n, &[n % 10, (n / 20) % 10], &needs)
        })
        .collect();
    let made = plan(&RULE, &adults(&[30; 10]), &pupils);
    let minutes: u16 = made.sets.iter().map(|set| set.minutes).sum();
    assert!(made.sets.len() >= 30 && (270..=300).contains(&minutes), "{} {minutes}", made.sets.len());
}
