//! GET /books/{id}/match

use std::{cmp::Reverse, collections::BTreeMap};

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        reaches_all,
        resource::Book,
    },
    id::{BookId, GroupId, SequenceId, VersionId},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    words::{
        book::{Asked, MatchLine, Matched, Measure},
        school::SchoolEngine,
    },
};

/// With what to match a book: a group, or a sequence.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct MatchQuery {
    /// A group: the step of its sequence, and what it can read so far.
    pub group_id: Option<GroupId>,
    /// A sequence: the version in force today unless told.
    pub sequence_id: Option<SequenceId>,
    /// A published version of that sequence.
    pub sequence_version_id: Option<VersionId>,
    /// A step of the version to ask about, from 0 for before the first; the last unless told.
    pub step: Option<u16>,
}

/// A word of a book that cannot be read yet.
#[derive(Serialize, ToSchema)]
pub struct WordInTheWay {
    /// The word.
    pub word: String,
    /// How often it stands in the book.
    pub count: usize,
    /// The step of the version from which it can be read; none if never.
    pub from_step: Option<u16>,
    /// The correspondences it lacks now.
    pub lacking: Vec<String>,
    /// Whether its segmentation is a guess, because it is in no list.
    pub guess: bool,
}

/// A correspondence that words of a book lack.
#[derive(Serialize, ToSchema)]
pub struct BookLacking {
    /// The correspondence.
    pub gpc: String,
    /// Running words that lack it.
    pub words: usize,
}

/// A book matched with a sequence.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "book_id": "0199f2c4-0000-7000-8000-000000000011", "version_id": "0199f2c4-0000-7000-8000-00000000000d",
    "last_step": 88, "at_step": 3, "readable_percent": 100,
    "match": {"step": 4, "step_title": "Step 4", "running": 3, "percent": 66.6, "readable": false}, "guessed": 0,
    "lacking": [{"gpc": "t:t", "words": 1}],
    "in_the_way": [{"word": "met", "count": 1, "from_step": 4, "lacking": ["t:t"], "guess": false}]
}))]
pub struct BookMatch {
    /// The book.
    pub book_id: BookId,
    /// The version it is matched with.
    pub version_id: VersionId,
    /// The version's last step.
    pub last_step: usize,
    /// The step that counts as now; none for a group, where what it was taught counts.
    pub at_step: Option<u16>,
    /// The part of the running words, in per cent, with which a book counts as readable.
    pub readable_percent: u8,
    /// How the book stands.
    pub r#match: MatchLine,
    /// Running words whose segmentation is a guess: look them over.
    pub guessed: usize,
    /// What the words that cannot be read now lack, what most of them lack first.
    pub lacking: Vec<BookLacking>,
    /// The words that cannot be read now, in order of first occurrence, for those who may change
    /// the book; none for others, who are shown no book's words.
    pub in_the_way: Option<Vec<WordInTheWay>>,
}

impl BookMatch {
    fn of(id: BookId, measure: &Measure, book: &Matched, with_words: bool) -> Self {
        let mut lacking: BTreeMap<String, usize> = BTreeMap::new();
        for word in book.now.in_the_way() {
            for gpc in &word.lacking {
                *lacking.entry(gpc.to_string()).or_default() += word.count;
            }
        }
        let mut lacking: Vec<BookLacking> =
            lacking.into_iter().map(|(gpc, words)| BookLacking { gpc, words }).collect();
        lacking.sort_by_key(|lacking| Reverse(lacking.words));
        let later = book.steps.words.iter().zip(&book.now.words);
        let in_the_way = later
            .filter(|(_, now)| !book.now.can_read(now))
            .map(|(along, now)| WordInTheWay {
                word: now.word.clone(),
                count: now.count,
                from_step: along.from,
                lacking: now.lacking.iter().map(ToString::to_string).collect(),
                guess: now.guess,
            })
            .collect();
        Self {
            lacking,
            book_id: id,
            version_id: measure.version,
            last_step: measure.last_step(),
            at_step: measure.at,
            readable_percent: measure.percent,
            r#match: measure.line(book),
            guessed: book.now.guessed(),
            in_the_way: with_words.then_some(in_the_way),
        }
    }
}

/// Match a reading book with a group or a sequence
///
/// From which step it can be read, how much of it can be read now, and what the rest lacks; word by
/// word for those who may change the book.
#[utoipa::path(
    tag = "books", operation_id = "match_book", params(("id" = BookId, Path, description = "The book"), MatchQuery),
    responses((status = 200, description = "The match", body = BookMatch), ReadProblems)
)]
#[get("/books/{id}/match")]
pub async fn match_book(
    caller: Caller,
    id: web::Path<BookId>,
    query: Query<MatchQuery>,
) -> Result<Reply, Problem> {
    let MatchQuery { group_id, sequence_id, sequence_version_id, step } = query.into_inner();
    let asked = Asked { group: group_id, sequence: sequence_id, version: sequence_version_id, step };
    let SchoolEngine { engine, policy } = caller.words().await?;
    let reading = engine.clone();
    let (id, counted, measure, with_words) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Book(*id))?;
            let row = tx.book(&permit)?;
            let with_words = reaches_all::<Manage, Book>(tx.actor());
            Ok((row.id, row.counted()?, asked.measure(tx, &reading)?, with_words))
        })
        .await?;
    caller
        .compute(move || {
            let read = measure.read(&engine, policy, &[&counted]);
            match read.first() {
                Some(book) => Reply::ok(&BookMatch::of(id, &measure, book, with_words)),
                None => Err(Problem::new(crate::http::problem::Code::Internal)),
            }
        })
        .await
}
