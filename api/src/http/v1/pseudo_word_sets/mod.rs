//! Pseudo-words put together for a check, and their approval.

pub mod add;
pub mod approve;
pub mod get;
pub mod list;
pub mod remove;

use plumbline_core::{
    id::{PseudoWordSetId, StaffId},
    phonics::pseudo::OfferedPseudoWord,
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::words::VariantBody;
use crate::{
    http::{reply::etag, words::school::SchoolEngine},
    store::PseudoWordSetRow,
};

/// A pseudo-word of a set.
#[derive(Clone, Serialize, ToSchema)]
pub struct SetWordBody {
    /// Its letters.
    pub word: String,
    /// The likeliest reading.
    pub reading: Option<VariantBody>,
    /// Every plausible reading in the school's accent, in IPA: all of them are right.
    pub accept: Vec<String>,
    /// Why it can no longer be used: a screen refuses it by now, or it was struck off.
    pub problem: Option<String>,
}

/// A set of pseudo-words.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000017", "name": "Spring 1", "made_by": "0199f2c4-0000-7000-8000-000000000002",
    "made_at": "2026-11-25T10:00:00.000000Z", "approved_by": null, "approved_at": null, "etag": "\"v32\"",
    "words": [{"word": "bamp", "accept": ["bæmp"], "problem": null, "reading":
        {"graphemes": ["b", "a", "m", "p"], "phonemes": ["b", "æ", "m", "p"], "gpcs": ["b:b", "a:æ", "m:m", "p:p"]}}]
}))]
pub struct SetBody {
    /// Its id.
    pub id: PseudoWordSetId,
    /// Its name.
    pub name: String,
    /// Its words, in order.
    pub words: Vec<SetWordBody>,
    /// Who put it together.
    pub made_by: StaffId,
    /// When.
    pub made_at: Instant,
    /// Who approved it; nobody yet where null.
    pub approved_by: Option<StaffId>,
    /// When.
    pub approved_at: Option<Instant>,
    /// To send as If-Match.
    pub etag: String,
}

impl From<OfferedPseudoWord> for SetWordBody {
    fn from(OfferedPseudoWord { word, reading, accept }: OfferedPseudoWord) -> Self {
        Self { word, reading: Some(reading.into()), accept, problem: None }
    }
}

/// Words as the engine has them now: computing, to be done outside a transaction.
fn judged(words: &SchoolEngine, letters: Vec<String>) -> Vec<SetWordBody> {
    let word = |letters: String| match words.engine.offered_pseudo_word(&letters, words.policy.accent) {
        Ok(offered) => offered.into(),
        Err(unfit) => {
            SetWordBody { word: letters, reading: None, accept: Vec::new(), problem: Some(unfit.to_string()) }
        }
    };
    letters.into_iter().map(word).collect()
}

/// A set as answered.
fn body(row: &PseudoWordSetRow, words: Vec<SetWordBody>) -> SetBody {
    SetBody {
        id: row.id,
        name: row.name.clone(),
        words,
        made_by: row.made_by,
        made_at: row.made_at,
        approved_by: row.approved_by,
        approved_at: row.approved_at,
        etag: etag(row.v),
    }
}
