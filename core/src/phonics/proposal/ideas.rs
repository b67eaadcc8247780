//! Ideas: the correspondences that a step introduces together, and the words that need them.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::phonics::{
    Engine,
    require::Requirements,
    statutory::Year,
    unit::{GpcId, Unit},
};

/// Longer words count for less early on.
const LENGTH_DISCOUNT: f64 = 0.62;
/// Words of more units are not what a sequence is built for.
const LONGEST_WORD: usize = 8;

/// Ideas by number, the words that need them, and what the constraints want of them.
#[derive(Debug)]
pub(super) struct Ideas {
    /// Each idea: the correspondences introduced together (th of *this* and *thin*).
    gpcs: Vec<Vec<GpcId>>,
    idea_of: BTreeMap<GpcId, usize>,
    /// How much child-word weight needs each idea.
    pub(super) use_of: Vec<f64>,
    /// Which words need each idea.
    pub(super) words_of: Vec<Vec<usize>>,
    /// What each word counts.
    pub(super) weight: Vec<f64>,
    /// How many ideas each word needs.
    pub(super) needs: Vec<u8>,
    /// Ideas the client wants first, in order.
    pub(super) start: Vec<usize>,
    /// Ideas that are never taught.
    pub(super) left_out: Vec<bool>,
    /// The step by which each idea is taught, where one is promised.
    pub(super) by: Vec<Option<usize>>,
    year2: Vec<bool>,
    /// The ideas that give letters their first sound.
    letters: Vec<usize>,
}

impl Ideas {
    pub(super) fn new(engine: &Engine, requirements: &Requirements<'_>) -> Self {
        let frequency = frequencies(engine);
        let mut out = Self {
            gpcs: Vec::new(),
            idea_of: BTreeMap::new(),
            use_of: Vec::new(),
            words_of: Vec::new(),
            weight: Vec::new(),
            needs: Vec::new(),
            start: Vec::new(),
            left_out: Vec::new(),
            by: Vec::new(),
            year2: Vec::new(),
            letters: Vec::new(),
        };
        for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
            let Some(reading) = word.readings().next().filter(|r| r.units.len() <= LONGEST_WORD) else {
                continue;
            };
            let mut needs: Vec<usize> = Vec::new();
            for unit in reading.units {
                let ids = chosen(engine, requirements, &frequency, *unit);
                needs.extend(ids.into_iter().map(|id| out.number(engine, requirements, id)));
            }
            needs.sort_unstable();
            needs.dedup();
            let length = reading.units.len().saturating_sub(3);
            let discount = LENGTH_DISCOUNT.powi(i32::try_from(length).unwrap_or(8));
            out.word(&needs, f64::from(4 - word.child_band().min(3)) * discount);
        }
        out
    }

    fn word(&mut self, needs: &[usize], weight: f64) {
        for idea in needs {
            self.words_of[*idea].push(self.weight.len());
            self.use_of[*idea] += weight;
        }
        self.weight.push(weight);
        self.needs.push(u8::try_from(needs.len()).unwrap_or(u8::MAX));
    }

    fn number(&mut self, engine: &Engine, requirements: &Requirements<'_>, id: GpcId) -> usize {
        if let Some(idea) = self.idea_of.get(&id) {
            return *idea;
        }
        let idea = self.gpcs.len();
        let gpcs = requirements.together(id);
        for id in &gpcs {
            self.idea_of.entry(*id).or_insert(idea);
        }
        let year2 =
            |id: &GpcId| is_of_year(engine, Year::Year2, *id) && !is_of_year(engine, Year::Year1, *id);
        self.year2.push(gpcs.iter().all(year2));
        self.gpcs.push(gpcs);
        self.use_of.push(0.0);
        self.words_of.push(Vec::new());
        self.left_out.push(false);
        self.by.push(None);
        idea
    }

    /// The idea that introduces a correspondence.
    pub(super) fn of(&mut self, engine: &Engine, requirements: &Requirements<'_>, id: GpcId) -> usize {
        self.number(engine, requirements, id)
    }

    pub(super) fn len(&self) -> usize {
        self.gpcs.len()
    }

    /// The correspondences of an idea.
    pub(super) fn gpcs(&self, idea: usize) -> &[GpcId] {
        &self.gpcs[idea]
    }

    /// The correspondence an idea is named after.
    pub(super) fn first(&self, idea: usize) -> Option<GpcId> {
        self.gpcs[idea].first().copied()
    }

    /// The idea's spelling; that of the first where there are several.
    pub(super) fn spelling<'a>(&self, engine: &'a Engine, idea: usize) -> &'a str {
        let item = self.first(idea).and_then(|id| engine.inventory().get(id));
        item.map_or("", |c| c.gpc.grapheme().as_str())
    }

    /// The idea as a client writes it.
    pub(super) fn shown(&self, engine: &Engine, idea: usize) -> String {
        let item = self.first(idea).and_then(|id| engine.inventory().get(id));
        item.map(|c| c.gpc.to_string()).unwrap_or_default()
    }

    /// Whether schools teach it by itself.
    pub(super) fn teachable(&self, engine: &Engine, idea: usize) -> bool {
        let item = self.first(idea).and_then(|id| engine.inventory().get(id));
        item.is_some_and(|c| c.keyword.is_some())
    }

    /// Whether its spelling is longer than a letter; qu is taught as one.
    pub(super) fn is_long(&self, engine: &Engine, idea: usize) -> bool {
        let spelling = self.spelling(engine, idea);
        spelling.len() > 1 && spelling != "qu"
    }

    pub(super) fn is_split(&self, engine: &Engine, idea: usize) -> bool {
        self.spelling(engine, idea).contains('_')
    }

    pub(super) fn is_year2(&self, idea: usize) -> bool {
        self.year2[idea]
    }

    /// Promises an idea by a step; the earliest promise holds.
    pub(super) fn promise(&mut self, idea: usize, by: usize) {
        self.by[idea] = Some(self.by[idea].map_or(by, |earlier| earlier.min(by)));
    }

    /// Makes the statutory content of a year ideas, promised by a step if one is given.
    pub(super) fn statutory(
        &mut self,
        engine: &Engine,
        requirements: &Requirements<'_>,
        year: Year,
        by: Option<usize>,
    ) {
        for unit in engine.statutory().units().iter().filter(|unit| unit.year == year) {
            for id in &unit.gpcs {
                let idea = self.of(engine, requirements, *id);
                if let Some(by) = by {
                    self.promise(idea, by);
                }
            }
        }
    }

    /// The idea that gives a letter its first sound: the commonest it has at the start of a word, as
    /// y in *yes*, or else the commonest, as x in *box*.
    pub(super) fn letter(&self, engine: &Engine, letter: &str) -> Option<usize> {
        let own = |idea: &usize| {
            let spelling = self.spelling(engine, *idea);
            !self.left_out[*idea] && (spelling == letter || spelling == "qu" && letter == "q")
        };
        let keyword = |idea: usize| engine.inventory().get(self.first(idea)?)?.keyword;
        let starts = |idea: usize| keyword(idea).is_some_and(|word| word.starts_with(letter));
        (0..self.len())
            .filter(own)
            .max_by(|a, b| starts(*a).cmp(&starts(*b)).then(self.use_of[*a].total_cmp(&self.use_of[*b])))
    }

    /// Notes which sound each letter is taught first.
    pub(super) fn note_letters(&mut self, engine: &Engine) {
        let letters = ('a'..='z').filter_map(|letter| self.letter(engine, &letter.to_string()));
        self.letters = letters.collect();
    }

    /// By which step each idea is best taught, so that every promise can be kept: a promised idea by
    /// its step; before it, at their gap, the sounds of its spelling that come first and the
    /// commoner ones of those promised ideas it must keep apart from. Single letters keep apart
    /// well enough by themselves.
    pub(super) fn due(&self, engine: &Engine) -> Vec<Option<usize>> {
        let mut due = self.by.clone();
        let mut rarest_first: Vec<usize> = (0..self.len()).collect();
        rarest_first.sort_by(|a, b| self.rank(*a).partial_cmp(&self.rank(*b)).unwrap_or(Ordering::Equal));
        for (n, idea) in rarest_first.iter().enumerate() {
            let Some(by) = due[*idea] else { continue };
            for other in &rarest_first[n + 1..] {
                let apart = gap(engine, &self.gpcs[*idea], &self.gpcs[*other]).map(usize::from);
                let letters = self.letters.contains(idea) && self.letters.contains(other);
                let first = self.comes_before(engine, *other, *idea);
                if first || due[*other].is_some() && apart.is_some() && !letters {
                    let latest = by.saturating_sub(apart.unwrap_or(1)).max(1);
                    due[*other] = Some(due[*other].map_or(latest, |earlier| earlier.min(latest)));
                }
            }
        }
        due
    }

    /// What is taught first: the first sounds of letters, then what is not left to year 2, then the
    /// commoner.
    fn rank(&self, idea: usize) -> (bool, bool, f64) {
        (self.letters.contains(&idea), !self.year2[idea], self.use_of[idea])
    }

    /// Whether `other` is the same spelling with the sound to be taught before: the first of a
    /// letter, else one that is not left to year 2, else the commoner.
    pub(super) fn comes_before(&self, engine: &Engine, other: usize, idea: usize) -> bool {
        other != idea
            && self.spelling(engine, other) == self.spelling(engine, idea)
            && self.rank(other) > self.rank(idea)
            && self.teachable(engine, other)
            && !self.left_out[other]
    }
}

