//! Books matched with what a group was taught, or with a published version of a sequence.

use std::sync::Arc;

use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, Sequence},
    },
    book::{BookReader, Counted, Reading},
    id::{GroupId, SequenceId, VersionId},
    phonics::{Engine, bank::Plan, policy::Policy, sequence::Sequence as Steps, version::by_step},
    sequence::Content,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        problem::{Code, Problem},
        v1::words::group_steps,
    },
    store::Tx,
};

/// With what books are matched, as asked.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// A group: its sequence's version in force today, and what it was taught so far.
    pub group: Option<GroupId>,
    /// A sequence.
    pub sequence: Option<SequenceId>,
    /// One of its versions; the one in force today unless told.
    pub version: Option<VersionId>,
    /// A step of the version; the last unless told.
    pub step: Option<u16>,
}

/// With what books are matched.
pub struct Measure {
    /// The version.
    pub version: VersionId,
    /// The step asked about; none for a group.
    pub at: Option<u16>,
    /// The part of the running words, in per cent, with which a book counts as readable.
    pub percent: u8,
    content: Arc<Content>,
    steps: Steps,
    /// What the group was taught, as one step.
    taught: Option<Steps>,
}

/// A book read in two ways.
pub struct Matched {
    /// Along the steps of the version.
    pub steps: Reading,
    /// At the step asked about, or with what the group was taught. The same words in the same order.
    pub now: Reading,
}

/// How a book stands against a sequence.
#[derive(Clone, Serialize, ToSchema)]
pub struct MatchLine {
    /// The first step of the version from which the book can be read; none if never.
    pub step: Option<u16>,
    /// That step, as shown.
    pub step_title: Option<String>,
    /// Running words of the book; numbers and the like left out.
    pub running: usize,
    /// Of them readable now, that is at the step asked about or by the group, in per cent, rounded down.
    pub percent: Option<f64>,
    /// Whether that is enough to read the book.
    pub readable: bool,
}

impl Asked {
    /// Whether anything was asked.
    pub const fn is_something(self) -> bool {
        self.group.is_some() || self.sequence.is_some() || self.version.is_some() || self.step.is_some()
    }

    /// Finds what was asked for.
    ///
    /// # Errors
    /// `not_found` for what the caller may not see and where no version is published, `invalid` for
    /// a step the version does not have and for what does not fit together.
    pub fn measure(self, tx: &mut Tx<'_>, engine: &Engine) -> Result<Measure, Problem> {
        let missing = |whose| {
            Problem::saying(
                Code::NotFound,
                format!("{whose} sequence has no published version in force today"),
            )
        };
        let (version, taught) = match self {
            Self { group: Some(group), sequence: None, version: None, step: None } => {
                let permit = tx.permit::<Read, _>(Group(group))?;
                let today = tx.today();
                let version = tx.group_lessons_read(&permit, today)?.version;
                (version.ok_or_else(|| missing("the group's"))?, Some(group_steps(tx, engine, group)?))
            }
            Self { group: None, sequence: Some(sequence), version, .. } => {
                let permit = tx.permit::<Read, _>(Sequence(sequence))?;
                let today = tx.today();
                let found = match version {
                    Some(version) => tx.version_of(&permit, version)?,
                    None => tx.version_on(&permit, today)?.ok_or_else(|| missing("the"))?,
                };
                (found, None)
            }
            _ => {
                let message =
                    "give a group_id, or a sequence_id, which may go with sequence_version_id and step";
                return Err(Problem::field("query", message));
            }
        };
        let (steps, _) = by_step(engine, &version.content).map_err(|error| {
            Problem::saying(Code::NotFound, format!("the engine cannot read this version: {error}"))
        })?;
        if self.step.is_some_and(|step| usize::from(step) > steps.len()) {
            return Err(Problem::field("step", format!("the version's last step is {}", steps.len())));
        }
        let last = u16::try_from(steps.len()).unwrap_or(u16::MAX);
        let at = if taught.is_some() { None } else { Some(self.step.unwrap_or(last)) };
        let percent = tx.rules()?.books.readable_percent;
        Ok(Measure { version: version.head.id, at, percent, content: version.content, steps, taught })
    }
}

impl Measure {
    /// The version's last step.
    pub fn last_step(&self) -> usize {
        self.steps.len()
    }

    /// Reads books: computing, to be done outside a transaction.
    pub fn read(&self, engine: &Engine, policy: Policy, books: &[&Counted]) -> Vec<Matched> {
        let plan = Plan::new(engine, self.steps.clone(), policy);
        let mut reader = BookReader::new(engine, &plan, self.at.unwrap_or(u16::MAX));
        let along: Vec<Reading> = books.iter().map(|book| reader.read(book)).collect();
        let now: Vec<Reading> = match &self.taught {
            None => along.clone(),
            Some(taught) => {
                let plan = Plan::new(engine, taught.clone(), policy);
                // All that was taught is step 1.
                let mut reader = BookReader::new(engine, &plan, 1);
                books.iter().map(|book| reader.read(book)).collect()
            }
        };
        along.into_iter().zip(now).map(|(steps, now)| Matched { steps, now }).collect()
    }

    /// What a list says of a book.
    pub fn line(&self, book: &Matched) -> MatchLine {
        let step = book.steps.step(self.percent);
        let found = step.and_then(|step| self.content.steps.get(usize::from(step).checked_sub(1)?));
        MatchLine {
            step,
            step_title: found.map(|step| step.title.to_string()),
            running: book.now.running,
            percent: book.now.percent(),
            readable: book.now.is_readable(self.percent),
        }
    }
}
