//! Which figures of a release are told. What is too small goes first; then whatever lets that be worked out, until
//! nothing that was left out for its own sake can be told more closely than the rule allows, and nothing left out
//! beside it can be told exactly. (The latter would be fit to tell by itself: the same width for it would cost a whole
//! breakdown for every part of fewer pupils than the width.)
//!
//! Properties, each a test: no order or name of a group matters; another breakdown never brings back what was left
//! out; a total is left out for its own smallness only, so where nothing else helps a breakdown goes as a whole.
//!
//! Method: statistical disclosure control of linked tables by cell suppression, audited by interval bounds (Hundepool
//! and others, Statistical Disclosure Control, 2012, chapter 4).

use std::collections::BTreeSet;

use super::{
    bounds::{Known, Range},
    linked::{Before, Breakdown, Cell, Linked},
    shown::{could_be, percent},
};
use crate::rules::ReleaseRule;

/// Breakdowns of one bundle of which every choice is tried. Beyond it only all together are.
const TRIED_SINGLY: usize = 6;

/// What becomes of a figure in a release.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It is told.
    Told,
    /// It is left out.
    LeftOut(Why),
}

crate::vocabulary! {
    /// Why a figure is left out.
    pub enum Why {
        /// The group is smaller than figures may be about.
        SmallGroup = "small_group",
        /// Too few met the measure, or too few did not.
        OneSided = "one_sided",
        /// Telling it would let another be worked out.
        Protects = "protects",
        /// An earlier release left it out.
        LeftOutBefore = "left_out_before",
        /// An earlier release told of nearly the same pupils.
        NearlyToldBefore = "nearly_told_before",
    }
}

impl Fate {
    /// Whether it is told.
    #[must_use]
    pub fn is_told(self) -> bool {
        self == Self::Told
    }
}

/// What becomes of each figure, in the order of the cells. `minimum` is the smallest group, which a school may have
/// chosen among the rule's two.
#[must_use]
pub fn decide(linked: &Linked, rule: &ReleaseRule, minimum: usize) -> Vec<Fate> {
    let judge = Judge { linked, rule, minimum };
    let mut fates: Vec<Fate> = linked.cells.iter().map(|cell| judge.alone(*cell)).collect();
    let alone: BTreeSet<usize> = (0..fates.len()).filter(|place| !fates[*place].is_told()).collect();
    for bundle in linked.bundles() {
        for chosen in choices(&bundle) {
            let breakdowns: Vec<&Breakdown> =
                chosen.into_iter().map(|place| &linked.breakdowns[place]).collect();
            for place in judge.protect(&breakdowns, &alone) {
                if fates[place].is_told() {
                    fates[place] = Fate::LeftOut(Why::Protects);
                }
            }
        }
    }
    fates
}

/// Every choice of some of them. What is left out for one choice stays left out, so that a release with one breakdown
/// more leaves out no less.
fn choices(bundle: &[usize]) -> Vec<Vec<usize>> {
    if bundle.len() > TRIED_SINGLY {
        return vec![bundle.to_vec()];
    }
    let chosen = |mask: usize| {
        let taken = bundle.iter().enumerate().filter(move |(place, _)| mask >> place & 1 == 1);
        taken.map(|(_, one)| *one).collect()
    };
    (1..1 << bundle.len()).map(chosen).collect()
}

struct Judge<'a> {
    linked: &'a Linked,
    rule: &'a ReleaseRule,
    minimum: usize,
}

