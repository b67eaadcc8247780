//! A stream of events, as it comes.

use std::io::{BufRead as _, BufReader, Read};

/// What a server tells as it happens.
pub struct Events<R> {
    lines: BufReader<R>,
}

impl<R: Read> Events<R> {
    /// Of a body.
    pub fn of(body: R) -> Self {
        Self { lines: BufReader::new(body) }
    }

    /// The next lines up to an empty one; nothing once the stream has ended.
    pub fn block(&mut self) -> String {
        let mut block = String::new();
        while !block.ends_with("\n\n") {
            let read =
                self.lines.read_line(&mut block).expect("the stream goes on or ends, and does not break");
            if read == 0 {
                break;
            }
        }
        block
    }

    /// The next head: epoch and version. None once the stream has ended.
    ///
    /// # Panics
    /// If anything else comes.
    pub fn head(&mut self) -> Option<(String, i64)> {
        let mut block = self.block();
        while block.starts_with(':') {
            block = self.block();
        }
        if block.is_empty() {
            return None;
        }
        let id = block.strip_prefix("event: head\nid: ").and_then(|rest| rest.strip_suffix("\n\n"));
        let (epoch, version) = id.and_then(|id| id.split_once(':')).unwrap_or_else(|| panic!("{block:?}"));
        Some((epoch.to_owned(), version.parse().unwrap()))
    }
}
