//! One thing a check asks.

use serde::{Deserialize, Serialize};

use super::Asked;
use crate::{
    id::{CheckItemId, ItemId},
    text::Title,
};

/// One thing to ask.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckItem {
    /// Stable within the check.
    pub id: CheckItemId,
    /// What the pupil is shown. In oral blending and spelling the word, which the pupil is not shown.
    pub prompt: Title,
    /// The GPC it asks for alone, in a check of GPC recognition. Only items that have one count for the rule of
    /// secure: a word that was read says nothing sure of any one of its GPCs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gpc_id: Option<ItemId>,
    /// The GPCs of its word or words in reading order, letters that are not sounded left out: by the engine with
    /// the school's words and accent when the check was made. Empty where the text is not made of words, and in
    /// checks made before this was kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub gpc_ids: Vec<ItemId>,
    /// Every reading to accept, in IPA without separators, the likeliest first: of a word those of its spelling in
    /// the school's accent, of a made-up word every plausible one, of a GPC by itself its sound. Of a sentence, its
    /// words apart, at most 16. The adult who listens judges any other.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accept: Vec<String>,
    /// The sounds the adult says, joined by dots, in oral blending: `m.æ.t`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sounds: Option<String>,
    /// A word the sound of a GPC is told by, for the adult alone: *th* as in one word and in another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keyword: Option<String>,
    /// Its section, counted from 1, in a practice check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<u8>,
    /// Whether it is a made-up word, in a practice check.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub pseudo: bool,
}

impl CheckItem {
    /// An item that says no more than its text.
    pub fn new(id: CheckItemId, prompt: Title) -> Self {
        let (gpc_ids, accept) = (Vec::new(), Vec::new());
        let (sounds, keyword) = (None, None);
        Self { id, prompt, gpc_id: None, gpc_ids, accept, sounds, keyword, section: None, pseudo: false }
    }

    /// The same with what the engine knows of its words.
    #[must_use]
    pub fn with(self, asked: Asked) -> Self {
        let Asked { gpc_ids, accept, sounds, keyword } = asked;
        Self { gpc_ids, accept, sounds, keyword, ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_stored_before_still_read() {
        let old = r#"{"id":"0199f2c4-0000-7000-8000-00000000000f","prompt":"igh",
                      "gpc_id":"c090554b-55fd-56e2-92da-2bfe29aa5983"}"#;
        let item: CheckItem = serde_json::from_str(old).unwrap();
        assert_eq!((item.gpc_ids.len(), item.accept.len(), item.sounds.as_deref()), (0, 0, None));
        assert_eq!((item.section, item.pseudo), (None, false));
        let word = CheckItem::new(item.id, Title::new("mop").unwrap());
        let written = serde_json::to_string(&word).unwrap();
        assert_eq!(written, r#"{"id":"0199f2c4-0000-7000-8000-00000000000f","prompt":"mop"}"#);
    }
}
