//! POST /words/segmentations

use actix_web::post;
use plumbline_core::{
    access::{act::Read, resource::Words},
    phonics::accent::Accent,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::WordBody;
use crate::http::{
    body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply,
    words::school::SchoolEngine,
};

/// Words to segment.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"words": ["cake", "night"], "accent": {"short_a_in_bath": true}}))]
pub struct SegmentBody {
    /// 1 to 500 words.
    pub words: Vec<String>,
    /// The accent of the sounds; the school's unless told.
    #[serde(default)]
    pub accent: Option<Accent>,
}

/// Segmented words.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"words": [{"word": "cake", "shown": "cake", "guess": false, "problem": null, "variants": [
    {"graphemes": ["c", "a_e", "k"], "phonemes": ["k", "eɪ", "k"], "gpcs": ["c:k", "a_e:eɪ", "k:k"]}]}]}))]
pub struct SegmentedBody {
    /// The words, in the order sent.
    pub words: Vec<WordBody>,
}

/// Segment words into graphemes and phonemes
///
/// Every reading of each word, best first. What is not a word is answered with its problem,
/// and does not stop the others.
#[utoipa::path(
    tag = "words", operation_id = "segment_words", request_body = SegmentBody,
    responses((status = 200, description = "The words", body = SegmentedBody), CreateProblems)
)]
#[post("/words/segmentations")]
pub async fn segment_words(caller: Caller, body: Body<SegmentBody>) -> Result<Reply, Problem> {
    let SchoolEngine { engine, policy } = caller.words().await?;
    let SegmentBody { words, accent } = body.value;
    if !(1..=500).contains(&words.len()) {
        return Err(Problem::field("words", "give 1 to 500 words"));
    }
    caller.may::<Read, _>(Words).await?;
    caller
        .compute(move || {
            let segmented = |word: String| match engine.segment(&word, accent.unwrap_or(policy.accent)) {
                Ok(found) => WordBody::new(word, found),
                Err(error) => WordBody::refused(word, &error),
            };
            Reply::ok(&SegmentedBody { words: words.into_iter().map(segmented).collect() })
        })
        .await
}
