//! Segmentation by rule of words the lexicon does not hold. What it returns is a guess and is
//! always marked as one.

use super::align::{Aligned, Costs, STATES, closing_cost, fits};
use super::inventory::{Correspondence, Inventory};
use super::lexicon::Lexicon;
use super::unit::{Tag, Unit};

/// How many partial readings are kept at each place, and how many whole ones are returned.
const KEPT: usize = 5;
const RETURNED: usize = 3;
/// A guess this much dearer than the best is not worth showing.
const WORSE: f32 = 5.0;

#[derive(Clone)]
struct Partial {
    cost: f32,
    units: Vec<Unit>,
}

/// The likeliest readings of letters alone, best first; empty only for letters nothing reads.
#[must_use]
pub fn by_rule(inventory: &Inventory, costs: &Costs, word: &[u8]) -> Vec<Aligned> {
    let mut cells: Vec<Vec<Partial>> = vec![Vec::new(); (word.len() + 1) * STATES];
    if let Some(start) = cells.first_mut() {
        start.push(Partial { cost: 0.0, units: Vec::new() });
    }
    for i in 0..word.len() {
        for state in 0..STATES {
            let here = std::mem::take(&mut cells[i * STATES + state]);
            for partial in here {
                extend(inventory, costs, word, (i, state), &partial, &mut cells);
            }
        }
    }
    let mut ends = std::mem::take(&mut cells[word.len() * STATES]);
    for end in &mut ends {
        end.cost += whole_word(inventory, &end.units);
    }
    ends.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let limit = ends.first().map_or(0.0, |e| e.cost) + WORSE;
    ends.into_iter()
        .filter(|e| e.cost <= limit)
        .take(RETURNED)
        .map(|e| Aligned { units: e.units, cost: e.cost })
        .collect()
}

fn extend(
    inventory: &Inventory,
    costs: &Costs,
    word: &[u8],
    (i, state): (usize, usize),
    partial: &Partial,
    cells: &mut [Vec<Partial>],
) {
    let Some(letter) = word.get(i).copied() else {
        return;
    };
    if state >= 2 && letter == b'e' {
        let next = Partial {
            cost: partial.cost + closing_cost(word, i, state) + closing_habit(word, i),
            units: partial.units.clone(),
        };
        keep(&mut cells[(i + 1) * STATES], next);
    }
    for id in inventory.starting_with(letter) {
        let Some(item) = inventory.get(*id).filter(|c| c.gpc.phonemes().len() < 4) else {
            continue;
        };
        let Some((n, to)) = fits(item, word, i, state) else {
            continue;
        };
        let mut units = partial.units.clone();
        units.push(Unit::new(*id));
        let cost = partial.cost + costs.of(*id) + habit(item, word, i, n);
        keep(&mut cells[(i + n) * STATES + to], Partial { cost, units });
    }
}

fn keep(cell: &mut Vec<Partial>, new: Partial) {
    let at = cell.partition_point(|p| p.cost <= new.cost);
    if at < KEPT {
        cell.insert(at, new);
        cell.truncate(KEPT);
    }
}

