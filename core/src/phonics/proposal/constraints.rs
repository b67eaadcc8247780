//! What a proposal must keep to, as a client writes it, and what can be wrong with it.

use serde::{Deserialize, Serialize};

use super::ideas::Ideas;
use super::opening::Openings;
use crate::phonics::{
    Engine, exceptions::Placing, fixed::Map, policy::Policy, require::Requirements, statutory::Year,
    unit::GpcId,
};
use crate::sequence::Fault;

/// The most steps of a proposal: more ideas than English teaches.
pub const MOST_STEPS: usize = 170;
/// The widest beam.
pub const MOST_BEAM: usize = 500;
/// The most entries of a list of correspondences: more than English has ideas.
pub const MOST_NAMED: usize = 200;
/// Faults told at once; the rest of a hopeless request is not worth reading.
const MOST_FAULTS: usize = 50;
const LETTERS: usize = 26;

/// What a proposal must keep to. Steps are counted from 1 and hold one idea each: a
/// correspondence, with those that the policy lets it stand for. The same constraints give the
/// same proposal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Constraints {
    /// How many steps, 1 to 170.
    pub steps: usize,
    /// Partial orders kept at each step, 1 to 500; more is slower and a little better.
    pub beam: usize,
    /// Correspondences such as `a:æ` that are taught first, in this order, one a step. Like the
    /// other lists at most 200, none of them twice.
    #[cfg_attr(feature = "schema", schema(max_items = 200))]
    pub start: Vec<String>,
    /// Correspondences that must be among the steps.
    #[cfg_attr(feature = "schema", schema(max_items = 200))]
    pub include: Vec<String>,
    /// The step by which they are; the last unless told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub include_by: Option<usize>,
    /// Correspondences that must not be.
    #[cfg_attr(feature = "schema", schema(max_items = 200))]
    pub leave_out: Vec<String>,
    /// Steps at the start that hold single letters only.
    pub letters_first: usize,
    /// The step by which the first word can be read, at least 2.
    pub words_by: usize,
    /// The step by which every letter has a sound, at least 26.
    pub alphabet_by: usize,
    /// The first step that may hold a split digraph.
    pub split_from: usize,
    /// The step by which the statutory content of year 1 is taught; leave out if it need not all be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub year1_by: Option<usize>,
    /// The same of year 2.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub year2_by: Option<usize>,
    /// The first step that may hold statutory content of year 2.
    pub year2_from: usize,
    /// How much a word still lacking one idea counts, 0 to 1, against one that can be read; two
    /// ideas count its square, and so on.
    pub promise: f64,
    /// Varies equally good choices.
    pub seed: u64,
    /// What counts as taught: the school's choices unless told, and the usual ones where there is no
    /// school.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub policy: Option<Policy>,
    /// How exception words are placed in the order found.
    pub exception_words: Placing,
}

impl Default for Constraints {
    fn default() -> Self {
        Self {
            steps: 90,
            beam: 10,
            start: Vec::new(),
            include: Vec::new(),
            include_by: None,
            leave_out: Vec::new(),
            letters_first: 12,
            words_by: 3,
            alphabet_by: 44,
            split_from: 33,
            year1_by: None,
            year2_by: None,
            year2_from: 1,
            promise: 0.30,
            seed: 1,
            policy: None,
            exception_words: Placing::default(),
        }
    }
}

/// Faults of constraints, by field.
pub(super) struct Faults(pub(super) Vec<Fault>);

impl Faults {
    pub(super) fn add(&mut self, field: impl Into<String>, message: impl Into<String>) {
        if self.0.len() < MOST_FAULTS {
            self.0.push(Fault { field: field.into(), message: message.into() });
        }
    }

    fn within(&mut self, field: &str, value: usize, least: usize, most: usize) {
        if !(least..=most).contains(&value) {
            self.add(field, format!("must be {least} to {most}"));
        }
    }
}

