//! A connection to either store, and the one place where a statement meets both.

use diesel::{PgConnection, SqliteConnection, connection::SimpleConnection as _};

use super::Error;

/// A borrowed connection to one of the stores.
pub(crate) enum Conn<'c> {
    Sqlite(&'c mut SqliteConnection),
    Pg(&'c mut PgConnection),
}

/// Compiles one statement for both stores and runs it on the connection at hand.
/// The statement is written once; `$c` is the connection inside.
macro_rules! db {
    ($conn:expr, $c:ident => $query:expr) => {
        match &mut $conn {
            $crate::store::conn::Conn::Sqlite(c) => {
                let $c: &mut diesel::SqliteConnection = c;
                $query
            }
            $crate::store::conn::Conn::Pg(c) => {
                let $c: &mut diesel::PgConnection = c;
                $query
            }
        }
    };
}
pub(crate) use db;

/// The one meaning of a dated row of a table with `from_on` and `until_on`: it holds on a day
/// from the first to the last, and without a last day it goes on.
macro_rules! held_on {
    ($table:ident, $on:expr) => {
        $table::from_on.le($on).and($table::until_on.is_null().or($table::until_on.ge($on)))
    };
}
pub(crate) use held_on;

impl Conn<'_> {
    /// Runs statements without parameters or rows.
    pub(crate) fn execute(&mut self, statements: &str) -> Result<(), Error> {
        db!(*self, c => c.batch_execute(statements)).map_err(Error::from)
    }

    /// The same connection for a shorter time.
    pub(crate) fn reborrow(&mut self) -> Conn<'_> {
        match self {
            Self::Sqlite(c) => Conn::Sqlite(c),
            Self::Pg(c) => Conn::Pg(c),
        }
    }
}
