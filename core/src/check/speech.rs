//! What a pupil's usual accent or speech makes alike, as pairs of sounds and nothing else, and whether an
//! answer is the expected one said that way.

use std::{collections::BTreeSet, fmt, str::FromStr};

use super::Heard;
use crate::phonics::phoneme::Phoneme;

/// A sound as the pupil usually says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Usual {
    /// The sound meant.
    pub sound: Phoneme,
    /// The sound said for it; none where it is left out.
    pub said: Option<Phoneme>,
}

/// How a pupil usually says sounds: no pair twice. Written `θ>f h>-`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SpeechNote(BTreeSet<Usual>);

/// Why a note is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoteError {
    /// A text that is no sound.
    #[error(
        "must be one sound of English in the International Phonetic Alphabet, such as θ. A note holds pairs \
         of sounds and nothing else: no words, and nothing about health or a difficulty, which belongs \
         elsewhere"
    )]
    NoSound(usize, &'static str),
    /// A sound said as itself.
    #[error("says the sound as it is meant: leave the pair out")]
    Same(usize),
    /// A pair twice.
    #[error("stands twice")]
    Twice(usize),
    /// More pairs than are believed.
    #[error("give at most {0} pairs: a note of more would accept nearly anything")]
    TooMany(usize),
}

impl NoteError {
    /// The field at fault.
    pub fn field(&self) -> String {
        match self {
            Self::NoSound(n, field) => format!("pairs[{n}].{field}"),
            Self::Same(n) | Self::Twice(n) => format!("pairs[{n}]"),
            Self::TooMany(_) => "pairs".into(),
        }
    }
}

impl SpeechNote {
    /// Reads pairs as typed, at most `most`: the sound meant, and the one said for it if one is.
    ///
    /// # Errors
    /// The first pair that cannot stand.
    pub fn new(pairs: &[(&str, Option<&str>)], most: usize) -> Result<Self, NoteError> {
        if pairs.len() > most {
            return Err(NoteError::TooMany(most));
        }
        let mut note = Self::default();
        for (n, (sound, said)) in pairs.iter().enumerate() {
            let sound = sound.trim().parse().map_err(|_| NoteError::NoSound(n, "sound"))?;
            let said = said.map(|said| said.trim().parse().map_err(|_| NoteError::NoSound(n, "said")));
            let usual = Usual { sound, said: said.transpose()? };
            if usual.said == Some(sound) {
                return Err(NoteError::Same(n));
            }
            if !note.0.insert(usual) {
                return Err(NoteError::Twice(n));
            }
        }
        Ok(note)
    }

    /// The pairs, in the order of the engine's sounds.
    pub fn pairs(&self) -> impl Iterator<Item = Usual> {
        self.0.iter().copied()
    }

    /// Whether the pupil says the one for the other, or leaves it out.
    pub fn says(&self, sound: Phoneme, said: Option<Phoneme>) -> bool {
        said == Some(sound) || self.0.contains(&Usual { sound, said })
    }

    /// Whether sounds heard are those meant, each as the pupil may say it.
    fn explains(&self, meant: &[Phoneme], heard: &[Phoneme]) -> bool {
        // Places in `heard` that can be reached with the sounds so far.
        let mut reached = BTreeSet::from([0]);
        for sound in meant {
            let next = reached.iter().flat_map(|at| {
                let said = heard.get(*at).is_some_and(|said| self.says(*sound, Some(*said)));
                let left_out = self.says(*sound, None);
                [said.then_some(at + 1), left_out.then_some(*at)].into_iter().flatten()
            });
            reached = next.collect();
        }
        reached.contains(&heard.len())
    }
}

impl fmt::Display for SpeechNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, usual) in self.0.iter().enumerate() {
            let gap = if n == 0 { "" } else { " " };
            write!(f, "{gap}{}>{}", usual.sound, usual.said.map_or("-", Phoneme::symbol))?;
        }
        Ok(())
    }
}

impl FromStr for SpeechNote {
    type Err = NoteError;

    fn from_str(text: &str) -> Result<Self, NoteError> {
        let pairs: Vec<_> = text.split_whitespace().filter_map(|pair| pair.split_once('>')).collect();
        let pairs: Vec<_> =
            pairs.into_iter().map(|(sound, said)| (sound, (said != "-").then_some(said))).collect();
        Self::new(&pairs, usize::MAX)
    }
}

