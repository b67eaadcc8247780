//! Figures that hang together: groups of pupils of whom some meet a measure, and which groups make up which.

/// A group of pupils and one yes-or-no measure of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell {
    /// Pupils the measure says something of. Everybody is taken to know how many they are: class lists are no secret.
    pub pupils: u32,
    /// Of these, how many meet it.
    pub met: u32,
    /// What earlier releases, to the same readers or to more, told about this very figure.
    pub before: Before,
    /// Whether it may be told at all. One that may not only ties others together: the part of a mixed-age class in one
    /// year group, what an earlier release told.
    pub may_be_told: bool,
}

impl Cell {
    /// A figure that was never told or left out.
    #[must_use]
    pub const fn new(pupils: u32, met: u32) -> Self {
        Self { pupils, met, before: Before::Nothing, may_be_told: true }
    }

    /// How many do not meet the measure.
    #[must_use]
    pub const fn not_met(self) -> u32 {
        self.pupils - self.met
    }
}

/// What is out about a figure already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    /// It is new.
    Nothing,
    /// It was told: leaving it out now hides nothing.
    Told,
    /// It was left out, and stays so: telling it now would undo what that protected.
    LeftOut,
    /// One about nearly the same pupils is out: telling this one too would tell about the few who differ.
    NearlyTold,
}

/// A group that falls into parts, each pupil in one of them: a school into its year groups.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Breakdown {
    /// The whole: the place of its cell.
    pub total: usize,
    /// The parts: the places of theirs.
    pub parts: Vec<usize>,
}

impl Breakdown {
    /// Whether the figure is in it, as a part or as the whole.
    #[must_use]
    pub fn holds(&self, cell: usize) -> bool {
        self.total == cell || self.parts.contains(&cell)
    }

    /// The places in it: the parts, then the whole.
    pub fn places(&self) -> impl Iterator<Item = usize> {
        self.parts.iter().copied().chain([self.total])
    }
}

/// One number that is at most another and so many more: who met a check by a year met it by the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AtMost {
    /// The place of the one.
    pub less: usize,
    /// The place of the other.
    pub more: usize,
    /// Pupils of the one who are not in the other.
    pub beside: u32,
}

impl AtMost {
    /// Whether the figure is one of the two.
    #[must_use]
    pub const fn holds(&self, cell: usize) -> bool {
        self.less == cell || self.more == cell
    }

    /// The figure on the other side.
    #[must_use]
    pub const fn across(&self, cell: usize) -> usize {
        if self.less == cell { self.more } else { self.less }
    }
}

/// Figures of one measure, or of checks that follow one another, and what ties them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Linked {
    /// The figures.
    pub cells: Vec<Cell>,
    /// Which of them make up which.
    pub breakdowns: Vec<Breakdown>,
    /// Which of them are at most which.
    pub at_most: Vec<AtMost>,
    /// Pairs of figures about nearly the same pupils: both told, they would tell about the few who differ.
    pub nearly_the_same: Vec<(usize, usize)>,
}

impl Linked {
    /// Whether the figure is a part of another.
    #[must_use]
    pub fn is_part(&self, cell: usize) -> bool {
        self.breakdowns.iter().any(|one| one.parts.contains(&cell))
    }
}
