//! What the words of a lesson should hold, and the choice of words that do.

use super::Engine;
use super::bank::{Audience, BankKind, Plan};
use super::lexicon::{LexWord, Reading, WordId};
use super::require;
use super::rng::Rng;
use super::unit::{GpcId, Unit};
use super::word_part::{Made, WordPart};

/// What words should hold.
#[derive(Clone, Copy, Default)]
pub(super) struct Focus<'a> {
    /// Correspondences, dearest first; each gets a word of its own where there is one.
    pub(super) gpcs: &'a [GpcId],
    /// Correspondences for the rest, each with a word of its own where there is room.
    pub(super) also: &'a [GpcId],
    /// Correspondences that come before no correspondence at all.
    pub(super) then: &'a [GpcId],
    /// Kinds of words, where the lesson is about kinds: no word is of none of them.
    pub(super) parts: Option<&'a [WordPart]>,
}

impl<'a> Focus<'a> {
    /// Words that hold some correspondences, and others after them.
    pub(super) fn on(gpcs: &'a [GpcId]) -> Self {
        Self { gpcs, ..Self::default() }
    }

    /// The dearest correspondences there are.
    pub(super) fn dearest(&self) -> &'a [GpcId] {
        [self.gpcs, self.also].into_iter().find(|list| !list.is_empty()).unwrap_or(self.then)
    }
}

/// A word with its place in the order: of the focus or not, shown before or not, sure or leaning
/// on tolerance for weak vowels.
type Ranked<'e> = ((u8, bool, bool), LexWord<'e>);

impl Plan {
    /// Words of a bank, those of the focus first (the ones not yet shown before the others, those
    /// that lean on tolerance for weak vowels after them), better known and shorter ones likelier.
    pub(super) fn pick<'e>(
        &'e self,
        engine: &'e Engine,
        (step, kind): (u16, BankKind),
        focus: Focus<'_>,
        seed: u64,
        count: usize,
        without: &[WordId],
    ) -> Vec<LexWord<'e>> {
        let purpose = if kind == BankKind::Read { "read" } else { "spell" };
        let mut rng = Rng::for_purpose(seed, purpose);
        let mut ranked = self.ranked(engine, (step, kind), focus, without);
        let mut out: Vec<Ranked<'e>> = Vec::new();
        // First a word for each, then as many as there is room for.
        for gpc in focus.gpcs.iter().chain(focus.also) {
            let has = |(_, w): &Ranked<'_>| self.holds(engine, w.id, &[*gpc]);
            if focus.parts.is_none() {
                one_of(&ranked, has, (&mut rng, count), &mut out);
            }
        }
        for part in focus.parts.unwrap_or_default() {
            let is = |(_, word): &Ranked<'_>| self.is_of(engine, word, part);
            one_of(&ranked, is, (&mut rng, count), &mut out);
        }
        let few = count.div_ceil(2);
        ranked.retain(|(_, w)| !out.iter().any(|(_, have)| have.id == w.id));
        for same in ranked.chunk_by(|a, b| a.0 == b.0) {
            let rare = focus.parts.is_some() && same.iter().any(|((tier, ..), _)| *tier >= RARE);
            let room = if rare { few } else { count }.saturating_sub(out.len());
            out.extend(rng.sample(same.iter().map(|r| weigh(*r)).collect(), room));
        }
        out.sort_by_key(|(rank, _)| *rank);
        out.into_iter().map(|(_, word)| word).collect()
    }

    /// The words that may be shown, those of one rank together, best rank first.
    fn ranked<'e>(
        &'e self,
        engine: &'e Engine,
        (step, kind): (u16, BankKind),
        focus: Focus<'_>,
        without: &[WordId],
    ) -> Vec<Ranked<'e>> {
        let without_weak = self.plain(engine);
        let candidates = match focus.parts {
            None => self.bank(engine, step, kind, Audience::Child),
            // Few words with an ending are among those children are sure to know, and hardly any
            // with an apostrophe is; one a label names is wanted whatever its frequency.
            Some(_) => self.bank(engine, step, BankKind::Read, Audience::All),
        };
        let mut out: Vec<Ranked<'e>> = Vec::new();
        for word in candidates.filter(|w| w.shown().len() > 1) {
            let Some(reading) = self.reading.first_reading(&word) else { continue };
            let tiers = [focus.gpcs, focus.also, focus.then];
            let tier = match focus.parts {
                Some(parts) => match tier_of_kind(engine, &word, &reading, parts) {
                    Some(tier) if kind == BankKind::Read || self.spelt(engine, &word, parts, step) => tier,
                    _ => continue,
                },
                None => {
                    let held = tiers.iter().position(|gpcs| self.reading_holds(engine, reading.units, gpcs));
                    u8::try_from(held.unwrap_or(tiers.len())).unwrap_or(u8::MAX)
                }
            };
            let plain = without_weak.reading(reading.units) <= step;
            out.push(((tier, without.contains(&word.id), !plain), word));
        }
        out.sort_by_key(|(rank, _)| *rank);
        out
    }

    /// Whether a word of some kinds can be spelt at a step: all of it with what is taught, but for
    /// the ending that a kind is about, whose weak vowel is what its lesson teaches.
    fn spelt(&self, engine: &Engine, word: &LexWord<'_>, parts: &[WordPart], step: u16) -> bool {
        let by_ending = |reading: &Reading<'_>| {
            parts.iter().filter(|part| part.fits(engine, word, reading).is_some()).any(|part| {
                let own = part.own_units(engine, reading);
                let stem = reading.units.split_at_checked(reading.units.len() - own).filter(|_| own > 0);
                stem.is_some_and(|(stem, _)| self.spelling.reading(stem) <= step)
            })
        };
        self.spelling.word(word) <= step || self.reading.first_reading(word).is_some_and(|r| by_ending(&r))
    }

    /// Whether a word, as it is read, is of a kind.
    pub(super) fn is_of(&self, engine: &Engine, word: &LexWord<'_>, part: &WordPart) -> bool {
        let reading = self.reading.first_reading(word);
        reading.is_some_and(|reading| part.fits(engine, word, &reading).is_some())
    }

    /// Whether a reading has a unit that, in the school's accent, is one of some correspondences:
    /// the same letters for the same sound.
    pub(super) fn reading_holds(&self, engine: &Engine, units: &[Unit], focus: &[GpcId]) -> bool {
        units.iter().any(|unit| focus.iter().any(|gpc| self.sounds_as(engine, *unit, *gpc)))
    }

    fn sounds_as(&self, engine: &Engine, unit: Unit, gpc: GpcId) -> bool {
        let inventory = engine.inventory();
        let letters = |id: GpcId| inventory.get(id).map(|item| item.gpc.grapheme());
        let sound = |unit: Unit| require::sound(inventory, self.policy, unit);
        letters(unit.id()) == letters(gpc) && sound(unit) == sound(Unit::new(gpc))
    }
}