crate::vocabulary! {
    /// How what was heard stands to what is expected. The marker decides.
    pub enum HeardIs {
        /// It is one of the readings to accept, in the school's accent.
        Expected = "expected",
        /// It is one of them as this pupil usually says it.
        UsualSpeech = "usual_speech",
        /// It is none of them.
        Other = "other",
    }
}

/// Says how what was heard stands to the readings to accept.
pub fn heard_is(readings: &[Vec<Phoneme>], note: &SpeechNote, heard: &Heard) -> HeardIs {
    // Compared as written, since readings kept without gaps do not tell t and ʃ from tʃ.
    let written = |sounds: &[Phoneme]| sounds.iter().map(|sound| sound.symbol()).collect::<String>();
    if readings.iter().any(|reading| written(reading) == written(heard.sounds())) {
        return HeardIs::Expected;
    }
    if readings.iter().any(|reading| note.explains(reading, heard.sounds())) {
        return HeardIs::UsualSpeech;
    }
    HeardIs::Other
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(text: &str) -> SpeechNote {
        text.parse().unwrap()
    }

    fn is(readings: &[&str], note_text: &str, heard: &str) -> HeardIs {
        let readings: Vec<_> = readings.iter().map(|one| Phoneme::parse_sequence(one).unwrap()).collect();
        heard_is(&readings, &note(note_text), &Heard::new(heard).unwrap())
    }

    #[test]
    fn the_usual_speech_of_a_pupil_is_no_other_answer() {
        use HeardIs::{Expected, Other, UsualSpeech};
        for (readings, note, heard, expected) in [
            (&["θ.ɪ.n"][..], "", "θɪn", Expected),
            (&["θ.ɪ.n"], "", "fɪn", Other),
            (&["θ.ɪ.n"], "θ>f", "fɪn", UsualSpeech),
            // The pair has a direction: who says f for th does not say th for f.
            (&["f.ɪ.n"], "θ>f", "θɪn", Other),
            // One pair does not explain another difference beside it.
            (&["θ.ɪ.n"], "θ>f", "fɪm", Other),
            (&["θ.ɪ.n"], "θ>f n>m", "fɪm", UsualSpeech),
            // A sound left out, only where the note says so.
            (&["h.æ.t"], "h>-", "æt", UsualSpeech),
            (&["h.æ.t"], "h>-", "hæ", Other),
            (&["h.æ.t"], "h>-", "hæt", Expected),
            // Any of the readings to accept.
            (&["b.ʊ.k", "b.uː.k"], "", "buːk", Expected),
            // Kept without gaps, tʃ and t with ʃ are written alike.
            (&["tʃɪp"], "", "t.ʃ.ɪ.p", Expected),
            (&[], "θ>f", "f", Other),
        ] {
            assert_eq!(is(readings, note, heard), expected, "{readings:?} {note} {heard}");
        }
    }

    #[test]
    fn a_note_is_pairs_of_sounds_and_nothing_else() {
        let made = |pairs: &[(&str, Option<&str>)]| SpeechNote::new(pairs, 2).map(|note| note.to_string());
        assert_eq!(made(&[("θ", Some("f")), ("h", None)]), Ok("θ>f h>-".into()));
        assert_eq!(note("θ>f h>-").to_string(), "θ>f h>-");
        assert_eq!(made(&[]), Ok(String::new()));
        assert_eq!(made(&[("lisp", Some("f"))]), Err(NoteError::NoSound(0, "sound")));
        assert_eq!(made(&[("θ", Some("f because of"))]), Err(NoteError::NoSound(0, "said")));
        assert_eq!(made(&[("", None)]), Err(NoteError::NoSound(0, "sound")));
        assert_eq!(made(&[("s t", None)]), Err(NoteError::NoSound(0, "sound")));
        assert_eq!(made(&[("s", Some("s"))]), Err(NoteError::Same(0)));
        assert_eq!(made(&[("s", Some("θ")), ("s", Some("θ"))]), Err(NoteError::Twice(1)));
        assert_eq!(made(&[("s", Some("θ")), ("z", Some("ð")), ("r", Some("w"))]), Err(NoteError::TooMany(2)));
        let said = NoteError::NoSound(0, "sound").to_string();
        assert!(said.contains("nothing about health"), "{said}");
    }
}