/// What the letters around a grapheme say about its sound, beyond the inventory's contexts.
fn habit(item: &Correspondence, word: &[u8], i: usize, n: usize) -> f32 {
    let next = word.get(i + n).copied();
    let soft = matches!(next, Some(b'e' | b'i' | b'y'));
    let vowel_next = next.is_some_and(|b| b"aeiouy".contains(&b));
    let sound = item.gpc.phonemes().first().map_or("", |p| p.symbol());
    match (item.gpc.grapheme().as_str(), sound) {
        ("c", "k") if soft => 5.0,
        ("g", "g") if soft && next != Some(b'y') => 0.5,
        ("s", "z") if i == 0 => 6.0,
        ("s", "z") if next.is_none() => -0.7,
        ("y", "j") if i > 0 || !vowel_next => 4.0,
        ("y", "i" | "aɪ") if i == 0 => 5.0,
        ("u", "w") if !vowel_next => 6.0,
        ("n", "n") if matches!(next, Some(b'k' | b'x' | b'q')) => 5.0,
        ("n", "ŋ") if !matches!(next, Some(b'k' | b'x' | b'c' | b'q' | b'g')) => 8.0,
        ("e" | "i" | "o" | "u", "ə") if i == 0 => 3.0,
        ("a", "eɪ") | ("i", "aɪ") | ("o", "əʊ") | ("e", "iː") if next.is_none() && n < i => 1.0,
        (one, _) if n == 1 && !sound.is_empty() && doubled(word, i, one) => 6.0,
        ("r" | "rr", "r") if !matches!(next, Some(b'a' | b'e' | b'i' | b'o' | b'u' | b'y' | b'h')) => 6.0,
        ("k" | "g", _) if i == 0 && next == Some(b'n') => 7.0,
        ("w", "w") if i == 0 && next == Some(b'r') => 7.0,
        ("m", "m") if word.get(i + 1..) == Some(b"b") => 6.0,
        ("le" | "ve" | "ge" | "ce" | "se" | "ze" | "ne", _) if inside(word, i + n) => 4.0,
        ("e" | "o", _) if next == word.get(i).copied() => 4.0,
        ("e", _) if word.get(i + 1..) == Some(b"y") => 4.0,
        ("e", _) if next.is_none() && i > 1 && word.get(i - 1).is_some_and(|b| b != &b'e') => 3.0,
        ("ng", _) if vowel_next && next != Some(b'i') => 2.5,
        ("x", "g") if i != 1 => 3.0,
        _ => 0.0,
    }
}

/// Whether more follows than an ending that is added to words in e.
fn inside(word: &[u8], end: usize) -> bool {
    let rest = word.get(end..).unwrap_or(&[]);
    !matches!(rest, b"" | b"s" | b"d" | b"ly" | b"less" | b"ment" | b"ness" | b"ful")
}

/// A split digraph closes at the end of the word or before an ending, after one consonant letter.
fn closing_habit(word: &[u8], i: usize) -> f32 {
    let inner = if inside(word, i + 1) { 2.5 } else { 0.0 };
    let consonant =
        |at: Option<usize>| at.and_then(|at| word.get(at)).is_some_and(|b| !b"aeiouy".contains(b));
    let two = consonant(i.checked_sub(1)) && consonant(i.checked_sub(2));
    let soft = matches!(word.get(..i), Some([.., b't' | b's', b'h' | b't']));
    inner + if two && !soft { 4.0 } else { 0.0 }
}

/// Whether the consonant letter at `i` stands twice, so that reading it alone is unlikely.
fn doubled(word: &[u8], i: usize, letter: &str) -> bool {
    let twin = |j: Option<usize>| j.and_then(|j| word.get(j)) == letter.as_bytes().first();
    !"aeiou".contains(letter) && (twin(i.checked_sub(1)) || twin(Some(i + 1)))
}

/// A word has at least one vowel, and its only vowel is not a schwa.
fn whole_word(inventory: &Inventory, units: &[Unit]) -> f32 {
    let mut vowels = units
        .iter()
        .filter_map(|u| inventory.get(u.id()))
        .flat_map(|c| c.gpc.phonemes())
        .filter(|p| p.is_vowel())
        .map(|p| p.symbol());
    match (vowels.next(), vowels.next()) {
        (None, _) => 10.0,
        (Some("ə" | "i" | "u"), None) => 6.0,
        (Some("ə"), Some(_)) => 0.7,
        _ => 0.0,
    }
}

/// Readings of a word the lexicon holds without its ending (*-s*, *-ing*, *-ed*, *-er*, *-est*,
/// *-ly*, *-'s*) or in two halves; `None` when it holds neither.
#[must_use]
pub fn from_known(inventory: &Inventory, lexicon: &Lexicon, word: &str) -> Option<Vec<Vec<Unit>>> {
    with_ending(inventory, lexicon, word)
        .or_else(|| y_to_i(inventory, lexicon, word))
        .or_else(|| compound(lexicon, word))
}

