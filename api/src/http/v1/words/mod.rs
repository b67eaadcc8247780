//! Words: how they are spelled and sounded, and what a class can read.

pub mod get;
pub mod pseudo;
pub mod segment;
pub mod text;

use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, Sequence, Sequences},
    },
    id::{GroupId, VersionId},
    lesson::items_taught,
    phonics::{
        Engine,
        segment::{Segmentation, Variant},
        sequence::Sequence as Steps,
        version::{by_step, taught_and_new},
    },
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, Problem},
    store::Tx,
};

/// One reading of a word: three lists of one length, an item a unit.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(example = json!({"graphemes": ["c", "a_e", "k"], "phonemes": ["k", "eɪ", "k"], "gpcs": ["c:k", "a_e:eɪ", "k:k"]}))]
pub struct VariantBody {
    /// The spelling of each unit; a split digraph stands at its vowel's place.
    pub graphemes: Vec<String>,
    /// The sound of each unit in the accent asked for, in IPA.
    pub phonemes: Vec<String>,
    /// The correspondence of each unit, whatever the accent.
    pub gpcs: Vec<String>,
}

impl From<Variant> for VariantBody {
    fn from(variant: Variant) -> Self {
        Self {
            graphemes: variant.graphemes,
            phonemes: variant.phonemes,
            gpcs: variant.gpcs.iter().map(ToString::to_string).collect(),
        }
    }
}

/// A word with its readings, best first.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({"word": "Cake", "shown": "cake", "guess": false, "variants": [
    {"graphemes": ["c", "a_e", "k"], "phonemes": ["k", "eɪ", "k"], "gpcs": ["c:k", "a_e:eɪ", "k:k"]}], "problem": null}))]
pub struct WordBody {
    /// As sent.
    pub word: String,
    /// As shown to children: with the capitals it needs and without marks English does not write.
    /// None where there is a problem.
    pub shown: Option<String>,
    /// Whether the readings come from spelling rules because the word is in no list.
    pub guess: bool,
    /// The readings; none where there is a problem.
    pub variants: Vec<VariantBody>,
    /// Why it was not taken as a word.
    pub problem: Option<String>,
}

impl WordBody {
    /// A word as sent, with what the engine found.
    pub fn new(word: String, found: Segmentation) -> Self {
        let variants = found.variants.into_iter().map(VariantBody::from).collect();
        Self { word, shown: Some(found.word), guess: found.guess, variants, problem: None }
    }

    /// What was sent and is no word.
    pub fn refused(word: String, problem: &impl ToString) -> Self {
        Self { word, shown: None, guess: false, variants: Vec::new(), problem: Some(problem.to_string()) }
    }
}

/// Whose knowledge counts: a group today, or a step of a published version.
#[derive(Clone, Copy, Debug)]
pub struct Reader {
    /// A group: what was taught to it so far.
    pub group: Option<GroupId>,
    /// A published version,
    pub version: Option<VersionId>,
    /// with a step of it, counted from 1; 0 is before the first.
    pub step: Option<u16>,
}

impl Reader {
    /// What this reader was taught, in steps, with the step to ask about.
    fn steps(self, tx: &mut Tx<'_>, engine: &Engine) -> Result<(Steps, u16), Problem> {
        match (self.group, self.version, self.step) {
            (Some(group), None, None) => Ok((group_steps(tx, engine, group)?, 1)),
            (None, Some(version), Some(step)) => {
                let all = tx.permit::<Read, _>(Sequences)?;
                let sequence = tx.sequence_of(&all, version)?;
                let permit = tx.permit::<Read, _>(Sequence(sequence))?;
                let content = tx.version_of(&permit, version)?.content;
                let (steps, _) = by_step(engine, &content)
                    .map_err(|error| Problem::field("sequence_version_id", error))?;
                if usize::from(step) > steps.len() {
                    let message = format!("the version's last step is {}", steps.len());
                    return Err(Problem::field("step", message));
                }
                Ok((steps, step))
            }
            (Some(_), _, _) => {
                Err(Problem::field("group_id", "give either a group_id, or sequence_version_id and step"))
            }
            (None, Some(_), None) => Err(Problem::field("step", "is required with sequence_version_id")),
            (None, None, _) => {
                Err(Problem::field("group_id", "give a group_id, or sequence_version_id and step"))
            }
        }
    }
}

/// What a group was taught so far: all of it is step 1.
pub fn group_steps(tx: &mut Tx<'_>, engine: &Engine, group: GroupId) -> Result<Steps, Problem> {
    let permit = tx.permit::<Read, _>(Group(group))?;
    let lessons = tx.group_lessons_read(&permit, tx.today())?;
    let version = lessons.version.ok_or_else(|| {
        Problem::saying(Code::NotFound, "the group's sequence has no published version in force today")
    })?;
    let records: Vec<_> = lessons.records.into_iter().map(|saved| saved.record).collect();
    let taught = items_taught(lessons.past.as_ref().map(|past| &past.carried), &records);
    taught_and_new(engine, &version.content, &taught, &[]).map_err(|error| {
        tracing::warn!(%error, "no words for a group");
        Problem::saying(Code::NotFound, "the engine can make no words of what this group was taught")
    })
}
