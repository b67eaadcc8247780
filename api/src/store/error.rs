//! What can go wrong in the store.

use diesel::result::{DatabaseErrorKind, Error as Diesel};
use plumbline_core::access::Refused;

/// A store operation that did not happen. Nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The policy refused.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// The sign-in has ended or the member of staff was disabled.
    #[error("the sign-in has ended")]
    SignedOut,
    /// The sign-in is on a tablet that was revoked.
    #[error("the tablet was revoked")]
    TabletRevoked,
    /// The row is not there.
    #[error("not found")]
    Missing,
    /// It was there, and is no longer kept.
    #[error("no longer kept")]
    NotKept,
    /// Another row stands in the way, or this one was changed meanwhile.
    #[error("conflict")]
    Conflict,
    /// A value of this field belongs to another row.
    #[error("{0} belongs to another")]
    Taken(&'static str),
    /// Too much to do at once; the same again later will do.
    #[error("the store is busy")]
    Busy,
    /// The connection broke at the commit: whether it was written is not known.
    #[error("whether it was written is not known")]
    Unclear,
    /// No room left on the disk.
    #[error("the disk is full")]
    Full,
    /// The store holds something it should not.
    #[error("stored data is damaged: {0}")]
    Damaged(String),
    /// Anything else the database said.
    #[error("database: {0}")]
    Db(String),
}

impl From<Diesel> for Error {
    fn from(error: Diesel) -> Self {
        match error {
            Diesel::NotFound => Self::Missing,
            Diesel::DatabaseError(kind, info) => match kind {
                DatabaseErrorKind::UniqueViolation => Self::Conflict,
                DatabaseErrorKind::SerializationFailure => Self::Busy,
                DatabaseErrorKind::ClosedConnection => Self::Busy,
                _ => Self::from_message(info.message()),
            },
            other => Self::Db(other.to_string()),
        }
    }
}

/// What the databases say when others were in the way for too long.
const WAITS: [&str; 4] = ["database is locked", "deadlock detected", "lock timeout", "statement timeout"];

/// What store work may fail with. The same work again may do where others were in the way.
pub trait Failure: From<Error> {
    /// Whether to try again.
    fn was_in_the_way(&self) -> bool;
}

impl Failure for Error {
    fn was_in_the_way(&self) -> bool {
        matches!(self, Self::Busy)
    }
}

impl Error {
    fn from_message(message: &str) -> Self {
        if message.contains("disk is full") || message.contains("No space left") {
            Self::Full
        } else if WAITS.iter().any(|wait| message.contains(wait)) {
            Self::Busy
        } else {
            Self::Db(message.to_owned())
        }
    }
}

impl From<serde_json::Error> for Error {
    fn from(error: serde_json::Error) -> Self {
        Self::Damaged(error.to_string())
    }
}

impl From<diesel::r2d2::PoolError> for Error {
    fn from(_: diesel::r2d2::PoolError) -> Self {
        Self::Busy
    }
}