fn with_ending(inventory: &Inventory, lexicon: &Lexicon, word: &str) -> Option<Vec<Vec<Unit>>> {
    const ENDINGS: [&str; 8] = ["'s", "s'", "s", "ing", "ed", "er", "est", "ly"];
    for ending in ENDINGS {
        let Some(base) = word.strip_suffix(ending).filter(|b| b.len() > 2) else {
            continue;
        };
        let Some(known) = lexicon.find(base) else {
            continue;
        };
        let readings: Vec<Vec<Unit>> = known
            .readings()
            .filter_map(|r| {
                let mut units = r.units.to_vec();
                units.extend(ending_units(inventory, &units, ending)?);
                Some(units)
            })
            .collect();
        if !readings.is_empty() {
            return Some(readings);
        }
    }
    None
}

/// *berries*, *tried*: words in y whose y became i before the ending.
fn y_to_i(inventory: &Inventory, lexicon: &Lexicon, word: &str) -> Option<Vec<Vec<Unit>>> {
    let (stem, tail) = [("ies", "s:z"), ("ied", "d:d")]
        .iter()
        .find_map(|(ending, tail)| Some((word.strip_suffix(ending)?, *tail)))?;
    let known = lexicon.find(&format!("{stem}y"))?;
    let readings: Vec<Vec<Unit>> = known
        .readings()
        .filter_map(|r| {
            let (last, head) = r.units.split_last()?;
            let vowel = match inventory.get(last.id())?.gpc.to_string().as_str() {
                "y:i" => "ie:i",
                "y:aɪ" => "ie:aɪ",
                _ => return None,
            };
            let mut units = head.to_vec();
            units.push(inventory.parse_token(vowel).ok()?);
            units.push(inventory.parse_token(tail).ok()?);
            Some(units)
        })
        .collect();
    (!readings.is_empty()).then_some(readings)
}

fn ending_units(inventory: &Inventory, base: &[Unit], ending: &str) -> Option<Vec<Unit>> {
    let last = inventory.get(base.last()?.id())?;
    let sound = last.gpc.phonemes().last()?.symbol();
    if last.gpc.grapheme().is_split() && !matches!(ending, "s" | "'s" | "ly") {
        return None;
    }
    let voiceless = matches!(sound, "p" | "t" | "k" | "f" | "θ");
    let hissing = matches!(sound, "s" | "z" | "ʃ" | "ʒ" | "tʃ" | "dʒ");
    let tokens: &[&str] = match ending {
        "ing" => &["i:ɪ", "ng:ŋ"],
        "er" => &["er:ə"],
        "est" => &["e:ɪ", "s:s", "t:t"],
        "ly" => &["l:l", "y:i"],
        "ed" if matches!(sound, "t" | "d") => &["ed:ɪ.d"],
        "ed" if voiceless || hissing && matches!(sound, "s" | "ʃ" | "tʃ") => &["ed:t"],
        "ed" => &["ed:d"],
        "s'" | "s" if hissing => return None,
        _ if voiceless => &["s:s"],
        _ => &["s:z"],
    };
    tokens
        .iter()
        .map(|t| {
            let unit = inventory.parse_token(t).ok()?;
            let s = t.starts_with("s:") && tokens.len() == 1;
            Some(if s { unit.with(Tag::Suffix) } else { unit })
        })
        .collect()
}

fn compound(lexicon: &Lexicon, word: &str) -> Option<Vec<Vec<Unit>>> {
    let usable = |half: &str| {
        let known = lexicon.find(half).filter(|w| w.band() <= 20 || w.child_band() > 0)?;
        known.readings().next().map(|r| r.units.to_vec())
    };
    (3..word.len().saturating_sub(2)).filter(|at| word.is_char_boundary(*at)).find_map(|at| {
        let (a, b) = word.split_at(at);
        let mut units = usable(a)?;
        units.extend(usable(b)?);
        Some(vec![units])
    })
}
