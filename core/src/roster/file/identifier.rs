//! References in files. They are text: what a spreadsheet made of them is refused, not repaired.

use super::Cell;

/// Why a reference is not taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// A spreadsheet rounded it.
    #[error("\u{201c}{0}\u{201d} was rounded by a spreadsheet; format the column as text and export again")]
    Rounded(String),
    /// An error value or a formula without its value.
    #[error("the cell holds {0} instead of a value")]
    Bad(String),
}

/// Above this a spreadsheet's numbers have gaps: it keeps 15 digits.
const MOST_EXACT: f64 = 1e15;

/// A reference as text: `007` stays `007`.
///
/// # Errors
/// [`Damage`] where the text can no longer be known.
pub fn identifier(cell: &Cell) -> Result<Option<String>, Damage> {
    let text = match cell {
        Cell::Bad(what) => return Err(Damage::Bad(what.clone())),
        Cell::Number(number) if number.fract() != 0.0 || number.abs() >= MOST_EXACT => {
            return Err(Damage::Rounded(number.to_string()));
        }
        other => other.text(),
    };
    if is_scientific(&text) {
        return Err(Damage::Rounded(text));
    }
    Ok(Some(text).filter(|text| !text.is_empty()))
}

/// 1.23457E+12 and the like: what a spreadsheet shows for a long number.
fn is_scientific(text: &str) -> bool {
    let upper = text.to_uppercase();
    let Some((number, power)) = upper.split_once("E+").or_else(|| upper.split_once("E-")) else {
        return false;
    };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    digits(number) && number.contains('.') && digits(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(text: &str) -> Result<Option<String>, Damage> {
        identifier(&Cell::Text(text.to_owned()))
    }

    #[test]
    fn references_are_text_and_damage_is_seen() {
        assert_eq!(text("007"), Ok(Some("007".into())));
        assert_eq!(text(" "), Ok(None));
        assert!(matches!(text("1.23457E+12"), Err(Damage::Rounded(_))));
        assert!(matches!(text("9.01E+15"), Err(Damage::Rounded(_))));
        // A school's own reference may hold an E and a plus.
        assert_eq!(text("7E+2"), Ok(Some("7E+2".into())));
        assert_eq!(identifier(&Cell::Number(7.0)), Ok(Some("7".into())));
        assert!(matches!(identifier(&Cell::Number(1e15)), Err(Damage::Rounded(_))));
        assert!(matches!(identifier(&Cell::Number(7.5)), Err(Damage::Rounded(_))));
        assert!(matches!(identifier(&Cell::Bad("#REF!".into())), Err(Damage::Bad(_))));
    }
}
