//! POST /texts/analysis

use actix_web::post;
use plumbline_core::{
    id::{GroupId, VersionId},
    phonics::{
        accent::Accent,
        bank::Plan,
        policy::Policy,
        text::{Standing, TextAnalysis},
    },
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Reader;
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{Code, Problem},
    problems::CreateProblems,
    reply::Reply,
    words::school::SchoolEngine,
};

/// A text to analyse, and for whom.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"text": "The dog sat on the path.", "group_id": "0199f2c4-0000-7000-8000-000000000008"}))]
pub struct TextBody {
    /// A passage, or the words of a book.
    pub text: String,
    /// For whom: a group, with what was taught to it so far;
    #[serde(default)]
    pub group_id: Option<GroupId>,
    /// or a published version,
    #[serde(default)]
    pub sequence_version_id: Option<VersionId>,
    /// with a step of it, counted from 1; 0 is before the first.
    #[serde(default)]
    pub step: Option<u16>,
    /// The accent of the class; the school's unless told.
    #[serde(default)]
    pub accent: Option<Accent>,
}

/// How a word stands for the reader.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WordStanding {
    /// Every correspondence was taught.
    Decodable,
    /// Not decodable, but taught as an exception word.
    TaughtException,
    /// Not decodable, and on the statutory list, and not taught yet.
    UntaughtException,
    /// Not decodable.
    NotDecodable,
}

/// A distinct word of a text.
#[derive(Serialize, ToSchema)]
pub struct TextWordBody {
    /// The word.
    pub word: String,
    /// How often it stands in the text.
    pub count: usize,
    /// How it stands for the reader.
    pub standing: WordStanding,
    /// Correspondences it lacks.
    pub lacking: Vec<String>,
    /// Whether its segmentation is a guess.
    pub guess: bool,
}

/// What a reader can do with a text.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "running": 6, "skipped": 0, "decodable": 4, "taught_exceptions": 2, "guessed": 0, "percent_decodable": 66.7,
    "percent_readable": 100.0, "words": [{"word": "dog", "count": 1, "standing": "decodable", "lacking": [], "guess": false}]
}))]
pub struct TextAnalysisBody {
    /// Running words.
    pub running: usize,
    /// Numbers and tokens that are no words.
    pub skipped: usize,
    /// Running words that are decodable.
    pub decodable: usize,
    /// Running words that are not, but were taught as exception words.
    pub taught_exceptions: usize,
    /// Running words whose segmentation is a guess.
    pub guessed: usize,
    /// Decodable, in per cent; none for a text without words.
    pub percent_decodable: Option<f64>,
    /// Decodable or taught, in per cent.
    pub percent_readable: Option<f64>,
    /// Distinct words in order of first occurrence.
    pub words: Vec<TextWordBody>,
}

impl From<TextAnalysis> for TextAnalysisBody {
    fn from(a: TextAnalysis) -> Self {
        Self {
            running: a.running,
            skipped: a.skipped,
            decodable: a.decodable,
            taught_exceptions: a.taught_exceptions,
            guessed: a.guessed,
            percent_decodable: a.percent_decodable,
            percent_readable: a.percent_readable,
            words: a
                .words
                .into_iter()
                .map(|word| TextWordBody {
                    word: word.word,
                    count: word.count,
                    standing: match word.standing {
                        Standing::Decodable => WordStanding::Decodable,
                        Standing::TaughtException => WordStanding::TaughtException,
                        Standing::UntaughtException => WordStanding::UntaughtException,
                        Standing::NotDecodable => WordStanding::NotDecodable,
                    },
                    lacking: word.lacking.iter().map(ToString::to_string).collect(),
                    guess: word.guess,
                })
                .collect(),
        }
    }
}

/// Analyse a text for a group or a step
///
/// How much of it can be read, which words cannot and what each lacks. The text is not kept.
#[utoipa::path(
    tag = "words", operation_id = "analyse_text", request_body = TextBody,
    responses((status = 200, description = "The analysis", body = TextAnalysisBody), CreateProblems)
)]
#[post("/texts/analysis")]
pub async fn analyse_text(caller: Caller, body: Body<TextBody>) -> Result<Reply, Problem> {
    let SchoolEngine { engine, policy } = caller.words().await?;
    let TextBody { text, group_id: group, sequence_version_id: version, step, accent } = body.value;
    let reader = Reader { group, version, step };
    let reading = engine.clone();
    let (steps, step) = caller.read(move |tx| reader.steps(tx, &reading)).await?;
    caller
        .compute(move || {
            let plan =
                Plan::new(&engine, steps, Policy { accent: accent.unwrap_or(policy.accent), ..policy });
            let analysis = plan
                .analyse(&engine, &text, step)
                .map_err(|error| Problem::saying(Code::TooLarge, error.to_string()))?;
            Reply::ok(&TextAnalysisBody::from(analysis))
        })
        .await
}
