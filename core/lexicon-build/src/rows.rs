//! The rows of the lexicon: which words, which variants, in which order.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::phonics::align::{Costs, align};
use plumbline_core::phonics::inventory::Inventory;
use plumbline_core::phonics::phoneme::Phoneme;
use plumbline_core::phonics::unit::{Tag, Unit};

use crate::Error;
use crate::bath::Bath;
use crate::convert::{Converted, Converter};
use crate::sources::{Bands, Cmu};

/// Variants a word may keep.
const MOST_VARIANTS: usize = 4;
/// A variant this much dearer than the cheapest is a transcription slip, not a reading.
const DEAREST: f32 = 14.0;
/// What a place further down in the dictionary's own order costs.
const ORDER_COST: f32 = 3.0;
/// The band written for a word that no list of SCOWL up to the limit holds.
const NO_BAND: u8 = 70;

/// The override of a word that is left out.
const LEFT_OUT: &[&str] = &["-"];

/// Everything a build reads.
pub struct Sources<'a> {
    /// The rules of core.
    pub inventory: &'a Inventory,
    /// Learnt costs.
    pub costs: &'a Costs,
    /// The CMU dictionary.
    pub cmu: &'a Cmu,
    /// SCOWL bands up to the limit.
    pub bands: &'a Bands,
    /// Hand-written pronunciations.
    pub overrides: &'a BTreeMap<String, Vec<String>>,
    /// Child words with their bands.
    pub child: &'a BTreeMap<String, u8>,
    /// Long a words.
    pub bath: &'a Bath,
}

/// One word of the lexicon.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// As shown, capitals kept.
    pub shown: String,
    /// SCOWL band.
    pub band: u8,
    /// Child band 1–3, or 0.
    pub child: u8,
    /// Variants, best first.
    pub variants: Vec<Converted>,
}

/// The rows and what went wrong.
#[derive(Debug, Default)]
pub struct Built {
    /// By lower-case word.
    pub rows: BTreeMap<String, Row>,
    /// Words with a pronunciation that nothing in the inventory explains.
    pub unaligned: BTreeSet<String>,
    /// Child words with no pronunciation anywhere.
    pub missing: BTreeSet<String>,
}

/// Builds the rows for every banded, child and override word.
///
/// # Errors
/// When an override cannot be read or does not fit its word.
pub fn build(sources: &Sources<'_>) -> Result<Built, Error> {
    let converter = Converter::new(sources.inventory, sources.costs, sources.bath);
    let mut shown: BTreeMap<String, (String, u8)> = BTreeMap::new();
    for (lower, banded) in sources.bands {
        shown.insert(lower.clone(), (banded.shown.clone(), banded.band));
    }
    for word in sources.child.keys().chain(sources.overrides.keys()) {
        let entry = shown.entry(word.to_lowercase());
        let entry = entry.or_insert_with(|| (word.clone(), NO_BAND));
        if sources.child.contains_key(word) {
            entry.0.clone_from(word);
        }
    }
    let mut built = Built::default();
    for (lower, (shown, band)) in shown {
        let child = sources.child.get(&shown).copied().unwrap_or(0);
        let variants = match sources.overrides.get(&shown) {
            Some(list) if list == LEFT_OUT => continue,
            Some(list) => from_overrides(sources, &lower, list)?,
            None => from_cmu(sources, &converter, &lower),
        };
        match variants {
            Some(variants) if variants.is_empty() => {
                built.unaligned.insert(lower);
            }
            Some(variants) => {
                let row = Row { shown, band, child, variants };
                built.rows.insert(lower, row);
            }
            None if child > 0 => {
                built.missing.insert(shown);
            }
            None => {}
        }
    }
    keep_final_e(sources.inventory, &mut built.rows);
    mark_suffixes(sources.inventory, &mut built.rows);
    Ok(built)
}