impl Judge<'_> {
    /// By itself.
    fn alone(&self, cell: Cell) -> Fate {
        match cell.before {
            Before::Told => Fate::Told,
            Before::LeftOut => Fate::LeftOut(Why::LeftOutBefore),
            Before::NearlyTold => Fate::LeftOut(Why::NearlyToldBefore),
            // Of nobody there is nothing to tell or to hide.
            Before::Nothing if cell.pupils == 0 => Fate::Told,
            Before::Nothing if (cell.pupils as usize) < self.minimum => Fate::LeftOut(Why::SmallGroup),
            Before::Nothing if !self.two_sided(cell.pupils, cell.met) => Fate::LeftOut(Why::OneSided),
            Before::Nothing => Fate::Told,
        }
    }

    /// Whether enough met the measure and enough did not.
    fn two_sided(&self, pupils: u32, met: u32) -> bool {
        met >= self.rule.minimum_met && pupils - met >= self.rule.minimum_not_met
    }

    /// Leaves out more until what is left out is safe, or whole breakdowns are.
    fn protect(&self, breakdowns: &[&Breakdown], alone: &BTreeSet<usize>) -> BTreeSet<usize> {
        let mut left_out = alone.clone();
        loop {
            let mut more = BTreeSet::new();
            for pair in breakdowns.iter().filter(|one| one.parts.len() == 2) {
                if pair.parts.iter().any(|part| left_out.contains(part)) {
                    more.extend(pair.parts.iter().filter(|part| self.can_go(**part, &left_out)));
                }
            }
            if more.is_empty() {
                more = self.next(breakdowns, alone, &left_out);
            }
            if more.is_empty() {
                return left_out;
            }
            left_out.extend(more);
        }
    }

    fn can_go(&self, cell: usize, left_out: &BTreeSet<usize>) -> bool {
        !left_out.contains(&cell) && self.linked.cells[cell].before != Before::Told
    }

    /// The figures that go next: for each that is not safe the smallest beside it, all of them where several are
    /// alike.
    fn next(
        &self,
        breakdowns: &[&Breakdown],
        alone: &BTreeSet<usize>,
        left_out: &BTreeSet<usize>,
    ) -> BTreeSet<usize> {
        let ranges: Vec<Range> =
            (0..self.linked.cells.len()).map(|cell| self.reading(cell, left_out)).collect();
        let known = Known { ranges: &ranges, breakdowns };
        let mut next = BTreeSet::new();
        for cell in left_out.iter().filter(|cell| breakdowns.iter().any(|one| one.holds(**cell))) {
            let beside: Vec<BTreeSet<usize>> = breakdowns
                .iter()
                .filter(|one| one.holds(*cell))
                .map(|one| self.smallest(one, left_out))
                .collect();
            let helps = beside.iter().any(|some| !some.is_empty());
            let width = if alone.contains(cell) { self.rule.hidden_width } else { 1 };
            if helps && !self.is_safe(self.linked.cells[*cell], width, known.of(*cell)) {
                next.extend(beside.into_iter().flatten());
            }
        }
        next
    }

    /// What a reader knows of a figure at once. What is part of nothing counts as known whether it is told or not.
    fn reading(&self, cell: usize, left_out: &BTreeSet<usize>) -> Range {
        let one = self.linked.cells[cell];
        match left_out.contains(&cell) {
            true if self.linked.is_part(cell) => (0, one.pupils),
            true => (one.met, one.met),
            false => could_be(percent(one.met, one.pupils), one.pupils, self.rule),
        }
    }

    /// Whether what can be worked out of a figure that is left out leaves enough open: the width asked for, or that of
    /// the group, and a value that would have been told.
    fn is_safe(&self, cell: Cell, width: u32, range: Option<Range>) -> bool {
        let Some((low, high)) = range else { return false };
        let wide = high - low >= width.min(cell.pupils);
        let tellable = |met: u32| self.two_sided(cell.pupils, met);
        let any = cell.pupils >= self.rule.minimum_met + self.rule.minimum_not_met;
        wide && (!any || (low..=high).any(tellable))
    }

    /// Of the parts that are told, those with the fewest pupils, and among these with the fewest on one side.
    fn smallest(&self, breakdown: &Breakdown, left_out: &BTreeSet<usize>) -> BTreeSet<usize> {
        let size = |place: usize| {
            let cell = self.linked.cells[place];
            (cell.pupils, cell.met.min(cell.not_met()))
        };
        let there: Vec<usize> =
            breakdown.parts.iter().copied().filter(|part| self.can_go(*part, left_out)).collect();
        let least = there.iter().map(|place| size(*place)).min();
        there.into_iter().filter(|place| Some(size(*place)) == least).collect()
    }
}
