//! American pronunciation and spelling in, British pronunciation and segmentation out, in one
//! Viterbi pass: the spelling resolves what American merged (dog and water, very and parent, the
//! dropped /j/, the dropped r).

use plumbline_core::phonics::align::{Costs, closing_cost, fits};
use plumbline_core::phonics::inventory::{Correspondence, Inventory};
use plumbline_core::phonics::phoneme::Phoneme;
use plumbline_core::phonics::unit::{GpcId, Tag, Unit};

use crate::arcs::{self, ConvArc};
use crate::arpa::Arpa;
use crate::bath::Bath;
use crate::penalty::{Penalties, Spot};

/// A word's British reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Converted {
    /// The cost of the whole path; lower is more regular.
    pub cost: f32,
    /// The units in order, tags set.
    pub units: Vec<Unit>,
    /// One CMU stress digit (0, 1, 2) for each British vowel, in order.
    pub stress: String,
}

/// The converter, built once for an inventory and its costs.
pub struct Converter<'a> {
    inventory: &'a Inventory,
    arcs: Vec<Vec<ConvArc>>,
    bath: &'a Bath,
    short_a: Option<GpcId>,
}

#[derive(Clone, Copy)]
struct Cell {
    cost: f32,
    from: usize,
    arc: Option<(GpcId, usize)>,
}

impl<'a> Converter<'a> {
    /// Prepares the arcs.
    #[must_use]
    pub fn new(inventory: &'a Inventory, costs: &Costs, bath: &'a Bath) -> Self {
        Self { inventory, arcs: arcs::build(inventory, costs), bath, short_a: inventory.find("a:æ").ok() }
    }

    /// Converts one pronunciation; none when nothing in the inventory explains it.
    #[must_use]
    pub fn run(&self, word: &str, american: &str) -> Option<Converted> {
        let phones = reduce_endings(word, without_glide(word, Arpa::parse_all(american)?));
        let split = r_to_next_syllable(word, &phones);
        let other = if split == phones { None } else { self.path(word, split) };
        match (self.path(word, phones), other) {
            (Some(a), Some(b)) if b.cost < a.cost => Some(b),
            (a, b) => a.or(b),
        }
    }

    fn path(&self, word: &str, phones: Vec<Arpa>) -> Option<Converted> {
        let letters: Vec<u8> = word.bytes().filter(u8::is_ascii_lowercase).collect();
        let penalties = Penalties::new(word, self.bath.has(word));
        let width = phones.len() + 1;
        let at = |i: usize, j: usize, s: usize| (i * width + j) * 4 + s;
        let blank = Cell { cost: f32::INFINITY, from: 0, arc: None };
        let mut cells = vec![blank; (letters.len() + 1) * width * 4];
        cells.first_mut()?.cost = 0.0;
        for i in 0..letters.len() {
            for j in 0..width {
                for state in 0..4 {
                    let from = at(i, j, state);
                    let Some(cost) = cells.get(from).map(|c| c.cost).filter(|c| c.is_finite()) else {
                        continue;
                    };
                    let spot = Spot { letters: &letters, phones: &phones, i, j };
                    self.steps(&spot, state, &penalties, |(i, j, s), extra, arc| {
                        if let Some(cell) = cells.get_mut(at(i, j, s))
                            && cost + extra < cell.cost - 1e-6
                        {
                            *cell = Cell { cost: cost + extra, from, arc };
                        }
                    });
                }
            }
        }
        let end = at(letters.len(), phones.len(), 0);
        let cost = cells.get(end)?.cost;
        cost.is_finite().then(|| self.read(&letters, &phones, &cells, end, width, cost))
    }

    fn steps(
        &self,
        spot: &Spot<'_>,
        state: usize,
        penalties: &Penalties<'_>,
        mut visit: impl FnMut((usize, usize, usize), f32, Option<(GpcId, usize)>),
    ) {
        let &Spot { letters, phones, i, j } = spot;
        let Some(letter) = letters.get(i).copied() else {
            return;
        };
        if state >= 2 && letter == b'e' {
            visit((i + 1, j, 0), closing_cost(letters, i, state), None);
        }
        let rest = phones.get(j..).unwrap_or(&[]);
        for arc in self.arcs.get(usize::from(letter - b'a')).into_iter().flatten() {
            let heard = arc.american.len() <= rest.len()
                && arc.american.iter().zip(rest).all(|(a, p)| *a == p.folded());
            let Some(item) = self.inventory.get(arc.id).filter(|_| heard) else {
                continue;
            };
            if let Some((n, to)) = fits(item, letters, i, state) {
                let extra = arc.cost + penalties.of(item, &arc.american, spot);
                let step = Some((arc.id, arc.american.len()));
                visit((i + n, j + arc.american.len(), to), extra, step);
            }
        }
        if state == 0 && penalties.short_a_before_r(spot) {
            let step = self.short_a.map(|id| (id, 1));
            visit((i + 1, j + 1, 0), 2.0, step);
        }
    }

