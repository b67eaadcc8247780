//! The school's own words: added to the lexicon, or read in its own way.

pub mod add;
pub mod list;
pub mod remove;
pub mod update;

use plumbline_core::{
    id::SchoolWordId,
    phonics::{
        Engine,
        accent::Accent,
        school::{ReadingText, SchoolWord},
    },
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::words::VariantBody;
use crate::{
    http::{problem::Problem, reply::etag},
    store::SchoolWordRow,
};

/// The most words of its own a school keeps.
pub const MOST: i64 = 2_000;

/// Where one of them is.
fn at(id: SchoolWordId) -> String {
    format!("/api/v1/school-words/{id}")
}

/// How a word is read: by its correspondences, or by its sound. Give one of the two.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Correspondences in order, a split digraph at its vowel's place: `["c:k", "a_e:eɪ", "k:k"]`.
    #[serde(default)]
    pub gpcs: Option<Vec<String>>,
    /// The sound in IPA, a space between phonemes: `k eɪ k`. The engine cuts the letters.
    #[serde(default)]
    pub sound: Option<String>,
}

/// Readings as the engine takes them.
///
/// # Errors
/// The first that gives both or neither.
fn texts(readings: &[Reading]) -> Result<Vec<ReadingText>, Problem> {
    let text = |(n, reading): (usize, &Reading)| match (&reading.gpcs, &reading.sound) {
        (Some(gpcs), None) => Ok(ReadingText::Gpcs(gpcs.clone())),
        (None, Some(sound)) => Ok(ReadingText::Sound(sound.clone())),
        _ => Err(Problem::field(format!("readings[{n}]"), "give either gpcs or sound")),
    };
    readings.iter().enumerate().map(text).collect()
}

/// A word of the school's own.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000015", "word": "Farholt", "problem": null, "etag": "\"v31\"",
    "readings": [{"graphemes": ["f", "ar", "h", "o", "l", "t"], "phonemes": ["f", "ɑː", "h", "əʊ", "l", "t"],
                  "gpcs": ["f:f", "ar:ɑː", "h:h", "o:əʊ", "l:l", "t:t"]}]
}))]
pub struct SchoolWordBody {
    /// Its id.
    pub id: SchoolWordId,
    /// As shown.
    pub word: String,
    /// Its readings, best first.
    pub readings: Vec<VariantBody>,
    /// Why it is left out, should this version of the server no longer take it.
    pub problem: Option<String>,
    /// To send as If-Match.
    pub etag: String,
}

/// A word as answered, in an accent.
fn body(engine: &Engine, accent: Accent, row: SchoolWordRow) -> SchoolWordBody {
    let (readings, problem) = match engine.school_word(&row.word, &row.readings) {
        Ok(word) => {
            let variant = |units: &Vec<_>| engine.variant(units.clone(), None, accent).into();
            (word.readings().iter().map(variant).collect(), None)
        }
        Err(error) => (Vec::new(), Some(error.to_string())),
    };
    SchoolWordBody { id: row.id, word: row.word, readings, problem, etag: etag(row.v) }
}

/// The word, checked.
///
/// # Errors
/// What is wrong with it, at the field.
fn checked(engine: &Engine, word: &str, readings: &[ReadingText]) -> Result<SchoolWord, Problem> {
    use plumbline_core::phonics::school::SchoolWordError as Fault;
    engine.school_word(word, readings).map_err(|error| {
        let field = match error {
            Fault::Word(_) | Fault::Hyphen(_) => "word",
            _ => "readings",
        };
        Problem::field(field, error)
    })
}
