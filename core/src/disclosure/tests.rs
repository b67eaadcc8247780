//! Whole releases, attacked.

use std::collections::BTreeSet;

use super::*;
use crate::{
    phonics::rng::Rng,
    rules::{ReleaseRule, pack},
};

fn closed() -> ReleaseRule {
    pack("england").unwrap().disclosure.closed
}

fn published() -> ReleaseRule {
    pack("england").unwrap().disclosure.published
}

fn fates(linked: &Linked, rule: &ReleaseRule) -> Vec<Fate> {
    decide(linked, rule, rule.minimum_group)
}

/// One whole and its parts; the whole comes first.
fn one_breakdown(parts: &[(u32, u32)]) -> Linked {
    let sum = |of: fn(&(u32, u32)) -> u32| parts.iter().map(of).sum();
    let mut cells = vec![Cell::new(sum(|one| one.0), sum(|one| one.1))];
    cells.extend(parts.iter().map(|(pupils, met)| Cell::new(*pupils, *met)));
    let breakdowns = vec![Breakdown { total: 0, parts: (1..cells.len()).collect() }];
    Linked { cells, breakdowns, ..Linked::default() }
}

fn as_text(fates: &[Fate]) -> String {
    let one = |fate: &Fate| match fate {
        Fate::Told => 't',
        Fate::LeftOut(Why::SmallGroup) => 'g',
        Fate::LeftOut(Why::OneSided) => 's',
        Fate::LeftOut(Why::Protects) => 'p',
        Fate::LeftOut(Why::LeftOutBefore) => 'b',
        Fate::LeftOut(Why::NearlyToldBefore) => 'n',
        Fate::LeftOut(Why::NoRow) => '-',
    };
    fates.iter().map(one).collect()
}

#[test]
fn what_one_part_leaves_out_another_protects() {
    let check = |parts: &[(u32, u32)], told: &str| {
        assert_eq!(as_text(&fates(&one_breakdown(parts), &closed())), told, "{parts:?}");
    };
    // Nothing is small.
    check(&[(30, 20), (30, 24), (28, 15)], "tttt");
    // Four pupils are a small group; the next smallest group goes with them.
    check(&[(4, 2), (30, 24), (28, 15)], "tgtp");
    // Two did not meet it: the smallest beside them goes, and takes one-sidedness with it.
    check(&[(30, 28), (30, 24), (28, 15)], "tstp");
    // Two alike go together: neither has a claim before the other.
    check(&[(4, 2), (28, 15), (28, 15)], "tgpp");
    // Both sides of a split go, or neither.
    check(&[(30, 28), (30, 20)], "tsp");
    // Left out for themselves, and between them hiding enough: 30 of 58 met it, in whichever part.
    check(&[(30, 28), (28, 2), (30, 20)], "tsst");
    // Three of 60 did not: that is too few to hide in, so the third goes too.
    check(&[(30, 28), (30, 29), (30, 20)], "tssp");
    // Three of 90 did not: nothing can hide how few, so the breakdown goes as a whole and the total stays.
    check(&[(30, 29), (30, 29), (30, 29)], "tsss");
    // A whole of which too few did not.
    check(&[(10, 9), (10, 9)], "sss");
    // Numbers are told beside percentages: 261 less 35 less 226 is nobody of the three.
    check(&[(3, 0), (60, 35), (297, 226)], "tgpt");
    // Of nobody there is nothing to hide.
    check(&[(0, 0), (30, 20), (30, 15)], "tttt");
}