impl Constraints {
    /// The ideas to put in order, with those a step is promised for.
    ///
    /// # Errors
    /// Every fault, by its field: a number out of range, a correspondence that English does not
    /// have (with suggestions), constraints that contradict each other.
    pub(super) fn ideas(&self, engine: &Engine) -> Result<Ideas, Vec<Fault>> {
        let mut faults = Faults(Vec::new());
        self.ranges(&mut faults);
        let lists = [("start", &self.start), ("include", &self.include), ("leave_out", &self.leave_out)];
        let too_long = |(_, texts): &(&str, &Vec<String>)| texts.len() > MOST_NAMED;
        if lists.iter().any(too_long) {
            for (field, texts) in lists.into_iter().filter(too_long) {
                faults
                    .add(field, format!("must have at most {MOST_NAMED} entries; {} were sent", texts.len()));
            }
            return Err(faults.0);
        }
        let requirements = Requirements::new(engine.inventory(), self.policy.unwrap_or_default());
        let mut ideas = Ideas::new(engine, &requirements);
        for (field, texts) in lists {
            let mut met = Map::default();
            for (n, text) in texts.iter().enumerate() {
                let at = (field, n);
                let Some(id) = Self::named(engine, &mut faults, at, text) else { continue };
                if let Some(first) = met.insert(id, n) {
                    faults.add(format!("{field}[{n}]"), format!("{text} stands at {field}[{first}] too"));
                } else {
                    let idea = ideas.of(engine, &requirements, id);
                    self.want(&mut ideas, &mut faults, at, text, idea);
                }
            }
        }
        if faults.0.is_empty() {
            for (year, by) in [(Year::Year1, self.year1_by), (Year::Year2, self.year2_by)] {
                ideas.statutory(engine, &requirements, year, by);
            }
            ideas.note_letters(engine);
            if self.alphabet_by <= self.steps {
                self.alphabet(engine, &mut ideas, &mut faults);
            }
            self.contradictions(engine, &ideas, &mut faults);
        }
        if faults.0.is_empty() { Ok(ideas) } else { Err(faults.0) }
    }

    fn ranges(&self, faults: &mut Faults) {
        faults.within("steps", self.steps, 1, MOST_STEPS);
        faults.within("beam", self.beam, 1, MOST_BEAM);
        faults.within("letters_first", self.letters_first, 0, LETTERS);
        faults.within("words_by", self.words_by, 2, MOST_STEPS);
        faults.within("alphabet_by", self.alphabet_by, LETTERS, MOST_STEPS);
        faults.within("split_from", self.split_from, 1, MOST_STEPS);
        faults.within("year2_from", self.year2_from, 1, MOST_STEPS);
        if !(0.0..1.0).contains(&self.promise) {
            faults.add("promise", "must be at least 0 and less than 1");
        }
        let placing = self.exception_words;
        faults.within("exception_words.from", placing.from.into(), 1, MOST_STEPS);
        faults.within("exception_words.every", placing.every.into(), 1, MOST_STEPS);
        faults.within("exception_words.year2_from", placing.year2_from.into(), 1, MOST_STEPS);
        faults.within("exception_words.year2_per_step", placing.year2_per_step, 1, 5);
        faults.within("exception_words.lacking", placing.lacking, 0, 5);
    }

    /// Reads a correspondence a client named.
    fn named(engine: &Engine, faults: &mut Faults, (field, n): (&str, usize), text: &str) -> Option<GpcId> {
        let at = format!("{field}[{n}]");
        let id = engine.inventory().find(text).map_err(|error| faults.add(&at, error.to_string())).ok()?;
        let teachable = engine.inventory().get(id).is_some_and(|c| c.keyword.is_some());
        if !teachable {
            faults.add(at, format!("{text} is not taught by itself"));
        }
        teachable.then_some(id)
    }