fn from_cmu(sources: &Sources<'_>, converter: &Converter<'_>, word: &str) -> Option<Vec<Converted>> {
    let list = sources.cmu.get(word)?;
    let mut ranked: Vec<(f32, Converted)> = Vec::new();
    for (n, american) in list.iter().enumerate() {
        if merged_low_back(&list[..n], american) {
            continue;
        }
        let spoken = short_u(sources, word, american);
        if let Some(c) = converter.run(word, &spoken)
            && !ranked.iter().any(|(_, r)| r.units == c.units)
        {
            ranked.push((c.cost + ORDER_COST * n as f32, c));
        }
    }
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let limit = ranked.first().map_or(0.0, |r| r.0) + DEAREST;
    ranked.retain(|r| r.0 <= limit);
    ranked.truncate(MOST_VARIANTS);
    Some(ranked.into_iter().map(|(_, c)| c).collect())
}

/// American has one vowel in *hurry* and *furry*; British has a short u and an r where the word is
/// not *fur* with an ending.
fn short_u(sources: &Sources<'_>, word: &str, american: &str) -> String {
    const ENDINGS: [&str; 7] = ["y", "ies", "ied", "ier", "iest", "ing", "er"];
    let Some((head, tail)) = word.split_once("urr") else {
        return american.to_owned();
    };
    let known = |r: &str| sources.bands.contains_key(&format!("{head}{r}"));
    let made = ENDINGS.contains(&tail) && (known("ur") || known("urr"));
    let vowel = tail.starts_with(['a', 'e', 'i', 'o', 'u', 'y']) && tail != "ed";
    if made || !vowel { american.to_owned() } else { american.replacen("ER1", "AH1 R", 1) }
}

/// Whether a variant differs from an earlier one only as speakers do who say *cot* and *caught*
/// alike; in British it would be another word's sound (*fall* with the vowel of *palm*).
fn merged_low_back(earlier: &[String], american: &str) -> bool {
    let alike = |a: &str| a.replace("AO", "AA");
    earlier.iter().any(|e| alike(e) == alike(american))
}

/// Overrides give phonemes to align, or units (with a colon) to take as they are.
fn from_overrides(
    sources: &Sources<'_>,
    word: &str,
    list: &[String],
) -> Result<Option<Vec<Converted>>, Error> {
    let bad = |why: String| Error::Override(format!("{word}: {why}"));
    let letters: Vec<u8> = word.bytes().filter(u8::is_ascii_lowercase).collect();
    let mut out = Vec::new();
    for text in list {
        let (units, cost) = if text.contains(':') {
            let units: Result<Vec<Unit>, _> =
                text.split_whitespace().map(|t| sources.inventory.parse_token(t)).collect();
            (units.map_err(|e| bad(e.to_string()))?, 0.0)
        } else {
            let phonemes = Phoneme::parse_sequence(text).map_err(|e| bad(e.to_string()))?;
            let aligned = align(sources.inventory, sources.costs, &letters, &phonemes)
                .ok_or_else(|| bad(format!("{text} does not fit the spelling")))?;
            (aligned.units, aligned.cost)
        };
        let written: usize = units
            .iter()
            .filter_map(|u| sources.inventory.get(u.id()))
            .map(|c| c.gpc.grapheme().letter_count())
            .sum();
        if written != letters.len() {
            return Err(bad("the units do not spell the word".to_owned()));
        }
        let stress = borrowed_stress(sources, word, &units);
        out.push(Converted { cost, units, stress });
    }
    Ok(Some(out))
}

/// The CMU stress digits when the dictionary has a variant with as many vowels, else `-`.
fn borrowed_stress(sources: &Sources<'_>, word: &str, units: &[Unit]) -> String {
    let vowels = phonemes(sources.inventory, units).iter().filter(|p| p.is_vowel()).count();
    let digits = |american: &String| -> String { american.chars().filter(char::is_ascii_digit).collect() };
    sources
        .cmu
        .get(word)
        .into_iter()
        .flatten()
        .map(digits)
        .find(|d| d.len() == vowels)
        .unwrap_or_else(|| "-".to_owned())
}

