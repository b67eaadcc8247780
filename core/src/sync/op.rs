//! What becomes of an operation by its number.

/// How an operation stands to those that were sent before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Receipt {
    /// It is the next one.
    Next,
    /// It was answered before, and is answered the same again.
    Known,
    /// Another operation was sent under this number, or this one's answer was acknowledged and is no longer kept: the
    /// device's own count was set back or copied.
    Reused,
    /// One or more before it are missing.
    Gap {
        /// The number that is due.
        expected: i64,
    },
}

/// Says how operation `n` stands, where the last one answered is `last`. `same` says of one that was answered whether
/// it is the very same; none where its answer is no longer kept.
pub fn receive(last: i64, n: i64, same: Option<bool>) -> Receipt {
    match n {
        n if n <= last && same == Some(true) => Receipt::Known,
        n if n <= last => Receipt::Reused,
        n if n == last + 1 => Receipt::Next,
        _ => Receipt::Gap { expected: last + 1 },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_number_has_one_effect() {
        assert_eq!(receive(0, 1, None), Receipt::Next);
        assert_eq!(receive(4, 5, None), Receipt::Next);
        assert_eq!(receive(4, 4, Some(true)), Receipt::Known);
        assert_eq!(receive(4, 2, Some(false)), Receipt::Reused);
        assert_eq!(receive(4, 1, None), Receipt::Reused);
        assert_eq!(receive(4, 6, None), Receipt::Gap { expected: 5 });
        assert_eq!(receive(0, 0, None), Receipt::Reused);
    }
}