    /// Notes what a client wants of an idea.
    fn want(
        &self,
        ideas: &mut Ideas,
        faults: &mut Faults,
        (field, n): (&str, usize),
        text: &str,
        idea: usize,
    ) {
        let at = format!("{field}[{n}]");
        match field {
            "start" if ideas.start.contains(&idea) => faults.add(at, format!("{text} is taught before")),
            "start" => ideas.start.push(idea),
            "include" => ideas.promise(idea, self.include_by.unwrap_or(self.steps)),
            _ if ideas.start.contains(&idea) => faults.add(at, format!("{text} is also in start")),
            _ if ideas.by[idea].is_some() => faults.add(at, format!("{text} is also in include")),
            _ => ideas.left_out[idea] = true,
        }
    }

    fn alphabet(&self, engine: &Engine, ideas: &mut Ideas, faults: &mut Faults) {
        for letter in ('a'..='z').map(String::from) {
            match ideas.letter(engine, &letter) {
                Some(idea) => ideas.promise(idea, self.alphabet_by),
                None => faults.add("leave_out", format!("leaves {letter} without a sound by alphabet_by")),
            }
        }
    }

    /// What cannot be kept together, whatever the order.
    fn contradictions(&self, engine: &Engine, ideas: &Ideas, faults: &mut Faults) {
        for (n, idea) in ideas.start.iter().enumerate() {
            let at = format!("start[{n}]");
            if ideas.is_long(engine, *idea) && n < self.letters_first {
                faults.add(&at, format!("the first {} steps hold single letters", self.letters_first));
            }
            if ideas.is_split(engine, *idea) && n + 1 < self.split_from {
                faults.add(&at, format!("no split digraph before step {}", self.split_from));
            }
            if ideas.is_year2(*idea) && n + 1 < self.year2_from {
                faults.add(&at, format!("no content of year 2 before step {}", self.year2_from));
            }
        }
        let opening: Vec<_> = ideas.start.iter().take(super::opening::OPENING).collect();
        let opening: Vec<_> = opening.into_iter().filter_map(|idea| ideas.first(*idea)).collect();
        if Openings::load().hold(engine, &opening) {
            faults.add("start", "opens like an order in common use; a sequence is to be a school's own");
        }
        if let Some(idea) = (0..ideas.len()).find(|idea| ideas.left_out[*idea] && ideas.by[*idea].is_some()) {
            let message = format!("{} is needed by another constraint", ideas.shown(engine, idea));
            faults.add("leave_out", message);
        }
        let splits = (0..ideas.len()).filter(|idea| ideas.is_split(engine, *idea));
        if let Some(by) = splits.filter_map(|idea| ideas.by[idea]).min().filter(|by| *by < self.split_from) {
            faults.add("split_from", format!("split digraphs are needed by step {by}"));
        }
        if self.year2_by.is_some_and(|by| by < self.year2_from) {
            faults.add("year2_from", "comes after year2_by");
        }
        self.room(ideas, faults);
    }

    /// More ideas promised for the first so many steps than steps.
    fn room(&self, ideas: &Ideas, faults: &mut Faults) {
        for (field, by) in [
            ("alphabet_by", Some(self.alphabet_by).filter(|by| *by <= self.steps)),
            ("include_by", self.include_by),
            ("year1_by", self.year1_by),
            ("year2_by", self.year2_by),
            ("steps", Some(self.steps)),
        ] {
            let Some(by) = by else { continue };
            let promised = |idea: &usize| {
                ideas.by[*idea].is_some_and(|last| last <= by)
                    || ideas.start.iter().position(|start| start == idea).is_some_and(|at| at < by)
            };
            let needed = (0..ideas.len()).filter(promised).count();
            if needed > by {
                faults.add(field, format!("{needed} ideas are to be taught by step {by}"));
            }
            if by > self.steps {
                faults.add(field, format!("comes after the last step, {}", self.steps));
            }
        }
        if self.start.len() > self.steps {
            faults.add("start", format!("holds more than {} steps", self.steps));
        }
    }
}
