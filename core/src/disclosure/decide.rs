//! Which figures of a release are told. What is too small goes first; then whatever lets that be worked out, until
//! nothing that was left out for its own sake can be told more closely than the rule allows, and nothing left out
//! beside it can be told exactly. (The latter would be fit to tell by itself: the same width for it would cost a whole
//! breakdown for every part of fewer pupils than the width.)
//!
//! Parts go before wholes. Where all parts of a breakdown are gone, what the whole says of each of them may be known, for
//! the whole is fit to tell; where more than that could be worked out, wholes go too.
//!
//! No order or name of a group matters.
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
        /// It only ties others together, and no row is about it.
        NoRow = "no_row",
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
    let hidden = (0..fates.len()).filter(|place| !fates[*place].is_told()).collect();
    for place in judge.protect(hidden) {
        if fates[place].is_told() {
            fates[place] = Fate::LeftOut(Why::Protects);
        }
    }
    fates
}

type Places = BTreeSet<usize>;

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
            Before::Nothing if self.is_small(cell) => Fate::LeftOut(Why::SmallGroup),
            Before::Nothing if !self.two_sided(cell.pupils, cell.met) => Fate::LeftOut(Why::OneSided),
            Before::Nothing if !cell.may_be_told => Fate::LeftOut(Why::NoRow),
            Before::Nothing => Fate::Told,
        }
    }

    const fn is_small(&self, cell: Cell) -> bool {
        (cell.pupils as usize) < self.minimum
    }

    /// Whether enough met the measure and enough did not.
    const fn two_sided(&self, pupils: u32, met: u32) -> bool {
        met >= self.rule.minimum_met && pupils - met >= self.rule.minimum_not_met
    }

    /// How far apart the least and the most have to be that can be worked out of a figure that is not told. None where
    /// it would be fit to tell and only no row is about it.
    fn width(&self, cell: Cell) -> Option<u32> {
        let unfit = self.is_small(cell) || !self.two_sided(cell.pupils, cell.met);
        match cell.before {
            _ if cell.pupils == 0 => None,
            Before::NearlyTold => Some(self.rule.hidden_width),
            _ if unfit => Some(self.rule.hidden_width),
            Before::Nothing if !cell.may_be_told => None,
            _ => Some(1),
        }
    }

    /// Leaves out more until what is left out is safe.
    fn protect(&self, mut hidden: Places) -> Places {
        loop {
            let mut more = self.other_sides(&hidden);
            more.extend(self.too_near(&hidden));
            if more.is_empty() {
                more = self.next(&hidden);
            }
            if more.is_empty() {
                return hidden;
            }
            hidden.extend(more);
        }
    }

    fn can_go(&self, cell: usize, hidden: &Places) -> bool {
        let one = self.linked.cells[cell];
        !hidden.contains(&cell) && one.before != Before::Told && one.pupils > 0
    }

    /// Of a split in two, the side that is told beside one that is not.
    fn other_sides(&self, hidden: &Places) -> Places {
        let cells = &self.linked.cells;
        let pairs = self.linked.breakdowns.iter().filter(|one| one.parts.len() == 2);
        pairs
            .filter(|one| one.parts.iter().all(|part| cells[*part].may_be_told))
            .filter(|one| one.parts.iter().any(|part| hidden.contains(part)))
            .flat_map(|one| one.parts.iter().copied().filter(|part| self.can_go(*part, hidden)))
            .collect()
    }

    /// Of two that are told about nearly the same pupils, the smaller; both where they are alike.
    fn too_near(&self, hidden: &Places) -> Places {
        let pairs = self.linked.nearly_the_same.iter().map(|(one, other)| [*one, *other]);
        let told = pairs.filter(|pair| pair.iter().all(|place| !hidden.contains(place)));
        told.flat_map(|pair| self.smallest(pair.into_iter(), hidden)).collect()
    }

    /// The figures that go next: for each that is not safe the smallest beside it, all of them where several are
    /// alike; where none is beside it, the smallest part of what is tied to it, and then the smallest whole.
    fn next(&self, hidden: &Places) -> Places {
        let ranges: Vec<Range> =
            (0..self.linked.cells.len()).map(|cell| self.reading(cell, hidden)).collect();
        let Linked { breakdowns, at_most, .. } = self.linked;
        let known = Known { ranges: &ranges, breakdowns, at_most };
        let of_one_year = Known { ranges: &ranges, breakdowns, at_most: &[] };
        let mut next = Places::new();
        for place in hidden {
            let cell = self.linked.cells[*place];
            let Some(width) = self.width(cell) else { continue };
            let range = known.of(*place);
            if self.is_safe(cell, width, range) {
                continue;
            }
            // Safe but for what another year says of these pupils: that goes.
            if !at_most.is_empty() && self.is_safe(cell, width, of_one_year.of(*place)) {
                let tied: Places = known.tied_to(*place).across().collect();
                let across = self.smallest(tied.into_iter(), hidden);
                if !across.is_empty() {
                    next.extend(across);
                    continue;
                }
            }
            let holding = || self.linked.breakdowns.iter().filter(|one| one.holds(*place));
            let beside: Places =
                holding().flat_map(|one| self.smallest(one.parts.iter().copied(), hidden)).collect();
            if !beside.is_empty() {
                next.extend(beside);
                continue;
            }
            if range.is_some_and(|range| self.is_what_a_whole_says(*place, range, &ranges)) {
                continue;
            }
            let tied: Places = known.tied_to(*place).places().collect();
            let parts = self.smallest(tied.iter().copied().filter(|one| self.linked.is_part(*one)), hidden);
            let any = if parts.is_empty() { self.smallest(tied.into_iter(), hidden) } else { parts };
            next.extend(any);
        }
        next
    }

    /// What a reader knows of a figure at once. Numbers are told beside percentages unless groups are rounded, and then
    /// what is part of nothing still counts as known: parts of small groups add up to it.
    fn reading(&self, cell: usize, hidden: &Places) -> Range {
        let one = self.linked.cells[cell];
        let exact = self.rule.round_group_to.is_none() || !self.linked.is_part(cell);
        match hidden.contains(&cell) {
            true => (0, one.pupils),
            false if exact => (one.met, one.met),
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

    /// Whether no more can be worked out of a part than one whole says of any part of so many pupils.
    fn is_what_a_whole_says(&self, cell: usize, (low, high): Range, ranges: &[Range]) -> bool {
        let pupils = |place: usize| self.linked.cells[place].pupils;
        let said = |one: &Breakdown| {
            let (least, most) = ranges[one.total];
            let others = pupils(one.total) - pupils(cell);
            most.min(pupils(cell)) - least.saturating_sub(others)
        };
        let wholes = self.linked.breakdowns.iter().filter(|one| one.parts.contains(&cell));
        low < high && wholes.map(said).min().is_some_and(|least| high - low >= least)
    }

    /// Of those that are told and can go, the ones with the fewest pupils, and among these with the fewest on one side.
    fn smallest(&self, of: impl Iterator<Item = usize>, hidden: &Places) -> Places {
        let size = |place: usize| {
            let cell = self.linked.cells[place];
            (cell.pupils, cell.met.min(cell.not_met()))
        };
        let there: Places = of.filter(|place| self.can_go(*place, hidden)).collect();
        let least = there.iter().map(|place| size(*place)).min();
        there.into_iter().filter(|place| Some(size(*place)) == least).collect()
    }
}
