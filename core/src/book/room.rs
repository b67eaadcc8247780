//! How much of books a school keeps: a pupil's list reads every one of them.

/// The most books of a school: several shelves for every class.
pub const MOST_BOOKS: usize = 3_000;
/// The most bytes of text they hold together: some five hundred words each.
pub const MOST_BYTES: usize = 8_000_000;

/// What a school's books take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Room {
    /// How many there are.
    pub books: usize,
    /// Bytes of their texts together.
    pub bytes: usize,
}

/// Why there is no room.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Full {
    /// More than [`MOST_BOOKS`].
    #[error("a school keeps at most {MOST_BOOKS} books; it would have {0}")]
    Books(usize),
    /// More than [`MOST_BYTES`].
    #[error("the texts of a school's books have at most {MOST_BYTES} bytes together; they would have {0}")]
    Bytes(usize),
}

impl Room {
    /// With `new` in place of `old`.
    #[must_use]
    pub const fn with(self, new: Self, old: Self) -> Self {
        Self {
            books: (self.books + new.books).saturating_sub(old.books),
            bytes: (self.bytes + new.bytes).saturating_sub(old.bytes),
        }
    }

    /// Whether a school may go from this to `after`; to less always.
    ///
    /// # Errors
    /// [`Full`].
    pub const fn may_become(self, after: Self) -> Result<(), Full> {
        if after.books > MOST_BOOKS && after.books > self.books {
            return Err(Full::Books(after.books));
        }
        if after.bytes > MOST_BYTES && after.bytes > self.bytes {
            return Err(Full::Bytes(after.bytes));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_register_grows_up_to_its_bounds_and_shrinks_always() {
        let may = |books, bytes, more: (usize, usize), less: (usize, usize)| {
            let before = Room { books, bytes };
            let room = |(books, bytes)| Room { books, bytes };
            before.may_become(before.with(room(more), room(less)))
        };
        assert_eq!(may(2_999, 7_999_990, (1, 10), (0, 0)), Ok(()));
        assert_eq!(may(3_000, 10, (1, 10), (0, 0)), Err(Full::Books(3_001)));
        assert_eq!(may(10, 7_999_990, (1, 11), (0, 0)), Err(Full::Bytes(8_000_001)));
        // One book in place of another.
        assert_eq!(may(3_000, 8_000_000, (1, 50), (1, 50)), Ok(()));
        assert_eq!(may(3_100, 9_000_000, (1, 40), (1, 50)), Ok(()));
        assert_eq!(may(10, 7_999_990, (1, 61), (1, 50)), Err(Full::Bytes(8_000_001)));
    }
}
