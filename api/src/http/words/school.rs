//! The engine as a school has it: its own words, its strikes, what it counts as taught.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use plumbline_core::{
    access::{act::Read, resource::SchoolWords},
    id::SchoolId,
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

/// School engines kept at most; beyond it the next request makes its own anew.
const KEPT: usize = 32;

/// The engines made so far, each with the version of the school's words it was made of.
#[derive(Default)]
pub struct SchoolEngines {
    kept: Mutex<HashMap<SchoolId, (SchoolEngine, i64)>>,
    making: Mutex<HashMap<SchoolId, Arc<tokio::sync::Mutex<()>>>>,
}

impl SchoolEngines {
    /// The engine of a school made of a version of its words or a later one, and of which.
    pub fn since(&self, school: SchoolId, version: i64) -> Option<(SchoolEngine, i64)> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.get(&school).filter(|(_, v)| *v >= version).cloned()
    }

    /// What is held by whoever makes a school's engine, so that nobody else makes it too.
    pub fn making(&self, school: SchoolId) -> Arc<tokio::sync::Mutex<()>> {
        let mut making = self.making.lock().unwrap_or_else(PoisonError::into_inner);
        making.retain(|_, lock| Arc::strong_count(lock) > 1);
        making.entry(school).or_default().clone()
    }

    /// Keeps an engine, unless a later one is kept already.
    pub fn keep(&self, school: SchoolId, version: i64, made: &SchoolEngine) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.get(&school).is_some_and(|(_, v)| *v > version) {
            return;
        }
        if kept.len() >= KEPT && !kept.contains_key(&school) {
            kept.clear();
        }
        kept.insert(school, (made.clone(), version));
    }
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
