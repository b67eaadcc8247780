//! How far a device has read a scope.

use std::{fmt, str::FromStr};

use uuid::Uuid;

/// A record within the changes of one version, in the order of the feed.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rec {
    /// This one, by id and kind.
    At(Uuid, String),
    /// After all of them.
    End,
}

/// A place in a feed: a version, and a record of it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The version.
    pub v: i64,
    /// The record.
    pub rec: Rec,
}

impl Place {
    /// After everything of a version.
    pub const fn after(v: i64) -> Self {
        Self { v, rec: Rec::End }
    }
}

/// How far a device has read one scope.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cursor {
    /// The last thing it has read.
    pub at: Place,
    /// The school's version when the first page of this reading was made. What was purged before that was never
    /// in it, so that a first reading is not begun anew because of it.
    pub base: i64,
    /// Which kinds of record the reader was shown, as bits: with others the scope is read anew.
    pub view: u32,
}

/// A text that is no cursor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("is no cursor of this server")]
pub struct CursorError;

impl Cursor {
    /// The beginning of a reading at a version.
    pub const fn begin(head: i64, view: u32) -> Self {
        Self { at: Place::after(0), base: head, view }
    }
}

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { at: Place { v, rec }, base, view } = self;
        match rec {
            Rec::At(id, kind) => write!(f, "{v}.{}.{kind}.{base}.{view:x}", id.simple()),
            Rec::End => write!(f, "{v}...{base}.{view:x}"),
        }
    }
}

impl FromStr for Cursor {
    type Err = CursorError;

    fn from_str(text: &str) -> Result<Self, CursorError> {
        let [v, id, kind, base, view] = text.split('.').collect::<Vec<_>>()[..] else {
            return Err(CursorError);
        };
        let version = |text: &str| text.parse().ok().filter(|v: &i64| *v >= 0).ok_or(CursorError);
        let is_kind =
            !kind.is_empty() && kind.len() <= 40 && kind.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        let rec = match (id, kind) {
            ("", "") => Rec::End,
            _ if is_kind => Rec::At(Uuid::try_parse(id).map_err(|_| CursorError)?, kind.to_owned()),
            _ => return Err(CursorError),
        };
        let view = u32::from_str_radix(view, 16).map_err(|_| CursorError)?;
        Ok(Self { at: Place { v: version(v)?, rec }, base: version(base)?, view })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cursors_travel_as_text() {
        let id = Uuid::from_u128(7);
        let half =
            Cursor { at: Place { v: 12, rec: Rec::At(id, "lesson_record".into()) }, base: 15, view: 0x3f };
        for cursor in [half, Cursor::begin(15, 1), Cursor { at: Place::after(i64::MAX), base: 0, view: 0 }] {
            assert_eq!(cursor.to_string().parse(), Ok(cursor));
        }
        let wrong = [
            "",
            "....",
            "1...2",
            "-1...2.0",
            "1...-2.0",
            "1...2.x",
            "1.7.pupil.2.0",
            "1..pupil.2.0",
            "1...2.0.9",
        ];
        for text in wrong {
            assert_eq!(text.parse::<Cursor>(), Err(CursorError), "{text}");
        }
        let injected = format!("1.{}.pupil' or 1=1.2.0", id.simple());
        assert_eq!(injected.parse::<Cursor>(), Err(CursorError));
    }

    #[test]
    fn the_end_of_a_version_is_after_all_its_records() {
        let at = |v, n| Place { v, rec: Rec::At(Uuid::from_u128(n), "pupil".into()) };
        assert!(at(3, u128::MAX) < Place::after(3) && Place::after(3) < at(4, 0));
        assert!(at(3, 1) < at(3, 2) && Place::after(0) < at(1, 0));
    }
}
