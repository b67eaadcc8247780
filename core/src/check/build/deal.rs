//! Dealing words to forms: a place of the check at a time, to each form a word alike in structure.

use std::collections::BTreeSet;

use super::measure::{FEATURES, Measure};
use crate::phonics::rng::Rng;

/// A word that may be asked.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    /// As shown.
    pub(super) text: String,
    /// What it can be chosen for.
    pub(super) holds: BTreeSet<u32>,
    /// What is known of it.
    pub(super) measure: Measure,
    /// How likely it is chosen.
    pub(super) weight: u32,
}

/// A place of the check.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    /// What the words were chosen for.
    pub(super) aim: Option<u32>,
    /// The words, by form.
    pub(super) words: Vec<usize>,
}

impl Slot {
    /// Whether several forms have one word there.
    pub(super) fn is_shared(&self) -> bool {
        self.words.iter().collect::<BTreeSet<_>>().len() < self.words.len()
    }
}

/// One dealing.
pub(super) struct Dealing<'c> {
    candidates: &'c [Candidate],
    forms: usize,
    recent: u16,
    rng: Rng,
    used: BTreeSet<usize>,
    totals: Vec<[f64; FEATURES]>,
    slots: Vec<Slot>,
}

impl<'c> Dealing<'c> {
    pub(super) fn new(candidates: &'c [Candidate], forms: usize, recent: u16, rng: Rng) -> Self {
        let totals = vec![[0.0; FEATURES]; forms];
        Self { candidates, forms, recent, rng, used: BTreeSet::new(), totals, slots: Vec::new() }
    }

    /// Deals so many places, fewer where words run out. Each aim has a place before one has two. Words not used
    /// yet go to one form each; where they run out the forms share one.
    pub(super) fn deal(mut self, aims: &[u32], items: usize) -> Vec<Slot> {
        let mut first = true;
        loop {
            let before = self.slots.len();
            for (n, aim) in aims.iter().enumerate() {
                let Some(left) = items.checked_sub(self.slots.len() + 1) else { break };
                let waiting =
                    if first { aims[n + 1..].iter().take(left).copied().collect() } else { Vec::new() };
                self.place(Some(*aim), &waiting, first);
            }
            first = false;
            if self.slots.len() == before {
                break;
            }
        }
        while self.slots.len() < items && self.place(None, &[], true) {}
        self.slots.truncate(items);
        self.slots.sort_by_key(|slot| {
            let hardest = slot.words.iter().map(|word| self.candidates[*word].measure.structure()).max();
            (hardest, slot.words.clone())
        });
        self.slots
    }

    /// Deals all of what it has, each once where there is enough.
    pub(super) fn deal_all(mut self, items: usize) -> Vec<Slot> {
        let mut order: Vec<usize> = (0..self.candidates.len()).collect();
        let items = items.min(order.len());
        // One place shared frees as many words as there are forms beyond the first.
        let lacking = (items * self.forms).saturating_sub(order.len());
        let shared = if self.forms == 1 { 0 } else { lacking.div_ceil(self.forms - 1) };
        self.rng.shuffle(&mut order);
        let rest = order.split_off(shared);
        for word in order {
            self.take(None, vec![word; self.forms]);
        }
        let mut rest: Vec<usize> = rest.into_iter().take((items - shared) * self.forms).collect();
        rest.sort_by_key(|word| self.order_of(*word));
        for alike in rest.chunks_exact(self.forms) {
            self.balance(None, alike.to_vec());
        }
        self.slots
    }

    /// Fills one place for an aim, or for nothing in particular; false where no words are left. Words that one of
    /// the aims still waiting can hardly do without are left to it, if there are others.
    fn place(&mut self, aim: Option<u32>, waiting: &[u32], may_share: bool) -> bool {
        let free = self.free(aim);
        let scarce: Vec<u32> =
            waiting.iter().copied().filter(|aim| self.free(Some(*aim)).len() <= 2 * self.forms).collect();
        let spared: Vec<usize> = free
            .iter()
            .copied()
            .filter(|word| !scarce.iter().any(|aim| self.candidates[*word].holds.contains(aim)))
            .collect();
        let from = if spared.len() >= self.forms { spared } else { free };
        if from.len() >= self.forms {
            let alike = self.alike(from);
            self.balance(aim, alike);
            return true;
        }
        if from.is_empty() || !may_share {
            return false;
        }
        // As many as there are, in turn.
        let shared = from.iter().copied().cycle().take(self.forms).collect();
        self.balance(aim, shared);
        true
    }

