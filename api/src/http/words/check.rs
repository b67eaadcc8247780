//! Items of a check before it is written down: as sent or as built, judged by the school's engine.

use std::{collections::BTreeMap, sync::Arc};

use plumbline_core::{
    access::{
        act::Read,
        resource::{SchoolWords, Sequence, Sequences},
    },
    check::{
        Asked, CheckKind, Odd,
        build::{Built, BuiltItem, Ground, Recipe, build, lessons_up_to},
        odd_grapheme, odd_words, struck_words,
    },
    id::{ItemId, PseudoWordSetId, VersionId},
    phonics::{pseudo::OfferedPseudoWord, version::find},
    rules::{CheckRule, PracticeSection, RulePack},
    sequence::{Content, Gpc},
    text::Title,
};

use super::school::SchoolEngine;
use crate::{
    http::{
        problem::{Code, FieldError, Problem},
        v1::checks::create::{CheckWarning, NewCheckItem},
    },
    store::{Error, PseudoWordSetRow, Tx},
};

/// An item with all but its id.
#[derive(Clone, Debug)]
pub struct Prepared {
    pub prompt: Title,
    pub gpc_id: Option<ItemId>,
    pub asked: Asked,
    pub section: Option<u8>,
    pub pseudo: bool,
}

impl TryFrom<BuiltItem> for Prepared {
    type Error = Problem;
    fn try_from(built: BuiltItem) -> Result<Self, Problem> {
        let prompt = Title::new(&built.prompt).map_err(|_| Problem::new(Code::Internal))?;
        let BuiltItem { asked, section, pseudo, .. } = built;
        Ok(Self { prompt, gpc_id: built.gpc.map(|gpc| gpc.id()), asked, section, pseudo })
    }
}

/// What a jurisdiction says of checks.
#[derive(Clone, Copy)]
pub struct Rules {
    pub rule: &'static CheckRule,
    pub sections: &'static [PracticeSection],
}

impl From<&'static RulePack> for Rules {
    fn from(pack: &'static RulePack) -> Self {
        Self { rule: &pack.checks, sections: &pack.statutory_check.sections }
    }
}

fn refused(message: impl Into<String>) -> Problem {
    Problem::field("pseudo_word_set_id", message.into())
}

/// An approved set.
pub fn approved(tx: &mut Tx<'_>, set: PseudoWordSetId) -> Result<PseudoWordSetRow, Problem> {
    let permit = tx.permit::<Read, _>(SchoolWords)?;
    let row = tx.pseudo_word_set(&permit, set).map_err(|error| match error {
        Error::Missing => refused("is not a set of this school"),
        other => other.into(),
    })?;
    match row.approved_at {
        Some(_) => Ok(row),
        None => Err(refused("is not approved yet: the lead looks at every word first")),
    }
}

/// The content of a published version.
pub fn content_of(tx: &mut Tx<'_>, version: VersionId) -> Result<Arc<Content>, Problem> {
    let unknown = |error| match error {
        Error::Missing => {
            Problem::field("sequence_version_id", "is not a version of this school's sequences")
        }
        other => other.into(),
    };
    let all = tx.permit::<Read, _>(Sequences)?;
    let sequence = tx.sequence_of(&all, version).map_err(unknown)?;
    let permit = tx.permit::<Read, _>(Sequence(sequence))?;
    Ok(tx.version_of(&permit, version).map_err(unknown)?.content)
}

/// Refuses a recipe that cannot be built, by its fields.
pub fn fits(recipe: &Recipe, content: &Content, rule: &CheckRule) -> Result<(), Problem> {
    let mut wrong: Vec<FieldError> = recipe.faults(rule).into_iter().map(FieldError::from).collect();
    if lessons_up_to(content, recipe.step, recipe.lesson).is_none() {
        let message = "is not a step of the version, or the step has no such lesson".to_owned();
        wrong.push(FieldError { field: "step".into(), message });
    }
    if wrong.is_empty() { Ok(()) } else { Err(Problem::fields(wrong)) }
}

/// The words of a set as shown, each with every reading to accept: computing, to be done outside a transaction.
pub fn of_the_set(words: &SchoolEngine, letters: &[String]) -> Result<Vec<OfferedPseudoWord>, Problem> {
    let judge = |word: &String| {
        let judged = words.engine.offered_pseudo_word(word, words.policy.accent);
        judged.map_err(|unfit| refused(format!("{unfit}: approve another set")))
    };
    letters.iter().map(judge).collect()
}

/// Builds a recipe's forms: computing, as above.
pub fn built(
    words: &SchoolEngine,
    content: &Content,
    set: &[OfferedPseudoWord],
    rules: Rules,
    recipe: &Recipe,
) -> Built {
    let Rules { rule, sections } = rules;
    let ground = Ground { engine: &words.engine, policy: words.policy, content, pseudo: set, rule, sections };
    build(&ground, recipe)
}

