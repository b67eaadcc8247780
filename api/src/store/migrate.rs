//! Migrations: embedded, forward only in use, the same names for both stores.

use diesel::{
    Connection, PgConnection, SqliteConnection, connection::SimpleConnection as _, migration::MigrationSource,
};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::{OpenError, Place};

const SQLITE: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

/// One node migrates at a time; the others wait here and find nothing left to do.
const PG_LOCK: &str = "SELECT pg_advisory_lock(7345920114)";

/// Refuses a store that is behind or ahead of this program.
pub(super) fn check(place: &Place) -> Result<(), OpenError> {
    match place {
        Place::Sqlite(path) => check_on(&mut sqlite(path)?, &SQLITE),
        Place::Postgres(url) => check_on(&mut postgres(url)?, &POSTGRES),
    }
}

/// Applies what is missing.
pub(super) fn run(place: &Place) -> Result<Vec<String>, OpenError> {
    match place {
        Place::Sqlite(path) => {
            let mut conn = sqlite(path)?;
            conn.batch_execute("PRAGMA journal_mode = WAL; PRAGMA foreign_keys = ON;")
                .map_err(|error| OpenError::Unreachable(error.to_string()))?;
            apply(&mut conn, SQLITE)
        }
        Place::Postgres(url) => {
            let mut conn = postgres(url)?;
            conn.batch_execute(PG_LOCK).map_err(|error| OpenError::Unreachable(error.to_string()))?;
            apply(&mut conn, POSTGRES)
        }
    }
}

fn sqlite(path: &str) -> Result<SqliteConnection, OpenError> {
    let mut conn = SqliteConnection::establish(path)
        .map_err(|error| OpenError::Unreachable(format!("{path}: {error}")))?;
    conn.batch_execute("PRAGMA busy_timeout = 10000;")
        .map_err(|error| OpenError::Unreachable(format!("{path}: {error}")))?;
    Ok(conn)
}

fn postgres(url: &str) -> Result<PgConnection, OpenError> {
    // The URL holds a password; the driver's message does not.
    PgConnection::establish(url).map_err(|error| OpenError::Unreachable(error.to_string()))
}

fn check_on<C, DB>(conn: &mut C, source: &EmbeddedMigrations) -> Result<(), OpenError>
where
    C: MigrationHarness<DB>,
    DB: diesel::backend::Backend,
    EmbeddedMigrations: MigrationSource<DB>,
{
    let failed = |error: Box<dyn std::error::Error + Send + Sync>| OpenError::Unreachable(error.to_string());
    let known: Vec<String> = MigrationSource::<DB>::migrations(source)
        .map_err(failed)?
        .iter()
        .map(|migration| migration.name().version().to_string())
        .collect();
    let applied = conn.applied_migrations().map_err(failed)?;
    if let Some(newer) = applied.iter().map(ToString::to_string).find(|version| !known.contains(version)) {
        return Err(OpenError::Newer(newer));
    }
    match known.len() - applied.len() {
        0 => Ok(()),
        missing => Err(OpenError::Older(missing)),
    }
}

fn apply<C, DB>(conn: &mut C, source: EmbeddedMigrations) -> Result<Vec<String>, OpenError>
where
    C: MigrationHarness<DB>,
    DB: diesel::backend::Backend,
    EmbeddedMigrations: MigrationSource<DB>,
{
    if let Err(newer @ OpenError::Newer(_)) = check_on(conn, &source) {
        return Err(newer);
    }
    conn.run_pending_migrations(source)
        .map(|done| done.iter().map(ToString::to_string).collect())
        .map_err(|error| OpenError::Migration(error.to_string()))
}

#[cfg(test)]
mod tests;
