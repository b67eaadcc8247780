//! POST /pseudo-words

use actix_web::post;
use plumbline_core::{
    id::{GroupId, VersionId},
    phonics::{
        accent::Accent,
        bank::Plan,
        policy::Policy,
        pseudo::{PseudoRequest, Shape},
    },
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Reader, VariantBody};
use crate::http::{
    body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply,
    words::school::SchoolEngine,
};

/// Consonant (c) and vowel (v) units in order.
#[derive(Clone, Copy, Debug, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ShapeBody {
    /// Vowel, consonant.
    Vc,
    /// Consonant, vowel, consonant.
    Cvc,
    /// Two consonants first.
    Ccvc,
    /// Two consonants last.
    Cvcc,
    /// Two first and two last.
    Ccvcc,
    /// Three consonants first.
    Cccvc,
    /// Two syllables.
    TwoSyllables,
}

impl From<ShapeBody> for Shape {
    fn from(shape: ShapeBody) -> Self {
        match shape {
            ShapeBody::Vc => Self::Vc,
            ShapeBody::Cvc => Self::Cvc,
            ShapeBody::Ccvc => Self::Ccvc,
            ShapeBody::Cvcc => Self::Cvcc,
            ShapeBody::Ccvcc => Self::Ccvcc,
            ShapeBody::Cccvc => Self::Cccvc,
            ShapeBody::TwoSyllables => Self::TwoSyllables,
        }
    }
}

impl From<Shape> for ShapeBody {
    fn from(shape: Shape) -> Self {
        match shape {
            Shape::Vc => Self::Vc,
            Shape::Cvc => Self::Cvc,
            Shape::Ccvc => Self::Ccvc,
            Shape::Cvcc => Self::Cvcc,
            Shape::Ccvcc => Self::Ccvcc,
            Shape::Cccvc => Self::Cccvc,
            Shape::TwoSyllables => Self::TwoSyllables,
        }
    }
}

/// Pseudo-words to make, and for whom.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"group_id": "0199f2c4-0000-7000-8000-000000000008", "count": 10, "shape": "cvc", "seed": 7}))]
pub struct PseudoBody {
    /// For whom: a group, with what was taught to it so far;
    #[serde(default)]
    pub group_id: Option<GroupId>,
    /// or a published version,
    #[serde(default)]
    pub sequence_version_id: Option<VersionId>,
    /// with a step of it, counted from 1; 0 is before the first.
    #[serde(default)]
    pub step: Option<u16>,
    /// 1 to 1000.
    pub count: usize,
    /// A shape; unless told CVC, CCVC and CVCC, and VC and CCVCC where those run out.
    #[serde(default)]
    pub shape: Option<ShapeBody>,
    /// The same request with the same seed makes the same words.
    #[serde(default)]
    pub seed: u64,
    /// The accent of the class; the school's unless told.
    #[serde(default)]
    pub accent: Option<Accent>,
}

/// A made-up word.
#[derive(Serialize, ToSchema)]
pub struct PseudoWordBody {
    /// Its letters.
    pub word: String,
    /// Its shape.
    pub shape: ShapeBody,
    /// The intended reading.
    pub reading: VariantBody,
    /// Other sounds to accept as right.
    pub also_accept: Vec<String>,
}

/// Made-up words.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"short": false, "words": [{"word": "bamp", "shape": "cvcc", "also_accept": [],
    "reading": {"graphemes": ["b", "a", "m", "p"], "phonemes": ["b", "æ", "m", "p"], "gpcs": ["b:b", "a:æ", "m:m", "p:p"]}}]}))]
pub struct PseudoWordsBody {
    /// The words. Look them over before children see them.
    pub words: Vec<PseudoWordBody>,
    /// Whether fewer than asked for could be made; of words of one syllable there are then no more.
    pub short: bool,
}

/// Make pseudo-words of what was taught
///
/// No real words or names, none that sounds like one in a supported accent or under another
/// reading, none blocked: each passes what a set of pseudo-words asks of its words. Accept every
/// plausible reading.
#[utoipa::path(
    tag = "words", operation_id = "make_pseudo_words", request_body = PseudoBody,
    responses((status = 200, description = "The words", body = PseudoWordsBody), CreateProblems)
)]
#[post("/pseudo-words")]
pub async fn make_pseudo_words(caller: Caller, body: Body<PseudoBody>) -> Result<Reply, Problem> {
    let SchoolEngine { engine, policy } = caller.words().await?;
    let PseudoBody { group_id: group, sequence_version_id: version, step, count, shape, seed, accent } =
        body.value;
    let reader = Reader { group, version, step };
    if !(1..=1000).contains(&count) {
        return Err(Problem::field("count", "must be 1 to 1000"));
    }
    let reading = engine.clone();
    let (steps, step) = caller.read(move |tx| reader.steps(tx, &reading)).await?;
    caller
        .compute(move || {
            let plan =
                Plan::new(&engine, steps, Policy { accent: accent.unwrap_or(policy.accent), ..policy });
            let shapes = shape.map(Shape::from).into_iter().collect();
            let request = PseudoRequest { count, shapes, seed, ..PseudoRequest::default() };
            let made = plan.pseudo_words(&engine, step, &request);
            let words = made
                .words
                .into_iter()
                .map(|word| PseudoWordBody {
                    word: word.word,
                    shape: word.shape.into(),
                    reading: word.reading.into(),
                    also_accept: word.also_accept,
                })
                .collect();
            Reply::ok(&PseudoWordsBody { words, short: made.short })
        })
        .await
}
