//! Which words have the long a of the reference accent where American has the short one.

use crate::sources::Lines;

const PREFIXES: [&str; 32] = [
    "un", "re", "bird", "foot", "sun", "blood", "hour", "break", "bel", "out", "over", "fore", "broad",
    "play", "pass", "grand", "god", "step", "sand", "air", "space", "head", "news", "handi", "tele", "photo",
    "auto", "para", "wine", "eye", "school", "hover",
];

/// The list of `bath.txt`.
#[derive(Debug, Default)]
pub struct Bath {
    stems: Vec<String>,
    not: Vec<String>,
}

impl Bath {
    /// Reads stems: `stem` matches a beginning, `stem$` the whole word, `!stem` takes out again.
    #[must_use]
    pub fn parse(text: &str) -> Self {
        let mut bath = Self::default();
        for word in Lines::of(text).flat_map(str::split_whitespace) {
            match word.strip_prefix('!') {
                Some(not) => bath.not.push(not.to_owned()),
                None => bath.stems.push(word.to_owned()),
            }
        }
        bath
    }

    /// Whether the a of `word` is long in the reference accent.
    #[must_use]
    pub fn has(&self, word: &str) -> bool {
        let own = |w: &str| !self.not.iter().any(|s| fits(s, w)) && self.stems.iter().any(|s| fits(s, w));
        own(word) || PREFIXES.iter().any(|p| word.strip_prefix(p).is_some_and(own))
    }
}

fn fits(stem: &str, word: &str) -> bool {
    stem.strip_suffix('$').map_or_else(|| word.starts_with(stem), |whole| whole == word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stems_prefixes_and_exceptions() {
        let bath = Bath::parse("class !classic aft$\n# note\npast !pasta");
        for (word, want) in [
            ("class", true),
            ("outclass", true),
            ("classic", false),
            ("aft", true),
            ("after", false),
            ("past", true),
            ("pasta", false),
        ] {
            assert_eq!(bath.has(word), want, "{word}");
        }
    }
}