    fn free(&self, aim: Option<u32>) -> Vec<usize> {
        let is_free = |n: &usize| {
            !self.used.contains(n) && aim.is_none_or(|aim| self.candidates[*n].holds.contains(&aim))
        };
        (0..self.candidates.len()).filter(is_free).collect()
    }

    fn order_of(&self, word: usize) -> impl Ord + use<'c> {
        let Candidate { measure, text, .. } = &self.candidates[word];
        (measure.structure(), measure.rarity, measure.lessons_since, text)
    }

    /// As many words as there are forms, as alike as any: in structure first, then in rarity and in how lately
    /// their GPCs were taught. Of runs as good within one step of rarity, better known words are likelier.
    fn alike(&mut self, mut from: Vec<usize>) -> Vec<usize> {
        from.sort_by_key(|word| self.order_of(*word));
        let runs: Vec<(f64, &[usize])> =
            from.windows(self.forms).map(|run| (self.spread(run), run)).collect();
        let least = runs.iter().map(|(spread, _)| *spread).fold(f64::MAX, f64::min);
        let good = runs.into_iter().filter(|(spread, _)| *spread <= least + 0.5);
        let weigh = |run: &[usize]| run.iter().map(|word| self.candidates[*word].weight).sum::<u32>().max(1);
        let good: Vec<(Vec<usize>, u32)> = good.map(|(_, run)| (run.to_vec(), weigh(run))).collect();
        self.rng.weighted(&good).cloned().unwrap_or_default()
    }

    /// How far apart words lie. A difference of structure outweighs all others.
    fn spread(&self, words: &[usize]) -> f64 {
        let weighed: Vec<[f64; FEATURES]> =
            words.iter().map(|word| self.candidates[*word].measure.weighed(self.recent)).collect();
        let ranges = ranges(&weighed);
        ranges.iter().enumerate().map(|(n, range)| if n < 3 { 10.0 * range } else { *range }).sum()
    }

    /// Gives each form one of the words, so that the forms so far lie least apart.
    fn balance(&mut self, aim: Option<u32>, mut words: Vec<usize>) {
        self.rng.shuffle(&mut words);
        let apart = |order: &Vec<usize>| {
            let totals: Vec<[f64; FEATURES]> =
                self.totals.iter().zip(order).map(|(total, word)| self.added(total, *word)).collect();
            ranges(&totals).iter().map(|range| range * range).sum::<f64>()
        };
        let orders = orders(&words);
        let best = orders.into_iter().map(|order| (apart(&order), order)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, order)) = best {
            self.take(aim, order);
        }
    }

    fn added(&self, total: &[f64; FEATURES], word: usize) -> [f64; FEATURES] {
        let more = self.candidates[word].measure.weighed(self.recent);
        std::array::from_fn(|n| total[n] + more[n])
    }

    fn take(&mut self, aim: Option<u32>, words: Vec<usize>) {
        self.totals = self.totals.iter().zip(&words).map(|(total, word)| self.added(total, *word)).collect();
        self.used.extend(words.iter().copied());
        self.slots.push(Slot { aim, words });
    }
}

/// The largest difference in each feature.
fn ranges(of: &[[f64; FEATURES]]) -> [f64; FEATURES] {
    std::array::from_fn(|n| {
        let most = of.iter().map(|one| one[n]).fold(f64::MIN, f64::max);
        let least = of.iter().map(|one| one[n]).fold(f64::MAX, f64::min);
        most - least
    })
}