/// From this tier on words only fill up where a lesson about their kind has few others.
const RARE: u8 = 2;

/// 0 for a word that a label names, or of a kind asked for and known to nearly every child of six;
/// of such a kind 1 for one most of seven know, or a common one made of known words, 2 for a rarer
/// one made of known words, 3 for other common ones. None for others.
fn tier_of_kind(
    engine: &Engine,
    word: &LexWord<'_>,
    reading: &Reading<'_>,
    parts: &[WordPart],
) -> Option<u8> {
    let made = |named: bool| {
        let wanted = parts.iter().filter(|p| matches!(p, WordPart::Named(_)) == named);
        wanted.filter_map(|part| part.fits(engine, word, reading)).min()
    };
    if made(true).is_some() {
        return Some(0);
    }
    let common = engine.suits(word, Audience::Common);
    match (made(false)?, word.child_band()) {
        (_, 1 | 2) => Some(0),
        (_, 3) => Some(1),
        (Made::OfKnownWords, _) => Some(if common { 1 } else { RARE }),
        (Made::OfOthers, _) => common.then_some(RARE + 1),
    }
}

/// Adds one of the best words there are of some, where none is there yet and there is room.
fn one_of<'e>(
    ranked: &[Ranked<'e>],
    is_one: impl Fn(&Ranked<'e>) -> bool,
    (rng, count): (&mut Rng, usize),
    out: &mut Vec<Ranked<'e>>,
) {
    if out.len() >= count || out.iter().any(&is_one) {
        return;
    }
    let best = ranked.iter().filter(|r| is_one(r)).map(|(rank, _)| *rank).min();
    let held = ranked.iter().filter(|r| Some(r.0) == best && is_one(r)).map(|r| weigh(*r));
    out.extend(rng.sample(held.collect(), 1));
}

fn weigh<'e>((rank, word): Ranked<'e>) -> (Ranked<'e>, u32) {
    let length = word.readings().next().map_or(0, |r| r.units.len());
    let known = [1, 12, 6, 1][usize::from(word.child_band().min(3))];
    let short = 8u32.saturating_sub(u32::try_from(length).unwrap_or(8)).max(1);
    ((rank, word), known * short)
}
