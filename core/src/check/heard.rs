//! What a pupil was heard to say, as sounds: never free text, so that nothing else can be written there.

use serde::{Deserialize, Serialize};

use crate::phonics::phoneme::Phoneme;

/// Sounds in one word at most; the longest word of the lexicon has fewer.
const MOST: usize = 24;

/// Sounds that were heard, in IPA, joined by dots: `b.ɪ.n`. At least one, at most 24.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Heard(Vec<Phoneme>);

impl Heard {
    /// Reads sounds as people type them: joined by dots or spaces, or run together.
    ///
    /// # Errors
    /// A message for the field, where a part is no sound of English or there are none or too many.
    pub fn new(text: &str) -> Result<Self, String> {
        let sounds = Phoneme::parse_sequence(text).map_err(|error| error.to_string())?;
        match sounds.len() {
            0 => {
                Err("give the sounds that were heard; where nothing was said, the outcome is no_response"
                    .into())
            }
            1..=MOST => Ok(Self(sounds)),
            _ => Err(format!("must be at most {MOST} sounds")),
        }
    }

    /// The sounds.
    pub fn sounds(&self) -> &[Phoneme] {
        &self.0
    }
}

impl std::fmt::Display for Heard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&Phoneme::join(&self.0))
    }
}

impl TryFrom<String> for Heard {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        Self::new(&text)
    }
}

impl From<Heard> for String {
    fn from(heard: Heard) -> Self {
        heard.to_string()
    }
}

crate::vocabulary! {
    /// How a pupil answered. Choosing among what is shown is another task than saying it, and is
    /// reported apart.
    pub enum ResponseMode {
        /// Said aloud.
        Spoken = "spoken",
        /// Pointed to or chose one of several.
        Choosing = "choosing",
        /// By a communication aid.
        CommunicationAid = "communication_aid",
        /// Signed.
        Sign = "sign",
        /// By looking at one of several.
        EyeGaze = "eye_gaze",
        /// Written or typed.
        Written = "written",
    }
}

impl ResponseMode {
    /// As shown.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Spoken => "Said aloud",
            Self::Choosing => "Pointed to or chose one of several",
            Self::CommunicationAid => "By a communication aid",
            Self::Sign => "Signed",
            Self::EyeGaze => "By looking at one of several",
            Self::Written => "Written or typed",
        }
    }

    /// Whether the answer was one of several shown, so that luck has a part in it.
    pub fn is_choice(self) -> bool {
        matches!(self, Self::Choosing | Self::EyeGaze)
    }
}