/// Items as sent, judged.
pub fn given(
    words: &SchoolEngine,
    kind: CheckKind,
    items: &[NewCheckItem],
    set: Option<&[OfferedPseudoWord]>,
    sections: &[PracticeSection],
) -> Result<Vec<Prepared>, Problem> {
    if !(1..=100).contains(&items.len()) {
        return Err(Problem::field("items", "give 1 to 100 items"));
    }
    let practice = kind == CheckKind::PracticeCheck;
    let one = |(n, item): (usize, &NewCheckItem)| {
        let at = |field: &str| format!("items[{n}].{field}");
        let gpc = match &item.gpc {
            Some(gpc) if kind == CheckKind::GpcRecognition => Some(pair(words, n, gpc)?),
            None if kind == CheckKind::GpcRecognition => {
                return Err(Problem::field(at("gpc"), "is required for GPC recognition"));
            }
            Some(_) => return Err(Problem::field(at("gpc"), "is not for reading words")),
            None => None,
        };
        match item.section {
            None if practice => return Err(Problem::field(at("section"), "is required in a practice check")),
            Some(_) if !practice => return Err(Problem::field(at("section"), "is for practice checks only")),
            Some(number) if !sections.iter().any(|section| section.number == number) => {
                return Err(Problem::field(at("section"), "is not a section of the statutory check's shape"));
            }
            _ => {}
        }
        if item.pseudo && !practice {
            return Err(Problem::field(at("pseudo"), "is for practice checks only"));
        }
        let (gpc_id, asked) = match gpc {
            Some((id, asked)) => (Some(id), asked),
            None if kind.is_made_up(item.pseudo) => (None, pseudo(words, n, item, set)?),
            None => (None, real(words, kind, n, item)?),
        };
        let (prompt, section, pseudo) = (item.prompt.clone(), item.section, item.pseudo);
        Ok(Prepared { prompt, gpc_id, asked, section, pseudo })
    };
    items.iter().enumerate().map(one).collect()
}

/// A made-up word: one of the approved set.
fn pseudo(
    words: &SchoolEngine,
    n: usize,
    item: &NewCheckItem,
    set: Option<&[OfferedPseudoWord]>,
) -> Result<Asked, Problem> {
    let set = set.ok_or_else(|| refused("is required for made-up words"))?;
    let found = set.iter().find(|word| word.word == item.prompt.as_str());
    let found = found
        .ok_or_else(|| Problem::field(format!("items[{n}].prompt"), "is not a word of the approved set"))?;
    let accent = words.policy.accent;
    Ok(Asked::of_pseudo(&words.engine, accent, &found.reading.units, found.accept.clone()))
}

/// Real words. What is only to be read may hold something else, such as a number; then nothing is known of it.
fn real(words: &SchoolEngine, kind: CheckKind, n: usize, item: &NewCheckItem) -> Result<Asked, Problem> {
    match Asked::of(&words.engine, words.policy.accent, kind, item.prompt.as_str()) {
        Some(asked) => Ok(asked),
        None if kind == CheckKind::WordReading => Ok(Asked::default()),
        None => Err(Problem::field(format!("items[{n}].prompt"), "must be made of words in letters a to z")),
    }
}

/// The id of a pair that English has, in its one spelling, and what is known of it.
fn pair(words: &SchoolEngine, n: usize, gpc: &Gpc) -> Result<(ItemId, Asked), Problem> {
    let (gpc, faults) = gpc.settled();
    if faults.is_empty() {
        let found = find(&words.engine, &gpc);
        let found = found.map_err(|error| Problem::field(format!("items[{n}].gpc"), error))?;
        return Ok((gpc.id(), Asked::of_gpc(&words.engine, words.policy.accent, found)));
    }
    let at = |(field, message): (&str, &str)| FieldError {
        field: format!("items[{n}].gpc.{field}"),
        message: message.to_owned(),
    };
    Err(Problem::fields(faults.into_iter().map(at)))
}

/// That a check has fewer items than its recipe asks for, because no more could be built of what is taught by then.
pub fn too_few(built: &Built, recipe: &Recipe, items: usize) -> Option<CheckWarning> {
    let missing: usize = built.short.iter().map(|one| one.missing).sum();
    let form = built.forms.get(usize::from(recipe.form) - 1).map_or(0, Vec::len);
    (missing > 0 && items <= form).then(|| CheckWarning {
        field: "recipe".into(),
        message: format!("is short: {missing} of {} items could not be built", form + missing),
    })
}

/// What is odd about items as sent, by the place of each.
pub fn odd(words: &SchoolEngine, kind: CheckKind, items: &[NewCheckItem]) -> Vec<CheckWarning> {
    let mut met = BTreeMap::new();
    let of_one = |(n, item): (usize, &NewCheckItem)| {
        let prompt = item.prompt.as_str();
        let mut odd: Vec<Odd> = match &item.gpc {
            Some(gpc) => odd_grapheme(prompt, &gpc.grapheme).into_iter().collect(),
            None if kind.is_made_up(item.pseudo) => Vec::new(),
            None => odd_words(&words.engine, kind, prompt),
        };
        if item.gpc.is_none() {
            odd.extend(struck_words(&words.engine, prompt));
        }
        // One grapheme may be asked for twice, for a phoneme each.
        let phoneme = item.gpc.as_ref().map(|gpc| gpc.settled().0.phoneme);
        let first = *met.entry((prompt.to_lowercase(), phoneme)).or_insert(n);
        odd.extend((first < n).then_some(Odd::Twice(first)));
        let warning =
            move |odd: Odd| CheckWarning { field: format!("items[{n}].prompt"), message: odd.to_string() };
        odd.into_iter().map(warning)
    };
    items.iter().enumerate().flat_map(of_one).collect()
}
