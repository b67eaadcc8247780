//! POST /school-words

use actix_web::post;
use plumbline_core::access::{act::Manage, resource::SchoolWords};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{MOST, Reading, SchoolWordBody, at, body, checked, texts};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::Error,
};

/// A word to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"word": "Farholt", "readings": [{"gpcs": ["f:f", "ar:ɑː", "h:h", "o:əʊ", "l:l", "t:t"]}]}))]
pub struct NewSchoolWord {
    /// The word as children should see it, capitals included. It belongs to no pupil: a first
    /// name is a word like another.
    pub word: String,
    /// One to four readings, best first: correspondences, or a sound in IPA.
    pub readings: Vec<Reading>,
}

/// Add a word of the school's own
///
/// A place, a book's character, a word of a topic; or another reading of a word the lexicon
/// has. Banks, lessons and texts of this school use it from the next request on.
#[utoipa::path(
    tag = "words", operation_id = "add_school_word", request_body = NewSchoolWord,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added", body = SchoolWordBody), CreateProblems)
)]
#[post("/school-words")]
pub async fn add_school_word(caller: Caller, new: Body<NewSchoolWord>) -> Result<Reply, Problem> {
    let engine = caller.engine().await?;
    caller
        .create("school_word.add", new.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let readings = texts(&new.value.readings)?;
            let word = checked(&engine, &new.value.word, &readings)?;
            if tx.count_school_words(&permit)? >= MOST {
                return Err(Problem::field(
                    "word",
                    format!("the school has {MOST} words of its own already"),
                ));
            }
            let accent = tx.phonics_policy(&permit)?.0.accent;
            let row = tx.add_school_word(&permit, (word.shown(), word.key()), readings.clone()).map_err(
                |error| match error {
                    Error::Conflict => Problem::field("word", "is one of the school's words already")
                        .with_code(Code::Conflict),
                    other => other.into(),
                },
            )?;
            Ok(Reply::created(at(row.id), &body(&engine, accent, row.clone()))?.version(row.v))
        })
        .await
}