    fn read(
        &self,
        letters: &[u8],
        phones: &[Arpa],
        cells: &[Cell],
        end: usize,
        width: usize,
        cost: f32,
    ) -> Converted {
        let mut path = Vec::new();
        let mut at = end;
        while at != 0 {
            let Some(cell) = cells.get(at) else { break };
            if let Some((id, heard)) = cell.arc {
                let (i, j) = (cell.from / 4 / width, cell.from / 4 % width);
                path.push((id, i, phones.get(j..j + heard).unwrap_or(&[])));
            }
            at = cell.from;
        }
        path.reverse();
        let items: Vec<&Correspondence> =
            path.iter().filter_map(|(id, ..)| self.inventory.get(*id)).collect();
        let mut units = Vec::new();
        let mut stress = String::new();
        for (n, (id, i, heard)) in path.iter().enumerate() {
            let Some(item) = items.get(n) else { continue };
            let next = items.get(n + 1..).into_iter().flatten();
            let next = next.flat_map(|c| c.gpc.phonemes()).next();
            units.push(tagged(*id, item, *i, letters, heard, next.copied()));
            stresses(item, heard, &mut stress);
        }
        Converted { cost, units, stress }
    }
}

/// The dictionary writes a /w/ between the vowels of *evacuate* that no letter spells.
fn without_glide(word: &str, phones: Vec<Arpa>) -> Vec<Arpa> {
    if word.contains(['w', 'q']) {
        return phones;
    }
    let mut out: Vec<Arpa> = Vec::with_capacity(phones.len());
    for (n, phone) in phones.iter().enumerate() {
        let weak = out.last().is_some_and(|p| p.is("AH0") || p.is("UW0"));
        if phone.phone() == "W" && weak && phones.get(n + 1).is_some_and(|p| p.is_vowel()) {
            out.pop();
            out.extend(Arpa::parse("UW0"));
        } else {
            out.push(*phone);
        }
    }
    out
}

/// In *around* and *parade* the r begins the stressed syllable: /ER0/ before a stressed vowel may
/// be a weak vowel and an r. In words in -orate and what is made of them (*evaporation*) the r
/// links.
fn r_to_next_syllable(word: &str, phones: &[Arpa]) -> Vec<Arpa> {
    let mut out = Vec::with_capacity(phones.len() + 1);
    for (n, phone) in phones.iter().enumerate() {
        let next = phones.get(n + 1).filter(|p| p.is_vowel() && p.stress > 0);
        let orate = |p: &Arpa| p.phone() == "EY" && word.contains("orat");
        if phone.is("ER0") && next.is_some_and(|p| !orate(p)) {
            out.extend(Arpa::parse_all("AH0 R").unwrap_or_default());
        } else {
            out.push(*phone);
        }
    }
    out
}

/// American keeps a full vowel in -ary, -ory, -ony and the like where British has a weak one.
fn reduce_endings(word: &str, mut phones: Vec<Arpa>) -> Vec<Arpa> {
    const ENDINGS: [&str; 10] =
        ["ary", "aries", "arily", "ory", "ories", "orily", "ony", "onies", "ery", "eries"];
    if !ENDINGS.iter().any(|e| word.ends_with(e)) {
        return phones;
    }
    let weak = |p: &Arpa| p.stress == 2 && matches!(p.phone(), "EH" | "AO" | "OW");
    let from = phones.len().saturating_sub(6).max(3);
    let found = (from..phones.len().saturating_sub(1)).find(|q| phones.get(*q).is_some_and(weak));
    if let Some(q) = found {
        match phones.get(q + 1).map(|p| p.phone()) {
            Some("R") => {
                phones.splice(q..q + 2, Arpa::parse("ER0"));
            }
            Some("N") => {
                phones.splice(q..=q, Arpa::parse("AH0"));
            }
            _ => {}
        }
    }
    phones
}

fn tagged(
    id: GpcId,
    item: &Correspondence,
    at: usize,
    letters: &[u8],
    heard: &[Arpa],
    next: Option<Phoneme>,
) -> Unit {
    let mut unit = Unit::new(id);
    let own = item.gpc.phonemes();
    let spelling = item.gpc.grapheme().letters();
    let first = own.first().map_or("", |p| p.symbol());
    if first == "ɑː" && heard.first().is_some_and(|a| a.phone() == "AE") {
        unit = unit.with(Tag::Bath);
    }
    if spelling == "oo" && first == "ʊ" && letters.get(at + 2) == Some(&b'k') {
        unit = unit.with(Tag::Book);
    }
    if spelling.contains('r')
        && own.last().is_some_and(|p| p.is_vowel())
        && next.is_some_and(|p| p.is_vowel())
    {
        unit = unit.with(Tag::LinkingR);
    }
    unit
}

/// The CMU stress digits for the vowels of one unit: paired when the counts agree, else the
/// strongest first.
fn stresses(item: &Correspondence, heard: &[Arpa], out: &mut String) {
    let vowels = item.gpc.phonemes().iter().filter(|p| p.is_vowel()).count();
    let digits: Vec<u8> = heard.iter().filter(|a| a.is_vowel()).map(|a| a.stress).collect();
    for n in 0..vowels {
        let digit = if digits.len() == vowels {
            digits.get(n).copied()
        } else if n == 0 {
            digits.iter().copied().filter(|d| *d > 0).min()
        } else {
            None
        };
        out.push(char::from(b'0' + digit.unwrap_or(0)));
    }
}
