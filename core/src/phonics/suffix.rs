//! Words that are another word with an ending.

use super::lexicon::{LexWord, Lexicon};

/// Endings that make a made-up word look like a form of its stem.
pub const ENDINGS: [&str; 9] = ["s", "es", "ed", "er", "est", "ing", "y", "ly", "en"];

/// The word of the lexicon that `word` is with `suffix` added as English adds it: a final e
/// dropped (*baking*), a consonant doubled (*hopping*), y turned to i (*cried*).
#[must_use]
pub fn stem<'l>(lexicon: &'l Lexicon, word: &str, suffix: &str) -> Option<LexWord<'l>> {
    let base = word.strip_suffix(suffix).filter(|b| b.len() > 1)?;
    let mut tries = vec![base.to_owned()];
    if suffix.starts_with(['e', 'i', 'y']) {
        tries.push(format!("{base}e"));
        let last = base.get(base.len() - 1..).unwrap_or("");
        tries.extend(base.strip_suffix(last).filter(|b| b.ends_with(last)).map(str::to_owned));
    }
    tries.extend(base.strip_suffix('i').map(|b| format!("{b}y")));
    tries.iter().filter(|t| t.len() > 1).find_map(|t| lexicon.find(t))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::phonics::Engine;

    #[test]
    fn stems_are_found_and_chance_endings_are_not() {
        let engine = Engine::load().unwrap();
        let of = |word, suffix| stem(engine.lexicon(), word, suffix).map(|w| w.shown());
        assert_eq!(of("jumping", "ing"), Some("jump"));
        assert_eq!(of("baking", "ing"), Some("bake"));
        assert_eq!(of("hopped", "ed"), Some("hop"));
        assert_eq!(of("cried", "ed"), Some("cry"));
        assert_eq!(of("gived", "ed"), Some("give"));
        assert_eq!(of("king", "ing"), None);
        assert_eq!(of("under", "er"), None);
    }
}