#[test]
fn a_whole_goes_where_its_parts_are_gone_and_more_can_be_worked_out_than_it_says() {
    // A school of 60: year groups of 14 and 46; a class of the whole first year group and two pupils of the second, who
    // both met it; another of the rest.
    let mut linked = one_breakdown(&[(14, 9), (46, 30)]);
    linked.cells.extend([
        Cell::new(16, 11),
        Cell::new(44, 28),
        Cell { may_be_told: false, ..Cell::new(2, 2) },
    ]);
    let of = |total: usize, parts: &[usize]| Breakdown { total, parts: parts.to_vec() };
    linked.breakdowns.extend([of(0, &[3, 4]), of(2, &[4, 5]), of(3, &[1, 5])]);
    let fates = as_text(&fates(&linked, &closed()));
    // The two would be the class less the year group, and the other year group less the other class.
    for (whole, part) in [(1, 3), (2, 4)] {
        assert!(!told(&fates, whole) || !told(&fates, part), "{fates}");
    }
    assert!(told(&fates, 0), "{fates}");
    // A number of nearly everybody, with nothing between them but the few: only one of them is told.
    let mut near = one_breakdown(&[(30, 20), (30, 15)]);
    near.cells.push(Cell::new(29, 19));
    near.nearly_the_same.push((1, 3));
    assert_eq!(as_text(&self::fates(&near, &closed())), "tttp");
}

fn told(fates: &str, place: usize) -> bool {
    fates.chars().nth(place) == Some('t')
}

#[test]
fn the_public_is_told_of_ten_and_more() {
    let linked = one_breakdown(&[(9, 5), (30, 24), (28, 15)]);
    assert_eq!(as_text(&fates(&linked, &published())), "tgtp");
    let option = published().minimum_group_option.unwrap();
    assert_eq!(as_text(&decide(&linked, &published(), option)), "tttt");
}

#[test]
fn what_earlier_releases_told_or_left_out_counts() {
    let with = |place: usize, before: Before| {
        let mut linked = one_breakdown(&[(30, 20), (30, 24), (28, 15)]);
        linked.cells[place].before = before;
        as_text(&fates(&linked, &closed()))
    };
    assert_eq!(with(1, Before::LeftOut), "tbtp");
    assert_eq!(with(2, Before::NearlyTold), "ttnp");
    // What is out already protects nothing: the other one goes.
    let mut linked = one_breakdown(&[(4, 2), (30, 24), (28, 15)]);
    linked.cells[3].before = Before::Told;
    assert_eq!(as_text(&fates(&linked, &closed())), "tgpt");
}

/// The linked tables of the facts: figures of 3 and fewer are small.
#[test]
fn linked_tables_are_protected_together() {
    let values = [2, 2, 8, 8, 3, 3, 3, 7, 20, 16, 30, 6];
    let table = |total: usize, parts: &[usize]| Breakdown { total, parts: parts.to_vec() };
    let tables = [
        table(8, &[0, 1, 2, 3]),
        table(9, &[4, 5, 6, 7]),
        table(10, &[0, 1, 2, 3, 4, 7]),
        table(11, &[5, 6]),
    ];
    let rule = ReleaseRule { minimum_group: 0, minimum_met: 4, minimum_not_met: 0, ..closed() };
    let cells = || values.into_iter().map(|met| Cell::new(100, met)).collect();
    let left_out = |breakdowns: Vec<Breakdown>| {
        let linked = Linked { cells: cells(), breakdowns, ..Linked::default() };
        let fates = fates(&linked, &rule);
        (0..8).filter(|place| !fates[*place].is_told()).collect::<BTreeSet<usize>>()
    };
    let primary = BTreeSet::from([0, 1, 4, 5, 6]);
    for one in tables.iter().take(2) {
        let mut expected = primary.clone();
        // A and B are four together, so one of five values is as wide as they can be; the smallest beside them goes.
        if one.parts.contains(&0) {
            expected.extend([2, 3]);
        }
        assert_eq!(left_out(vec![one.clone()]), expected);
    }
    let all = left_out(tables.to_vec());
    assert!(all.is_superset(&primary) && all.contains(&7), "N goes, or K is given away: {all:?}");
}

