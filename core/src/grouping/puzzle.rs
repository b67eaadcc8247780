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

impl Puzzle {
    /// The same without places where no unit is better off than at some other one: no group needs them, and
    /// what a placement costs stays the same. Lessons far beyond what anybody was taught are such places.
    pub(super) fn of_use(&self) -> Self {
        let worse = |place: usize, other: usize| {
            let fits = || self.units.iter().map(|unit| (unit.fit[place], unit.fit[other]));
            // Of two that are the same to everybody the first stays.
            fits().all(|(here, there)| there <= here)
                && (other < place || fits().any(|(here, there)| there < here))
        };
        let mut kept: Vec<usize> = Vec::new();
        for place in 0..self.places {
            if !kept.iter().rev().any(|other| worse(place, *other)) {
                kept.retain(|other| !worse(*other, place));
                kept.push(place);
            }
        }
        let units = self
            .units
            .iter()
            .map(|unit| Unit { fit: kept.iter().map(|place| unit.fit[*place]).collect(), ..unit.clone() });
        Self { units: units.collect(), places: kept.len(), ..self.clone() }
    }
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
