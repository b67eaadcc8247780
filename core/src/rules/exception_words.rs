//! The statutory lists of common exception words (National Curriculum in England, English
//! Appendix 1; Crown copyright, Open Government Licence v3.0). Whether a word is an
//! exception for a class is worked out from what the class was taught; the lists are facts.

use serde::Deserialize;

use super::RulesError;

/// The lists, with the curriculum's capitals.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct ExceptionWords {
    /// Year 1.
    pub year_1: Vec<String>,
    /// Year 2.
    pub year_2: Vec<String>,
}

/// The statutory lists.
///
/// # Errors
/// If the data built in is malformed, which a test rules out.
pub fn exception_words() -> Result<ExceptionWords, RulesError> {
    serde_json::from_str(include_str!("../../rules/exception-words.json"))
        .map_err(|error| RulesError::Malformed { id: "exception-words".into(), error: error.to_string() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lists_are_whole() {
        let words = exception_words().unwrap();
        assert_eq!((words.year_1.len(), words.year_2.len()), (45, 64));
        let all: std::collections::BTreeSet<&String> = words.year_1.iter().chain(&words.year_2).collect();
        assert_eq!(all.len(), 109);
        assert!(
            all.contains(&"I".to_owned())
                && all.contains(&"Christmas".to_owned())
                && all.contains(&"Mrs".to_owned())
        );
    }
}
