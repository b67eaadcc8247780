//! GET /books/{id}/match

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Book},
    id::{BookId, GroupId, SequenceId, VersionId},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::{Caller, blocking},
    problem::Problem,
    problems::ReadProblems,
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

/// A book matched with a sequence.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "book_id": "0199f2c4-0000-7000-8000-000000000011", "version_id": "0199f2c4-0000-7000-8000-00000000000d",
    "last_step": 88, "at_step": 3, "readable_percent": 100,
    "match": {"step": 4, "step_title": "Step 4", "running": 3, "percent": 66.6, "readable": false}, "guessed": 0,
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
    /// The words that cannot be read now, in order of first occurrence.
    pub in_the_way: Vec<WordInTheWay>,
}

impl BookMatch {
    fn of(id: BookId, measure: &Measure, book: &Matched) -> Self {
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
            book_id: id,
            version_id: measure.version,
            last_step: measure.last_step(),
            at_step: measure.at,
            readable_percent: measure.percent,
            r#match: measure.line(book),
            guessed: book.now.guessed(),
            in_the_way,
        }
    }
}

/// Match a reading book with a group or a sequence
///
/// From which step it can be read, how much of it can be read now, and what each other word lacks.
#[utoipa::path(
    tag = "books", operation_id = "match_book", params(("id" = BookId, Path, description = "The book"), MatchQuery),
    responses((status = 200, description = "The match", body = BookMatch), ReadProblems)
)]
#[get("/books/{id}/match")]
pub async fn match_book(
    caller: Caller,
    id: web::Path<BookId>,
    query: web::Query<MatchQuery>,
) -> Result<Reply, Problem> {
    let MatchQuery { group_id, sequence_id, sequence_version_id, step } = query.into_inner();
    let asked = Asked { group: group_id, sequence: sequence_id, version: sequence_version_id, step };
    let SchoolEngine { engine, policy } = caller.words().await?;
    let reading = engine.clone();
    let (row, measure) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Book(*id))?;
            Ok((tx.book(&permit)?, asked.measure(tx, &reading)?))
        })
        .await?;
    blocking(move || {
        let read = measure.read(&engine, policy, &[&row.words]);
        match read.first() {
            Some(book) => Reply::ok(&BookMatch::of(row.id, &measure, book)),
            None => Err(Problem::new(crate::http::problem::Code::Internal)),
        }
    })
    .await
}
