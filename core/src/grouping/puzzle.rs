//! The question in bare numbers.

/// Units to be put into groups, each group at a place of its own.
#[derive(Clone, Debug)]
pub(super) struct Puzzle {
    /// Pupils who stay together, or one.
    pub(super) units: Vec<Unit>,
    /// By group, the least and the most pupils.
    pub(super) sizes: Vec<(usize, usize)>,
    /// Pairs of units that may not be in one group.
    pub(super) apart: Vec<(usize, usize)>,
    /// How many places there are.
    pub(super) places: usize,
}

/// Pupils placed as one.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    /// How many pupils.
    pub(super) size: usize,
    /// By place, what it costs to be taught from there on.
    pub(super) fit: Vec<u32>,
    /// By group, what it costs to come there; none where the unit may not.
    pub(super) join: Vec<Option<u32>>,
}
