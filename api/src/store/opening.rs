//! Opening a store, of either kind.

use std::sync::Arc;

use diesel::r2d2::{ConnectionManager, CustomizeConnection, Pool};

use super::{
    Backend, Inner, Place, Store, heads::Heads, migrate, tx::Shared, versions::Versions, writer::Writer,
};
use crate::clock::Clock;

/// Why a store does not open.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// No connection.
    #[error("cannot open the store: {0}")]
    Unreachable(String),
    /// Migrations are missing.
    #[error("the store needs {0} migration(s): run `plumbline migrate`")]
    Older(usize),
    /// The store was written by a newer program.
    #[error("the store was made by a newer plumbline (it has migration {0}, unknown here): run that version")]
    Newer(String),
    /// A migration failed; it was rolled back.
    #[error("migration failed and was rolled back: {0}")]
    Migration(String),
}

#[derive(Debug)]
struct Prepare(&'static str);

impl<C: diesel::Connection> CustomizeConnection<C, diesel::r2d2::Error> for Prepare {
    fn on_acquire(&self, conn: &mut C) -> Result<(), diesel::r2d2::Error> {
        conn.batch_execute(self.0).map_err(diesel::r2d2::Error::QueryError)
    }
}

/// Settings of every SQLite connection. Foreign keys are off by default there.
const SQLITE_READER: &str = "PRAGMA busy_timeout = 5000; PRAGMA foreign_keys = ON; PRAGMA query_only = ON;";
const PG_SESSION: &str = "SET statement_timeout = '20s'; SET lock_timeout = '5s'; SET TIME ZONE 'UTC'; \
    SET client_min_messages = warning;";

impl Store {
    /// Opens a store whose migrations are all applied.
    ///
    /// # Errors
    /// If it cannot be reached, or its schema is older or newer than this program.
    pub fn open(place: &Place, clock: Clock, readers: u32) -> Result<Self, OpenError> {
        migrate::check(place)?;
        let failed = |error: diesel::r2d2::PoolError| OpenError::Unreachable(error.to_string());
        let backend = match place {
            Place::Sqlite(path) => Backend::Sqlite {
                writer: Writer::start(path).map_err(OpenError::Unreachable)?,
                readers: Pool::builder()
                    .max_size(readers)
                    .test_on_check_out(false)
                    .connection_customizer(Box::new(Prepare(SQLITE_READER)))
                    .build(ConnectionManager::new(path))
                    .map_err(failed)?,
            },
            Place::Postgres(url) => Backend::Pg(
                Pool::builder()
                    .max_size(readers.saturating_mul(2).max(4))
                    .min_idle(Some(1))
                    .connection_customizer(Box::new(Prepare(PG_SESSION)))
                    .connection_timeout(std::time::Duration::from_secs(5))
                    .build(ConnectionManager::new(url))
                    .map_err(failed)?,
            ),
        };
        Ok(Self {
            inner: Arc::new(Inner {
                shared: Shared { clock, versions: Versions::default() },
                heads: Heads::default(),
                backend,
            }),
        })
    }
}
