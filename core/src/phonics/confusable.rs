//! Pairs of correspondences that children confuse, with the gap better kept between them.

use serde::Serialize;

use super::data::{self, DataError};
use super::fixed::Map;
use super::inventory::Inventory;
use super::unit::GpcId;

/// Why two correspondences are confused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Confusion {
    /// The letters look alike.
    Shape,
    /// The sounds are alike.
    Sound,
    /// One spelling with two sounds.
    SameSpelling,
    /// One sound with two spellings.
    SameSound,
}

/// The gap, in steps, between two sounds of one spelling.
const SAME_SPELLING: u16 = 8;
/// The gap, in steps, between two spellings of one sound.
const SAME_SOUND: u16 = 4;

/// The pairs of `confusable.tsv`; pairs of one spelling or one sound are worked out.
#[derive(Debug, Clone)]
pub struct Confusable {
    listed: Map<(GpcId, GpcId), (u16, Confusion)>,
}

impl Confusable {
    /// Reads the embedded pairs.
    ///
    /// # Errors
    /// [`DataError`] naming the line.
    pub fn load(inventory: &Inventory) -> Result<Self, DataError> {
        let mut listed = Map::default();
        for (line, text) in data::lines(data::CONFUSABLE) {
            let bad = |why: String| DataError::new("confusable.tsv", line, why);
            let cells: Vec<&str> = text.split('\t').collect();
            let [kind, gap, one, other] = cells.as_slice() else {
                return Err(bad("four cells expected".to_owned()));
            };
            let kind = match *kind {
                "shape" => Confusion::Shape,
                "sound" => Confusion::Sound,
                _ => return Err(bad("kind".to_owned())),
            };
            let gap = gap.parse().map_err(|_| bad("gap".to_owned()))?;
            let find = |g: &str| inventory.find(g).map_err(|e| bad(e.to_string()));
            let (one, other) = (find(one)?, find(other)?);
            listed.insert((one.min(other), one.max(other)), (gap, kind));
        }
        Ok(Self { listed })
    }

    /// The gap in steps better kept between two correspondences, and why; none when they are not
    /// confused.
    #[must_use]
    pub fn gap(&self, inventory: &Inventory, a: GpcId, b: GpcId) -> Option<(u16, Confusion)> {
        if let Some(listed) = self.listed.get(&(a.min(b), a.max(b))) {
            return Some(*listed);
        }
        let (one, other) = (&inventory.get(a)?.gpc, &inventory.get(b)?.gpc);
        let long = |g: &super::gpc::Gpc| g.grapheme().as_str().len() > 1;
        let voiced_pair = one.grapheme().as_str() == "th" || one.grapheme().as_str() == "ed";
        let doubled = one.grapheme().is_doubled_consonant() || other.grapheme().is_doubled_consonant();
        if a == b || doubled {
            None
        } else if one.grapheme() == other.grapheme() {
            (!voiced_pair).then_some((SAME_SPELLING, Confusion::SameSpelling))
        } else if one.phonemes() == other.phonemes() && long(one) && long(other) {
            Some((SAME_SOUND, Confusion::SameSound))
        } else {
            None
        }
    }
}
