//! Alignment of a spelling with a known pronunciation: the cheapest way to cut the letters into
//! graphemes so that their phonemes, in order, are the pronunciation.
//!
//! Dynamic programming over (letters read, phonemes read, split-digraph state). The state is
//! closed, open (the vowel letters of a split digraph are read), or open with one or two
//! consonant units read; only an open state with a consonant may close on `e`. A unit costs
//! −log of its probability (learnt from the lexicon) plus a penalty for its tier.

use super::data::{self, DataError};
use super::inventory::{Correspondence, Inventory};
use super::phoneme::Phoneme;
use super::unit::{GpcId, Tag, Unit};

/// Split-digraph state: 0 closed, 1 open, 2 and 3 open with one or two consonant units.
pub(crate) const STATES: usize = 4;

/// What each correspondence costs, in nats, by [`GpcId::index`].
#[derive(Debug, Clone, PartialEq)]
pub struct Costs(Vec<f32>);

/// A segmentation of the letters with its total cost in nats (lower is more regular).
#[derive(Debug, Clone, PartialEq)]
pub struct Aligned {
    /// The units in reading order, a split digraph at its vowel's place.
    pub units: Vec<Unit>,
    /// The total cost.
    pub cost: f32,
}

impl Costs {
    /// Reads the learnt costs embedded in the crate.
    ///
    /// # Errors
    /// [`DataError`] when a line does not read or a correspondence has no cost.
    pub fn load(inventory: &Inventory) -> Result<Self, DataError> {
        Self::parse(data::COSTS, inventory)
    }

    /// Reads lines of `gpc <tab> cost`.
    ///
    /// # Errors
    /// As [`Costs::load`].
    pub fn parse(text: &'static str, inventory: &Inventory) -> Result<Self, DataError> {
        const FILE: &str = "costs.tsv";
        let mut costs = vec![f32::NAN; inventory.len()];
        for (line, text) in data::lines(text) {
            let bad = |why: String| DataError::new(FILE, line, why);
            let (gpc, cost) = text.split_once('\t').ok_or_else(|| bad("two cells expected".to_owned()))?;
            let id = inventory.find(gpc).map_err(|e| bad(e.to_string()))?;
            let cost = cost.parse().map_err(|_| bad(format!("cost of {gpc}")))?;
            if let Some(slot) = costs.get_mut(id.index()) {
                *slot = cost;
            }
        }
        match inventory.iter().find(|(id, _)| costs[id.index()].is_nan()) {
            Some((_, c)) => Err(DataError::new(FILE, 0, format!("no cost for {}", c.gpc))),
            None => Ok(Self(costs)),
        }
    }

    /// Costs to begin learning from: a constant and the tier's penalty.
    #[must_use]
    pub fn prior(inventory: &Inventory) -> Self {
        let cost = |c: &Correspondence| {
            let lone = c.gpc.grapheme().letters().len() == 1 && c.tier > 1;
            1.0 + 1.5 * tier_penalty(c.tier) + if lone { 0.3 } else { 0.0 }
        };
        Self(inventory.iter().map(|(_, c)| cost(c)).collect())
    }

    /// Costs from expected counts, smoothed: −log P plus the tier's penalty.
    #[must_use]
    pub fn learnt(inventory: &Inventory, counts: &[f64], smoothing: f64) -> Self {
        let total: f64 = counts.iter().sum::<f64>() + smoothing * counts.len() as f64;
        let cost = |(id, c): (GpcId, &Correspondence)| {
            let n = counts.get(id.index()).copied().unwrap_or(0.0) + smoothing;
            (-(n / total).ln()) as f32 + tier_penalty(c.tier)
        };
        Self(inventory.iter().map(cost).collect())
    }

    /// The cost of one correspondence.
    #[must_use]
    pub fn of(&self, id: GpcId) -> f32 {
        self.0.get(id.index()).copied().unwrap_or(f32::INFINITY)
    }
}

fn tier_penalty(tier: u8) -> f32 {
    match tier {
        0 | 1 => 0.0,
        2 => 0.6,
        3 => 2.0,
        _ => 5.0,
    }
}

/// The extra cost of closing a split digraph at letter `i` in `state`: none where an ending
/// follows that is added to words in e, some elsewhere; the end of the word is favoured.
pub fn closing_cost(word: &[u8], i: usize, state: usize) -> f32 {
    const ENDINGS: [&[u8]; 7] = [b"s", b"d", b"ly", b"ful", b"less", b"ment", b"ness"];
    let rest = word.get(i + 1..).unwrap_or(&[]);
    let ending = match rest {
        b"" => -0.6,
        rest if ENDINGS.contains(&rest) => 0.0,
        b"y" | b"r" => 3.0,
        _ => 1.0,
    };
    ending + if state == 3 { 1.5 } else { 0.0 }
}

/// Whether a unit may follow in `state`, and the state after it.
pub(crate) fn next_state(item: &Correspondence, state: usize) -> Option<usize> {
    let split = item.gpc.grapheme().is_split();
    match state {
        0 => Some(usize::from(split)),
        1 | 2 if item.consonantal && !split => Some(state + 1),
        _ => None,
    }
}

#[derive(Clone, Copy)]
struct Cell {
    cost: f32,
    from: usize,
    unit: Option<Unit>,
}

const UNREACHED: Cell = Cell { cost: f32::INFINITY, from: 0, unit: None };