/// A school by year group, these by class, and by two things that cut across: places 0 the school, then the parts.
fn school(rng: &mut Rng) -> Linked {
    let mut linked = Linked { cells: vec![Cell::new(0, 0)], ..Linked::default() };
    let mut years = Vec::new();
    for _ in 0..3 {
        let year = linked.cells.len();
        linked.cells.push(Cell::new(0, 0));
        years.push(year);
        let mut classes = Vec::new();
        for _ in 0..1 + rng.below(2) {
            let pupils = 6 + rng.below(25) as u32;
            let met = (0..pupils).filter(|_| rng.below(100) < 78).count() as u32;
            classes.push(linked.cells.len());
            linked.cells.push(Cell::new(pupils, met));
            for whole in [0, year] {
                linked.cells[whole].pupils += pupils;
                linked.cells[whole].met += met;
            }
        }
        if classes.len() > 1 {
            linked.breakdowns.push(Breakdown { total: year, parts: classes });
        } else {
            linked.cells.pop();
        }
    }
    linked.breakdowns.push(Breakdown { total: 0, parts: years });
    for parts in [2, 3] {
        let whole = linked.cells[0];
        let (mut pupils, mut met) = (vec![0; parts], vec![0; parts]);
        for pupil in 0..whole.pupils {
            let part = if rng.below(100) < 25 { 0 } else { 1 + rng.below(parts - 1) };
            pupils[part] += 1;
            met[part] += u32::from(pupil < whole.met);
        }
        let first = linked.cells.len();
        linked.cells.extend(pupils.iter().zip(&met).map(|(pupils, met)| Cell::new(*pupils, *met)));
        linked.breakdowns.push(Breakdown { total: 0, parts: (first..first + parts).collect() });
    }
    linked
}

/// Works figures out by subtraction and by the most and the least there can be, round and round: another way than the
/// one the release was judged by, and over all of it at once.
fn worked_out(linked: &Linked, told: &[bool]) -> Vec<Range> {
    let mut ranges: Vec<Range> = linked
        .cells
        .iter()
        .zip(told)
        .map(|(cell, told)| if *told { (cell.met, cell.met) } else { (0, cell.pupils) })
        .collect();
    loop {
        let before = ranges.clone();
        for Breakdown { total, parts } in &linked.breakdowns {
            let sum = |of: fn(&Range) -> u32, but: usize| -> u32 {
                parts.iter().filter(|part| **part != but).map(|part| of(&before[*part])).sum()
            };
            let all = (sum(|one| one.0, usize::MAX), sum(|one| one.1, usize::MAX));
            ranges[*total] = (ranges[*total].0.max(all.0), ranges[*total].1.min(all.1));
            for part in parts {
                let low = before[*total].0.saturating_sub(sum(|one| one.1, *part));
                let high = before[*total].1.saturating_sub(sum(|one| one.0, *part));
                ranges[*part] = (ranges[*part].0.max(low), ranges[*part].1.min(high));
            }
        }
        if ranges == before {
            return ranges;
        }
    }
}

/// 400 schools: nobody works anything out, where leaving out only what is small gives most of it away.
#[test]
fn nothing_is_worked_out_of_four_hundred_releases() {
    let rule = closed();
    let (mut small, mut recovered_small, mut told_cells, mut all_cells) = (0, 0, 0, 0);
    for seed in 0..400 {
        let linked = school(&mut Rng::new(seed));
        let fates = fates(&linked, &rule);
        let told: Vec<bool> = fates.iter().map(|fate| fate.is_told()).collect();
        for (place, (low, high)) in worked_out(&linked, &told).into_iter().enumerate() {
            // Where all of a breakdown is left out, what the whole says of its parts is all there is.
            let beside = |one: &&Breakdown| one.parts.contains(&place);
            let gone = |one: &Breakdown| one.parts.iter().all(|part| !told[*part]);
            if !told[place] && linked.cells[place].pupils > 0 {
                let withheld = linked.breakdowns.iter().filter(beside).all(gone);
                assert!(
                    low < high || withheld && linked.cells[0].not_met() == 0,
                    "school {seed}, figure {place}"
                );
            }
        }
        let primary: Vec<bool> = fates
            .iter()
            .map(|fate| !matches!(fate, Fate::LeftOut(Why::SmallGroup | Why::OneSided)))
            .collect();
        for (place, (low, high)) in worked_out(&linked, &primary).into_iter().enumerate() {
            small += usize::from(!primary[place]);
            recovered_small += usize::from(!primary[place] && low == high);
        }
        told_cells += told.iter().filter(|told| **told).count();
        all_cells += told.len();
    }
    let share = 100 * recovered_small / small;
    assert!((15..95).contains(&share), "{share} % of {small} are worked out where nothing protects them");
    let useful = 100 * told_cells / all_cells;
    assert!((40..90).contains(&useful), "{useful} % of {all_cells} figures are told");
}

