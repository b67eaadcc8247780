//! Groups for 120 pupils, beside cutting them by their place.
//! `cargo bench -p plumbline-core --bench grouping`

use std::collections::BTreeSet;

use divan::{Bencher, black_box};
use plumbline_core::{
    grouping::{Ask, Candidate, Need, Slot, by_place, propose},
    id::Id,
    rules::{GroupingRule, pack},
    text::Name,
};

/// Pupils, groups, and lessons with one item each.
const SIZES: [(usize, usize, usize); 3] = [(120, 10, 88), (120, 10, 360), (300, 30, 88)];

/// What each costs, what it costs cut by place, and what none costs less than: the same in every run.
const COSTS: [(u64, Option<u64>, u64); 3] =
    [(1595, Some(1755), 1595), (1579, Some(1757), 1578), (3739, Some(4205), 3724)];

/// The same where every group has to be of the even size.
const EXACT_COSTS: [(u64, Option<u64>, u64); 3] =
    [(1631, Some(1755), 1613), (1613, Some(1757), 1600), (3829, Some(4205), 3753)];

fn main() {
    for (size, costs) in SIZES.into_iter().zip(COSTS) {
        let made = propose(&School::new(size).ask()).map(|made| (made.cost, made.by_place, made.bound));
        assert_eq!(made, Ok(costs), "{size:?}");
    }
    for (size, costs) in SIZES.into_iter().zip(EXACT_COSTS) {
        let made = propose(&School::exact(size).ask()).map(|made| (made.cost, made.by_place, made.bound));
        assert_eq!(made, Ok(costs), "{size:?}, exactly");
    }
    divan::main();
}

/// Pupils whose knowledge falls off round a place of their own, in the groups of last half term.
struct School {
    pupils: Vec<Candidate>,
    groups: Vec<Slot>,
    lessons: Vec<usize>,
    rule: GroupingRule,
}

impl School {
    fn new((pupils, groups, lessons): (usize, usize, usize)) -> Self {
        let mut numbers = Numbers(1);
        let pupil = |n: usize| {
            let at = numbers.next();
            let place = 15.0 + 60.0 * at;
            let mut need = |item: usize| {
                let knows = numbers.next() < 1.0 / (1.0 + ((item as f64 - place) / 6.0).exp());
                if knows { Need::Secure } else { Need::Gap }
            };
            let needs = (0..lessons).map(&mut need).collect();
            let now = ((at + 0.1 * (numbers.next() - 0.5)).clamp(0.0, 0.999) * groups as f64) as usize;
            Candidate {
                id: Id::from_uuid(uuid::Uuid::from_u128(n as u128)),
                year_group: None,
                now: Some(now),
                needs,
            }
        };
        let pupils: Vec<Candidate> = (0..pupils).map(pupil).collect();
        let each = pupils.len() / groups;
        let slot = |n: usize| Slot {
            group_id: None,
            name: Name::new(&format!("Group {n}")).unwrap_or_else(|error| panic!("{error}")),
            staff_id: None,
            room: None,
            time: None,
            least: each / 2,
            most: each + 4,
            year_groups: BTreeSet::new(),
        };
        let rule = pack("england").unwrap_or_else(|error| panic!("{error}")).grouping.clone();
        Self { pupils, groups: (0..groups).map(slot).collect(), lessons: (0..=lessons).collect(), rule }
    }

    /// The same with groups of the even size and no other.
    fn exact(size: (usize, usize, usize)) -> Self {
        let mut school = Self::new(size);
        let each = school.pupils.len() / school.groups.len();
        for slot in &mut school.groups {
            (slot.least, slot.most) = (each, each);
        }
        school
    }

    fn ask(&self) -> Ask<'_> {
        Ask {
            pupils: &self.pupils,
            groups: &self.groups,
            together: &[],
            apart: &[],
            pins: &[],
            lessons: &self.lessons,
            rule: &self.rule,
        }
    }
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn proposed(bencher: Bencher<'_, '_>, size: (usize, usize, usize)) {
    let school = School::new(size);
    bencher.bench(|| propose(black_box(&school.ask())).is_ok());
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn proposed_exact(bencher: Bencher<'_, '_>, size: (usize, usize, usize)) {
    let school = School::exact(size);
    bencher.bench(|| propose(black_box(&school.ask())).is_ok());
}

#[divan::bench(args = SIZES)]
fn cut_by_place(bencher: Bencher<'_, '_>, size: (usize, usize, usize)) {
    let school = School::new(size);
    bencher.bench(|| by_place(black_box(&school.ask())));
}

/// Numbers for made-up pupils.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}