/// Every order of a few words.
fn orders(words: &[usize]) -> Vec<Vec<usize>> {
    if words.len() < 2 {
        return vec![words.to_vec()];
    }
    let with_first = |n: usize| {
        let mut rest = words.to_vec();
        let first = rest.remove(n);
        orders(&rest).into_iter().map(move |mut order| {
            order.insert(0, first);
            order
        })
    };
    (0..words.len()).flat_map(with_first).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn word(text: &str, holds: &[u32], graphemes: u16, rarity: u8) -> Candidate {
        let measure = Measure { graphemes, rarity, ..Measure::default() };
        Candidate { text: text.into(), holds: holds.iter().copied().collect(), measure, weight: 1 }
    }

    fn dealt(words: &[Candidate], forms: usize, aims: &[u32], items: usize, seed: u64) -> Vec<Slot> {
        Dealing::new(words, forms, 20, Rng::new(seed)).deal(aims, items)
    }

    #[test]
    fn a_place_holds_words_of_one_structure_while_there_are_such() {
        let words: Vec<Candidate> =
            (0..12u16).map(|n| word(&format!("w{n}"), &[u32::from(n % 2)], 3 + n / 6, 1)).collect();
        for seed in 0..50 {
            let slots = dealt(&words, 3, &[0, 1], 4, seed);
            assert_eq!(slots.len(), 4);
            let mut all: Vec<usize> = slots.iter().flat_map(|slot| slot.words.clone()).collect();
            all.sort_unstable();
            // Twelve words, three forms of four: each word once.
            assert_eq!(all, (0..12).collect::<Vec<_>>(), "{seed}");
            for slot in &slots {
                let lengths: BTreeSet<u16> =
                    slot.words.iter().map(|word| words[*word].measure.graphemes).collect();
                assert_eq!(lengths.len(), 1, "{seed}: {slot:?}");
            }
            let aims: Vec<u32> = slots.iter().filter_map(|slot| slot.aim).collect();
            assert_eq!(aims.iter().filter(|aim| **aim == 0).count(), 2, "{seed}");
        }
    }

    #[test]
    fn forms_share_words_only_where_they_run_out() {
        // Aim 0 has one word, aim 1 four: with two forms aim 0 is shared, aim 1 has two places.
        let mut words = vec![word("rare", &[0], 3, 1)];
        words.extend((0..4).map(|n| word(&format!("w{n}"), &[1], 3, 1)));
        let slots = dealt(&words, 2, &[0, 1], 5, 7);
        assert_eq!(slots.iter().filter(|slot| slot.is_shared()).count(), 1);
        assert_eq!(slots.len(), 3, "the words there are");
    }

    #[test]
    fn a_word_that_an_aim_cannot_do_without_is_left_to_it() {
        let mut words = vec![word("both", &[0, 1], 3, 1)];
        words.extend((0..5).map(|n| word(&format!("w{n}"), &[0], 3, 1)));
        for seed in 0..50 {
            let slots = dealt(&words, 1, &[0, 1], 2, seed);
            assert_eq!(slots.iter().filter_map(|slot| slot.aim).collect::<BTreeSet<_>>(), [0, 1].into());
        }
    }

    #[test]
    fn all_of_a_few_words_are_dealt_with_as_few_shared_as_can_be() {
        let words: Vec<Candidate> = (0..7).map(|n| word(&format!("w{n}"), &[], 3, 1)).collect();
        // Two forms of four from seven words: one shared, three places of two.
        let slots = Dealing::new(&words, 2, 20, Rng::new(1)).deal_all(4);
        assert_eq!((slots.len(), slots.iter().filter(|slot| slot.is_shared()).count()), (4, 1));
        let used: BTreeSet<usize> = slots.iter().flat_map(|slot| slot.words.clone()).collect();
        assert_eq!(used.len(), 7);
        // Three words for four places: three, all shared.
        let slots = Dealing::new(&words[..3], 2, 20, Rng::new(1)).deal_all(4);
        assert_eq!((slots.len(), slots.iter().filter(|slot| slot.is_shared()).count()), (3, 3));
    }

    #[test]
    fn the_harder_word_goes_to_the_form_that_had_the_easier() {
        // Two places of a known and a rare word each: either form gets one of each.
        let words =
            [word("a", &[0], 3, 1), word("b", &[0], 3, 3), word("c", &[1], 4, 1), word("d", &[1], 4, 3)];
        for seed in 0..20 {
            let slots = dealt(&words, 2, &[0, 1], 2, seed);
            let rarity =
                |form: usize| slots.iter().map(|slot| words[slot.words[form]].measure.rarity).sum::<u8>();
            assert_eq!((rarity(0), rarity(1)), (4, 4), "{seed}");
        }
    }
}
