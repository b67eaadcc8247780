//! What the demonstration tells while it works, on standard error.

use std::time::Instant;

/// Tells what is going on, with the seconds gone by.
pub(super) struct Progress {
    started: Instant,
}

impl Progress {
    pub(super) fn start() -> Self {
        Self { started: Instant::now() }
    }

    /// Something that is done, or begins.
    pub(super) fn say(&self, what: &str) {
        eprintln!("{:6.1} s  {what}", self.started.elapsed().as_secs_f64());
    }
}

/// "1 lesson", "2 lessons".
pub(super) fn count(number: usize, noun: &str) -> String {
    match (number, noun.strip_suffix('s')) {
        (1, _) => format!("1 {noun}"),
        (_, Some(stem)) => format!("{number} {stem}ses"),
        _ => format!("{number} {noun}s"),
    }
}

#[cfg(test)]
mod tests {
    use super::count;

    #[test]
    fn counts_read_as_people_write_them() {
        assert_eq!(count(1, "class"), "1 class");
        assert_eq!(count(9, "class"), "9 classes");
        assert_eq!(count(2, "lesson"), "2 lessons");
        assert_eq!(count(0, "day"), "0 days");
    }
}
