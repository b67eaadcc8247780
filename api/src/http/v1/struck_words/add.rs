//! POST /struck-words

use actix_web::post;
use plumbline_core::{
    access::{act::Record, resource::SchoolWords},
    phonics::word::Word,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::StruckWordBody;
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

/// The most words a school strikes off.
const MOST: i64 = 2_000;

/// A word to strike off.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"word": "bamp"}))]
pub struct NewStruckWord {
    /// A real word or a made-up one; capitals do not matter.
    pub word: String,
}

/// Strike a word off
///
/// No bank, lesson, sentence or pseudo-word list of this school shows it again, until the lead
/// takes the strike back.
#[utoipa::path(
    tag = "words", operation_id = "strike_word", request_body = NewStruckWord,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Struck off", body = StruckWordBody), CreateProblems)
)]
#[post("/struck-words")]
pub async fn strike_word(caller: Caller, new: Body<NewStruckWord>) -> Result<Reply, Problem> {
    caller
        .create("struck_word.add", new.hash, move |tx| {
            let permit = tx.permit::<Record, _>(SchoolWords)?;
            let word = Word::parse(&new.value.word).map_err(|error| Problem::field("word", error))?;
            if tx.count_struck_words(&permit)? >= MOST {
                return Err(Problem::field("word", format!("{MOST} words are struck off already")));
            }
            let row = tx.strike_word(&permit, &word).map_err(|error| match error {
                Error::Conflict => Problem::field("word", "is struck off already").with_code(Code::Conflict),
                other => other.into(),
            })?;
            Reply::created(format!("/api/v1/struck-words/{}", row.id), &StruckWordBody::from(row))
        })
        .await
}
