//! Accents, derived from the reference accent by word classes and not kept as other lexicons.

use serde::{Deserialize, Serialize};

use super::inventory::Inventory;
use super::phoneme::Phoneme;
use super::unit::{Tag, Unit};

/// How an accent differs from standard southern British English. [`Accent::default`] is the
/// reference accent itself. Any combination may be chosen; a school sets it once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Accent {
    /// *path*, *last*, *dance* with the short a of *cat*.
    pub short_a_in_bath: bool,
    /// *cup* with the vowel of *put*.
    pub no_foot_strut_split: bool,
    /// r sounded wherever it is written: *car*, *fern*.
    pub rhotic: bool,
    /// *which* apart from *witch*.
    pub wh_distinct: bool,
    /// *poor*, *sure*, *pure* with a vowel of their own and not that of *door*.
    pub poor_distinct: bool,
    /// *book*, *look* with the long vowel of *moon*.
    pub long_oo_before_k: bool,
}

impl Accent {
    /// The accents among which a pseudo-word must not sound like a real word, reference first.
    pub const SUPPORTED: [Self; 4] = [
        Self {
            short_a_in_bath: false,
            no_foot_strut_split: false,
            rhotic: false,
            wh_distinct: false,
            poor_distinct: false,
            long_oo_before_k: false,
        },
        Self {
            short_a_in_bath: true,
            no_foot_strut_split: true,
            rhotic: false,
            wh_distinct: false,
            poor_distinct: false,
            long_oo_before_k: true,
        },
        Self {
            short_a_in_bath: true,
            no_foot_strut_split: false,
            rhotic: true,
            wh_distinct: true,
            poor_distinct: true,
            long_oo_before_k: false,
        },
        Self {
            short_a_in_bath: false,
            no_foot_strut_split: false,
            rhotic: true,
            wh_distinct: false,
            poor_distinct: true,
            long_oo_before_k: false,
        },
    ];

    /// The phonemes of one unit of a word in this accent, a sounded r included.
    #[must_use]
    pub fn realise(&self, inventory: &Inventory, unit: Unit) -> Vec<Phoneme> {
        let Some(item) = inventory.get(unit.id()) else {
            return Vec::new();
        };
        let mut out: Vec<Phoneme> = item.gpc.phonemes().iter().map(|p| self.vowel(unit, *p)).collect();
        let letters = item.gpc.grapheme().letters();
        if self.wh_distinct && letters == "wh" && item.gpc.phonemes().len() == 1 {
            for p in &mut out {
                *p = swap(*p, "w", "ʍ");
            }
        }
        let r_after_vowel = letters.contains('r') && out.last().is_some_and(|p| p.is_vowel());
        if unit.has(Tag::LinkingR) || self.rhotic && r_after_vowel {
            out.extend(Phoneme::from_symbol("r"));
        }
        out
    }

    fn vowel(&self, unit: Unit, p: Phoneme) -> Phoneme {
        let symbol = match p.symbol() {
            "ɑː" if self.short_a_in_bath && unit.has(Tag::Bath) => "æ",
            "ʌ" if self.no_foot_strut_split => "ʊ",
            "ʊ" if self.long_oo_before_k && unit.has(Tag::Book) => "uː",
            "ʊə" if !self.poor_distinct => "ɔː",
            _ => return p,
        };
        Phoneme::from_symbol(symbol).unwrap_or(p)
    }

    /// The pronunciation of a whole reading.
    #[must_use]
    pub fn pronounce(&self, inventory: &Inventory, units: &[Unit]) -> Vec<Phoneme> {
        units.iter().flat_map(|u| self.realise(inventory, *u)).collect()
    }
}

fn swap(p: Phoneme, from: &str, to: &str) -> Phoneme {
    if p.symbol() == from { Phoneme::from_symbol(to).unwrap_or(p) } else { p }
}