/// The gap in steps that two ideas keep, if they are confused.
pub(super) fn gap(engine: &Engine, one: &[GpcId], other: &[GpcId]) -> Option<u16> {
    let gap = |a: GpcId, b: GpcId| engine.confusable().gap(engine.inventory(), a, b).map(|(gap, _)| gap);
    one.iter().flat_map(|a| other.iter().filter_map(move |b| gap(*a, *b))).max()
}

fn is_of_year(engine: &Engine, year: Year, id: GpcId) -> bool {
    engine.statutory().units().iter().any(|unit| unit.year == year && unit.gpcs.contains(&id))
}

/// How often each correspondence stands in child words.
fn frequencies(engine: &Engine) -> Vec<u32> {
    let mut counts = vec![0u32; engine.inventory().len()];
    for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
        for unit in word.readings().next().into_iter().flat_map(|r| r.units) {
            if let Some(count) = counts.get_mut(unit.id().index()) {
                *count += 1;
            }
        }
    }
    counts
}

/// The cheapest way to make a unit readable: the alternative whose rarest part is commonest.
fn chosen(engine: &Engine, requirements: &Requirements<'_>, frequency: &[u32], unit: Unit) -> Vec<GpcId> {
    let teachable = |id: &GpcId| {
        let item = engine.inventory().get(*id);
        u32::from(item.is_some_and(|c| c.keyword.is_some()))
    };
    requirements
        .alternatives(unit)
        .into_iter()
        .max_by_key(|a| {
            let rarest = a.iter().map(|id| frequency.get(id.index()).copied().unwrap_or(0)).min();
            (a.iter().map(teachable).min(), rarest)
        })
        .unwrap_or_default()
}