/// The past of a word that ends in a consonant with its e (*dance*, *change*, *live*) keeps that
/// unit: *dance* and d, not *dan*, c and ed. So
/// does what *un-* is put before.
fn keep_final_e(inventory: &Inventory, rows: &mut BTreeMap<String, Row>) {
    let gpc = |u: &Unit| inventory.get(u.id()).map(|c| &c.gpc);
    let with_e = |u: &Unit| {
        let grapheme = gpc(u).map_or("", |g| g.grapheme().as_str());
        matches!(grapheme, "ce" | "se" | "ge" | "ze" | "ve" | "dge")
    };
    let bases: BTreeMap<String, Vec<Vec<Unit>>> = rows
        .keys()
        .filter(|word| word.ends_with("ed"))
        .filter_map(|word| {
            let stem = word.strip_suffix('d')?;
            let base = rows.get(stem).or_else(|| rows.get(stem.strip_prefix("un")?))?;
            let units = base.variants.iter().map(|v| v.units.clone());
            Some((word.clone(), units.filter(|u| u.last().is_some_and(with_e)).collect()))
        })
        .collect();
    for (word, list) in bases {
        let Some(row) = rows.get_mut(&word) else { continue };
        for variant in &mut row.variants {
            let [head @ .., last, ed] = variant.units.as_slice() else { continue };
            let d = match gpc(ed).map(ToString::to_string).as_deref() {
                Some("ed:d") => "d:d",
                Some("ed:t") => "d:t",
                _ => continue,
            };
            let base = list.iter().find(|base| {
                base.split_last().is_some_and(|(e, start)| {
                    head.ends_with(start) && gpc(e).map(|g| g.phonemes()) == gpc(last).map(|g| g.phonemes())
                })
            });
            if let Some(base) = base
                && let Ok(d) = inventory.find(d)
            {
                let last = base.last().copied().unwrap_or(*last);
                variant.units = [head, &[last, Unit::new(d)]].concat();
            }
        }
    }
}

/// Tags a final s that is added to a word which stands in the list without it.
fn mark_suffixes(inventory: &Inventory, rows: &mut BTreeMap<String, Row>) {
    let is_s =
        |u: &Unit| inventory.get(u.id()).is_some_and(|c| matches!(c.gpc.to_string().as_str(), "s:s" | "s:z"));
    let bases: BTreeMap<String, Vec<Vec<Unit>>> = rows
        .keys()
        .filter_map(|word| {
            let base = rows.get(word.strip_suffix('s')?)?;
            (base.shown.len() > 2).then(|| {
                let units = base.variants.iter().map(|v| v.units.clone()).collect();
                (word.clone(), units)
            })
        })
        .collect();
    for (word, row) in rows.iter_mut() {
        let Some(base) = bases.get(word) else {
            continue;
        };
        for variant in &mut row.variants {
            if let Some((last, head)) = variant.units.split_last_mut()
                && is_s(last)
                && base.iter().any(|b| b.as_slice() == head)
            {
                *last = last.with(Tag::Suffix);
            }
        }
    }
}

/// The phonemes of a segmentation, linking r included.
#[must_use]
pub fn phonemes(inventory: &Inventory, units: &[Unit]) -> Vec<Phoneme> {
    let r = Phoneme::from_symbol("r");
    let mut out = Vec::new();
    for unit in units {
        if let Some(item) = inventory.get(unit.id()) {
            out.extend_from_slice(item.gpc.phonemes());
            out.extend(r.filter(|_| unit.has(Tag::LinkingR)));
        }
    }
    out
}

/// One line of the lexicon file; see the folder's README.
#[must_use]
pub fn line(inventory: &Inventory, row: &Row) -> String {
    let mut out = format!("{}\t{}\t{}", row.shown, row.band, row.child);
    for variant in &row.variants {
        let tokens: Vec<String> = variant.units.iter().map(|u| inventory.token(*u)).collect();
        out.push('\t');
        out.push_str(&tokens.join(" "));
        out.push('|');
        out.push_str(if variant.stress.is_empty() { "-" } else { &variant.stress });
    }
    out
}

/// The whole file.
#[must_use]
pub fn write(inventory: &Inventory, built: &Built) -> String {
    let mut out = String::from(
        "# Built by core/lexicon-build; do not edit (overrides.txt is for that). See README.md.\n\
         # word <tab> band <tab> child band <tab> variant ...   variant: units|stress\n",
    );
    for row in built.rows.values() {
        out.push_str(&line(inventory, row));
        out.push('\n');
    }
    out
}
