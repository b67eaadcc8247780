//! POST /pseudo-word-sets

use actix_web::post;
use plumbline_core::{
    access::{act::Record, resource::SchoolWords},
    phonics::pseudo::OfferedPseudoWord,
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SetBody, body};
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{FieldError, Problem},
    problems::CreateProblems,
    reply::Reply,
    words::school::{SchoolEngine, words_still_at},
};

/// The most sets a school keeps: one a week for years.
const MOST: i64 = 200;

/// A set to put together.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Spring 1", "words": ["bamp", "frowl"]}))]
pub struct NewPseudoWordSet {
    /// Its name.
    pub name: Name,
    /// 1 to 100 made-up words, of those the server made or of one's own, of at most 12 letters each.
    pub words: Vec<String>,
}

/// Put pseudo-words together for a check
///
/// Each word passes every screen again: no real word or name, none that sounds like one in a
/// supported accent, none blocked. The lead approves a set before a check can be made of it.
#[utoipa::path(
    tag = "words", operation_id = "add_pseudo_word_set", request_body = NewPseudoWordSet,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Kept, and not approved yet", body = SetBody), CreateProblems)
)]
#[post("/pseudo-word-sets")]
pub async fn add_pseudo_word_set(caller: Caller, new: Body<NewPseudoWordSet>) -> Result<Reply, Problem> {
    caller.may::<Record, _>(SchoolWords).await?;
    let (words, version) = caller.words_to_judge().await?;
    let NewPseudoWordSet { name, words: given } = new.value;
    let offered = caller.compute(move || screened(&words, &given)).await?;
    let letters: Vec<String> = offered.iter().map(|offered| offered.word.clone()).collect();
    caller
        .create("pseudo_word_set.add", new.hash, move |tx| {
            let permit = tx.permit::<Record, _>(SchoolWords)?;
            words_still_at(tx, version)?;
            if tx.count_pseudo_word_sets(&permit)? >= MOST {
                return Err(Problem::field(
                    "name",
                    format!("the school has {MOST} sets already: take one away"),
                ));
            }
            let row = tx.add_pseudo_word_set(&permit, name.as_str(), &letters)?;
            let at = format!("/api/v1/pseudo-word-sets/{}", row.id);
            Ok(Reply::created(at, &body(&row, offered.iter().cloned().map(Into::into).collect()))?
                .version(row.v))
        })
        .await
}

/// The words with their readings, or everything that is wrong with any of them.
fn screened(words: &SchoolEngine, given: &[String]) -> Result<Vec<OfferedPseudoWord>, Problem> {
    if !(1..=100).contains(&given.len()) {
        return Err(Problem::field("words", "give 1 to 100 words"));
    }
    let (mut fit, mut wrong): (Vec<OfferedPseudoWord>, Vec<FieldError>) = (Vec::new(), Vec::new());
    for (n, word) in given.iter().enumerate() {
        let message = match words.engine.offered_pseudo_word(word, words.policy.accent) {
            Ok(offered) if fit.iter().any(|other| other.word == offered.word) => "stands twice".to_owned(),
            Ok(offered) => {
                fit.push(offered);
                continue;
            }
            Err(unfit) => unfit.to_string(),
        };
        wrong.push(FieldError { field: format!("words[{n}]"), message });
    }
    if wrong.is_empty() { Ok(fit) } else { Err(Problem::fields(wrong)) }
}
