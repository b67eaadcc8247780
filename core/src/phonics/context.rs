//! Where in a word a correspondence may stand: what letter precedes, what letters follow.

/// A condition on the letters around a grapheme; the default allows everything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Context {
    before: Option<&'static str>,
    after: Vec<&'static str>,
}

impl Context {
    /// Reads the two cells of `contexts.tsv`.
    #[must_use]
    pub fn parse(before: &'static str, after: &'static str) -> Self {
        Self {
            before: (before != "-").then_some(before),
            after: if after == "-" { Vec::new() } else { after.split(',').collect() },
        }
    }

    /// Whether a grapheme of `length` letters may stand at `start` of `word`.
    #[must_use]
    pub fn allows(&self, word: &[u8], start: usize, length: usize) -> bool {
        self.before_fits(word, start) && self.after_fits(word, start + length)
    }

    fn before_fits(&self, word: &[u8], start: usize) -> bool {
        let previous = start.checked_sub(1).and_then(|i| word.get(i));
        match (self.before, previous) {
            (None, _) => true,
            (Some("^"), previous) => previous.is_none(),
            (Some(letters), Some(letter)) => letters.as_bytes().contains(letter),
            (Some(_), None) => false,
        }
    }

    fn after_fits(&self, word: &[u8], end: usize) -> bool {
        let rest = word.get(end..).unwrap_or(&[]);
        self.after.is_empty()
            || self.after.iter().any(|a| match a.strip_suffix('$') {
                Some(ending) => rest == ending.as_bytes(),
                None => rest.starts_with(a.as_bytes()),
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contexts_look_at_both_sides() {
        let check = |before, after, word: &str, start, length, want| {
            let context = Context::parse(before, after);
            assert_eq!(context.allows(word.as_bytes(), start, length), want, "{word}");
        };
        check("^", "-", "knee", 0, 2, true);
        check("^", "-", "banknote", 3, 2, false);
        check("w", "-", "word", 1, 2, true);
        check("w", "-", "or", 0, 2, false);
        check("-", "$,ly", "played", 4, 2, true);
        check("-", "$,s$", "camels", 3, 2, true);
        check("-", "$,s$", "else", 0, 2, false);
        check("-", "e,i,y", "cat", 0, 1, false);
        check("-", "-", "cat", 0, 1, true);
    }
}
