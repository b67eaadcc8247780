//! The engine as a school has it: its own words, its strikes, what it counts as taught.

use std::sync::Arc;

use plumbline_core::{
    access::{act::Read, resource::SchoolWords},
    phonics::{Engine, policy::Policy},
};

use crate::{
    http::problem::{Code, Problem},
    store::{Tx, Vocabulary},
};

/// What a school's words are worked out with.
#[derive(Clone, Debug)]
pub struct SchoolEngine {
    /// The engine with the school's words and without what it struck.
    pub engine: Arc<Engine>,
    /// What the school counts as taught, in its accent.
    pub policy: Policy,
}

/// Refuses to write down what was judged with an engine that the school's words, at `version` then,
/// have left behind meanwhile.
///
/// # Errors
/// `conflict`: the same request is judged anew.
pub fn words_still_at(tx: &mut Tx<'_>, version: i64) -> Result<(), Problem> {
    let permit = tx.permit::<Read, _>(SchoolWords)?;
    if tx.words_version(&permit)? == version {
        return Ok(());
    }
    let said = "the school's words changed while yours were judged: send the request again";
    Err(Problem::saying(Code::Conflict, said))
}

/// Makes a school's engine. A word that a later engine no longer takes is left out and logged;
/// the list of the school's words says so beside it.
pub fn make(engine: &Arc<Engine>, vocabulary: Vocabulary) -> SchoolEngine {
    let Vocabulary { policy, words, struck, .. } = vocabulary;
    let mut own = Vec::new();
    for row in words {
        match engine.school_word(&row.word, &row.readings) {
            Ok(word) => own.push(word),
            // The error says the word, which may be a name.
            Err(_) => tracing::warn!(word = %row.id, "a school's word is left out"),
        }
    }
    let with_words = match own.is_empty() {
        true => Ok(None),
        false => engine.with_school_words(&own).map(Some),
    };
    let made = with_words.unwrap_or_else(|_| {
        tracing::error!("a school's words are left out");
        None
    });
    let made = made.map_or_else(|| engine.clone(), Arc::new);
    let made = if struck.is_empty() { made } else { Arc::new(made.with_strikes(struck)) };
    SchoolEngine { engine: made, policy }
}