/// Every hidden number has as many values as the rule asks, counted one by one, or its breakdown is left out whole.
#[test]
fn every_way_to_fill_in_small_tables_leaves_enough_open() {
    let rule = closed();
    for seed in 0..300 {
        let mut rng = Rng::for_purpose(seed, "small tables");
        let parts: Vec<(u32, u32)> = (0..2 + rng.below(3))
            .map(|_| {
                let pupils = 4 + rng.below(12) as u32;
                (pupils, rng.below(pupils as usize + 1) as u32)
            })
            .collect();
        let linked = one_breakdown(&parts);
        let fates = fates(&linked, &rule);
        if !fates[0].is_told() || fates[1..].iter().all(|fate| !fate.is_told()) {
            continue;
        }
        let mut seen = vec![BTreeSet::new(); parts.len()];
        let mut filled = vec![0; parts.len()];
        fill(&parts, &fates[1..], linked.cells[0].met, 0, &mut filled, &mut seen);
        for (place, fate) in fates[1..].iter().enumerate().filter(|(_, fate)| !fate.is_told()) {
            let (pupils, _) = parts[place];
            let width = if *fate == Fate::LeftOut(Why::Protects) { 1 } else { rule.hidden_width };
            let needed = width.min(pupils) as usize + 1;
            assert!(seen[place].len() >= needed, "{seed}: {parts:?} {place} {fate:?} {:?}", seen[place]);
        }
    }
}

fn fill(
    parts: &[(u32, u32)],
    fates: &[Fate],
    left: u32,
    at: usize,
    filled: &mut [u32],
    seen: &mut [BTreeSet<u32>],
) {
    let Some((pupils, met)) = parts.get(at) else {
        if left == 0 {
            for (seen, value) in seen.iter_mut().zip(filled.iter()) {
                seen.insert(*value);
            }
        }
        return;
    };
    let values = if fates[at].is_told() { *met..=*met } else { 0..=*pupils };
    for value in values.filter(|value| *value <= left) {
        filled[at] = value;
        fill(parts, fates, left - value, at + 1, filled, seen);
    }
}

#[test]
fn no_order_of_groups_matters() {
    for seed in 0..200 {
        let mut rng = Rng::for_purpose(seed, "order");
        let linked = school(&mut rng);
        let mut places: Vec<usize> = (0..linked.cells.len()).collect();
        rng.shuffle(&mut places);
        // What stood at `places[i]` stands at `i`.
        let now = |old: usize| places.iter().position(|place| *place == old).unwrap();
        let mut breakdowns: Vec<Breakdown> = linked
            .breakdowns
            .iter()
            .map(|one| {
                let mut parts: Vec<usize> = one.parts.iter().map(|part| now(*part)).collect();
                rng.shuffle(&mut parts);
                Breakdown { total: now(one.total), parts }
            })
            .collect();
        rng.shuffle(&mut breakdowns);
        let cells = places.iter().map(|place| linked.cells[*place]).collect();
        let shuffled = Linked { cells, breakdowns, ..Linked::default() };
        let (as_is, other) = (fates(&linked, &closed()), fates(&shuffled, &closed()));
        for (place, old) in places.iter().enumerate() {
            assert_eq!(other[place], as_is[*old], "seed {seed}");
        }
    }
}
