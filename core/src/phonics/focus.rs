//! What the words of a lesson should hold, and the choice of words that do.

use super::Engine;
use super::bank::{Audience, BankKind, Plan};
use super::lexicon::{LexWord, Reading, WordId};
use super::require;
use super::rng::Rng;
use super::unit::{GpcId, Unit};
use super::word_part::WordPart;

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
            if out.len() < count && focus.parts.is_none() && !out.iter().any(has) {
                let best = ranked.iter().filter(|r| has(r)).map(|(rank, _)| *rank).min();
                let held = ranked.iter().filter(|r| Some(r.0) == best && has(r)).map(|r| weigh(*r));
                out.extend(rng.sample(held.collect(), 1));
            }
        }
        ranked.retain(|(_, w)| !out.iter().any(|(_, have)| have.id == w.id));
        for same in ranked.chunk_by(|a, b| a.0 == b.0) {
            out.extend(rng.sample(same.iter().map(|r| weigh(*r)).collect(), count - out.len()));
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
        // Few words with an ending are among those children are sure to know, and hardly any with
        // an apostrophe is; one a label names is wanted whatever its frequency.
        let audience = if focus.parts.is_none() { Audience::Child } else { Audience::All };
        let mut out: Vec<Ranked<'e>> = Vec::new();
        for word in self.bank(engine, step, kind, audience).filter(|w| w.shown().len() > 1) {
            let Some(reading) = self.reading.first_reading(&word) else { continue };
            let tiers = [focus.gpcs, focus.also, focus.then];
            let tier = match focus.parts {
                Some(parts) => match tier_of_kind(engine, &word, &reading, parts) {
                    Some(tier) => tier,
                    None => continue,
                },
                None => {
                    let held = tiers.iter().position(|gpcs| self.reading_holds(engine, reading.units, gpcs));
                    held.unwrap_or(tiers.len())
                }
            };
            let plain = without_weak.reading(reading.units) <= step;
            let tier = u8::try_from(tier).unwrap_or(u8::MAX);
            out.push(((tier, without.contains(&word.id), !plain), word));
        }
        out.sort_by_key(|(rank, _)| *rank);
        out
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

/// 0 for a word that a label names or that is of a kind asked for and known to children, 1 for
/// a common one of such a kind, none for others.
fn tier_of_kind(
    engine: &Engine,
    word: &LexWord<'_>,
    reading: &Reading<'_>,
    parts: &[WordPart],
) -> Option<usize> {
    let fits = |named: bool| {
        let wanted = parts.iter().filter(|p| matches!(p, WordPart::Named(_)) == named);
        { wanted }.any(|part| part.fits(engine, word, reading))
    };
    let common = engine.suits(word, Audience::Common);
    match (fits(true), word.child_band() > 0) {
        (true, _) => Some(0),
        (false, known) if (known || common) && fits(false) => Some(usize::from(!known)),
        _ => None,
    }
}

fn weigh<'e>((rank, word): Ranked<'e>) -> (Ranked<'e>, u32) {
    let length = word.readings().next().map_or(0, |r| r.units.len());
    let known = [1, 9, 5, 2][usize::from(word.child_band().min(3))];
    let short = 8u32.saturating_sub(u32::try_from(length).unwrap_or(8)).max(1);
    ((rank, word), known * short)
}
