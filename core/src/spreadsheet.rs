//! Text in files that people open with a spreadsheet. A cell that begins like a formula is put
//! behind an apostrophe, and taken out again where the file says that it was put there.

/// What a spreadsheet may take for the start of a formula, and the guard itself.
const RISKY: [char; 12] = ['=', '+', '-', '@', '\t', '\r', '\n', '\'', '＝', '＋', '－', '＠'];

/// A text that no spreadsheet takes for a formula: behind an apostrophe where it could.
#[must_use]
pub fn guarded(text: &str) -> String {
    if text.starts_with(RISKY) { format!("'{text}") } else { text.to_owned() }
}

/// The text behind the guard. An apostrophe before anything else was typed and stays.
#[must_use]
pub fn unguarded(text: &str) -> &str {
    text.strip_prefix('\'').filter(|rest| rest.starts_with(RISKY)).unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_put_behind_an_apostrophe_and_come_back() {
        for risky in ["=1+1", "+44", "-Jay", "@da", "\tx", "\rx", "'Iolana", "'=1", "''", "＝1"] {
            assert_eq!(guarded(risky), format!("'{risky}"));
            assert_eq!(unguarded(&guarded(risky)), risky);
        }
        for plain in ["", "Zoë", "O'Neill", "1-2", "ليلى"] {
            assert_eq!((guarded(plain).as_str(), unguarded(plain)), (plain, plain));
        }
        // Nobody guarded this one.
        assert_eq!(unguarded("'tis"), "'tis");
    }
}