struct Table {
    width: usize,
    cells: Vec<Cell>,
}

impl Table {
    fn at(&self, i: usize, j: usize, state: usize) -> usize {
        (i * self.width + j) * STATES + state
    }

    fn relax(&mut self, from: usize, to: usize, cost: f32, unit: Option<Unit>) {
        if let Some(cell) = self.cells.get_mut(to)
            && cost < cell.cost - 1e-6
        {
            *cell = Cell { cost, from, unit };
        }
    }
}

/// The cheapest segmentation of `word` (lower-case letters only) that sounds as `phonemes`, or
/// none if no segmentation of the inventory's correspondences does.
#[must_use]
pub fn align(inventory: &Inventory, costs: &Costs, word: &[u8], phonemes: &[Phoneme]) -> Option<Aligned> {
    let width = phonemes.len() + 1;
    let mut table = Table { width, cells: vec![UNREACHED; (word.len() + 1) * width * STATES] };
    table.cells.first_mut()?.cost = 0.0;
    for i in 0..word.len() {
        for j in 0..width {
            for state in 0..STATES {
                step(inventory, costs, word, phonemes, &mut table, (i, j, state));
            }
        }
    }
    let end = table.at(word.len(), phonemes.len(), 0);
    let cost = table.cells.get(end)?.cost;
    cost.is_finite().then(|| Aligned { units: trace(&table, end), cost })
}

/// A place in the lattice: letters read, phonemes read, split-digraph state (0 closed, 1 open,
/// 2 and 3 open with one or two consonant units).
pub type Place = (usize, usize, usize);

/// A step through the lattice.
#[derive(Debug, Clone, Copy)]
pub struct Arc {
    /// The unit read, or none for the `e` that closes a split digraph.
    pub unit: Option<Unit>,
    /// Where it leads.
    pub to: Place,
    /// What it costs besides the unit's own cost.
    pub extra: f32,
}

/// Calls `visit` with every step from a place; the same lattice serves alignment and learning.
pub fn arcs(
    inventory: &Inventory,
    word: &[u8],
    phonemes: &[Phoneme],
    (i, j, state): Place,
    mut visit: impl FnMut(Arc),
) {
    let Some(letter) = word.get(i).copied() else {
        return;
    };
    if state >= 2 && letter == b'e' {
        visit(Arc { unit: None, to: (i + 1, j, 0), extra: closing_cost(word, i, state) });
    }
    for id in inventory.starting_with(letter) {
        let Some(item) = inventory.get(*id) else {
            continue;
        };
        let Some((letters, to_state)) = fits(item, word, i, state) else {
            continue;
        };
        let (plain, linking) = sounds(item, phonemes, j);
        let mut arc = |sounds: usize, unit| {
            visit(Arc { unit: Some(unit), to: (i + letters, j + sounds, to_state), extra: 0.0 });
        };
        let unit = Unit::new(*id);
        plain.into_iter().for_each(|n| arc(n, unit));
        linking.into_iter().for_each(|n| arc(n, unit.with(Tag::LinkingR)));
    }
}

fn step(
    inventory: &Inventory,
    costs: &Costs,
    word: &[u8],
    phonemes: &[Phoneme],
    table: &mut Table,
    (i, j, state): Place,
) {
    let from = table.at(i, j, state);
    let Some(cell) = table.cells.get(from).copied() else {
        return;
    };
    if cell.cost.is_finite() {
        arcs(inventory, word, phonemes, (i, j, state), |arc| {
            let own = arc.unit.map_or(0.0, |u| costs.of(u.id()));
            let to = table.at(arc.to.0, arc.to.1, arc.to.2);
            table.relax(from, to, cell.cost + own + arc.extra, arc.unit);
        });
    }
}

/// Whether a correspondence fits the letters at `i` in `state`: its letters written together, and
/// the state after.
pub fn fits(item: &Correspondence, word: &[u8], i: usize, state: usize) -> Option<(usize, usize)> {
    let letters = item.gpc.grapheme().letters().as_bytes();
    let to_state = next_state(item, state)?;
    let here = word.get(i..).is_some_and(|rest| rest.starts_with(letters));
    (here && item.context.allows(word, i, letters.len())).then_some((letters.len(), to_state))
}

/// How many phonemes at `j` a correspondence takes, without and with a linking r.
fn sounds(item: &Correspondence, phonemes: &[Phoneme], j: usize) -> (Option<usize>, Option<usize>) {
    let own = item.gpc.phonemes();
    let rest = phonemes.get(j..).unwrap_or(&[]);
    if !rest.starts_with(own) {
        return (None, None);
    }
    let vowel_with_r =
        item.gpc.grapheme().letters().contains('r') && own.last().is_some_and(|p| p.is_vowel());
    let linking = vowel_with_r
        && rest.get(own.len()).is_some_and(|p| p.symbol() == "r")
        && rest.get(own.len() + 1).is_some_and(|p| p.is_vowel());
    (Some(own.len()), linking.then_some(own.len() + 1))
}

fn trace(table: &Table, end: usize) -> Vec<Unit> {
    let mut units = Vec::new();
    let mut at = end;
    while at != 0 {
        let Some(cell) = table.cells.get(at) else {
            break;
        };
        units.extend(cell.unit);
        at = cell.from;
    }
    units.reverse();
    units
}
