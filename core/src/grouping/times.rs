//! Names and times of groups as people write them.

use crate::{
    calendar::LocalTime,
    text::{Title, search_key},
};

/// Whether two names are one to whoever reads them.
pub(super) fn one_name(one: &str, other: &str) -> bool {
    one == other || !search_key(one).is_empty() && search_key(one) == search_key(other)
}

/// A time of day as schools write it: 9.15, 9:15, 09:15.
pub(super) fn clock(time: &Title) -> Option<LocalTime> {
    let text = time.as_str().replace('.', ":");
    let hours = text.find(':')?;
    format!("{}{text}", &"00"[hours.min(2)..]).parse().ok()
}

/// Whether two times are one; groups without a time are all at once.
pub(super) fn same_time(one: Option<&Title>, other: Option<&Title>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => match (clock(one), clock(other)) {
            (Some(one), Some(other)) => one == other,
            _ => one_name(one.as_str(), other.as_str()),
        },
        (one, other) => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_they_are_written() {
        let title = |text: &str| Title::new(text).unwrap();
        let same = |one: &str, other: &str| same_time(Some(&title(one)), Some(&title(other)));
        assert!(same("9.15", "09:15") && same("9:15", "9.15") && same("After break", "after  break"));
        assert!(!same("9.15", "9.45") && !same("9.15", "quarter past nine") && !same("109.15", "09.15"));
        assert!(same_time(None, None) && !same_time(None, Some(&title("9.15"))));
        assert!(one_name("Owls", "owls ") && !one_name("Owls", "Owls 2") && !one_name("★", "☆"));
    }
}
