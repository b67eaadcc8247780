//! The store: rows and queries, behind permits.
//!
//! SQLite has one writer, which gathers waiting writes into one commit, and a few readers
//! that each see one snapshot. PostgreSQL has a pool; a write locks its school's row first.
//! Nobody is answered before the commit. A transaction opens with an actor or, for sign-in
//! alone, through [`gate`].

mod access;
mod attainment;
mod audit;
mod book;
mod calendar;
mod carried_check;
mod carried_in;
mod catch_up;
mod catch_up_open;
mod change;
mod check;
mod check_use;
mod closure;
pub(crate) mod conn;
mod cover_link;
mod dated;
mod earlier_result;
mod error;
mod exemption;
pub mod gate;
mod group;
mod group_proposal;
mod group_proposal_accept;
mod group_proposal_facts;
mod group_version;
mod heard;
mod idempotency;
mod learning;
mod lesson;
mod member_days;
mod migrate;
mod not_accessible;
mod optional_field;
mod overview;
mod own_calendar;
mod pace;
mod permit;
mod place;
mod placement;
mod proposal;
mod pseudo_word_set;
mod pupil;
mod pupil_answering;
mod pupil_as_one;
mod pupil_before;
mod pupil_carried;
mod pupil_catch_up;
mod pupil_decision;
mod pupil_field;
mod pupil_lessons;
mod pupil_list;
mod pupil_merge;
mod pupil_rounds;
mod pupil_statutory;
mod pupils;
mod report;
mod response;
mod rollover;
mod rollover_undo;
mod roster;
mod roster_import;
mod roster_import_field;
mod roster_import_list;
mod roster_undo;
mod round;
mod round_list;
mod schema;
mod school;
mod school_word;
mod second_marking;
mod second_marks;
mod sequence;
mod sitting;
mod staff;
mod statutory;
mod statutory_pupils;
mod statutory_result;
mod struck_word;
mod tally;
#[cfg(test)]
mod tests;
mod timetable;
mod tx;
mod types;
mod upn;
mod versions;
mod vocabulary;
mod writer;

use std::sync::Arc;

use diesel::{
    PgConnection, SqliteConnection,
    r2d2::{ConnectionManager, CustomizeConnection, Pool},
};

pub use attainment::{AnswersThere, AttainmentFacts};
pub use audit::AuditLine;
pub use book::{BookHead, BookRow};
pub use calendar::YearSaved;
pub use carried_check::CarriedCheckRow;
pub use carried_in::SavedCarriedIn;
pub use catch_up::{CatchUpBasis, SavedCatchUp};
pub use change::HistoryLine;
pub use check::{CheckOrigin, CheckRow, NewCheckRow};
pub use closure::{ClosureRow, RecordedDays};
pub use cover_link::{CoverLinkRow, LinkKey, Opened};
pub use earlier_result::{EarlierResultRow, ResultSource};
pub use error::{Error, Failure};
pub use exemption::ExemptionRow;
pub use group::{Assignment, GroupRow, MemberRow};
pub use group_proposal::{Accepted, GroupProposal, GroupProposalHead, NewGroupProposal};
pub use group_proposal_facts::Stood;
pub use group_version::{GroupCourse, Revision, RevisionGroup};
pub use heard::HeardAnswers;
pub use idempotency::Remembered;
pub use lesson::{GroupLessons, SavedRecord};
pub use not_accessible::NotAccessibleRow;
pub use optional_field::OptionalFieldRow;
pub use overview::OpenPupil;
pub use pace::{PaceFacts, SavedPlan};
pub use permit::{Locate, Permit};
pub use place::Place;
pub use placement::{PlacementRow, PlacementView};
pub use proposal::ProposalRow;
pub use pseudo_word_set::{PseudoWordSetHead, PseudoWordSetRow};
pub use pupil::{NewPupil, PupilChange, PupilRow, PupilView};
pub use pupil_answering::{AnsweringSubject, AnsweringView};
pub use pupil_decision::{DecisionRow, DecisionView};
pub use pupil_field::PupilFieldsView;
pub use report::ReportFacts;
pub(crate) use response::response_of;
pub use response::{NewResponse, ResponseRow, RoundProgress};
pub use rollover::{RolloverNames, RolloverRow, RolloverStatus};
pub use roster::{ClassRow, ClassView};
pub use roster_import::{ImportRow, ImportStatus};
pub use roster_import_list::ImportLine;
pub use roster_undo::Dependents;
pub use round::RoundRow;
pub use round_list::{ListCheck, ListLine, RoundList};
pub use school::SchoolRow;
pub use school_word::SchoolWordRow;
pub use second_marking::{SecondMarkingRow, SecondSampleRow, SecondSampleView};
pub use second_marks::{MarkedTwice, NewSecondMark, SecondMarkRow};
pub use sequence::{DraftRow, SequenceRow, VersionHead, VersionRow};
pub use sitting::{Sitting, SittingView};
pub use staff::{RoleSpan, StaffRow, StaffView};
pub use statutory::{StatutoryThresholdRow, StatutoryWindowRow};
pub use statutory_pupils::StatutoryPupil;
pub use statutory_result::{Amending, StatutoryResultRow};
pub use struck_word::StruckWordRow;
pub use tally::Tally;
pub use tx::{Reader, Tx, Who};
pub use vocabulary::Vocabulary;

use crate::clock::Clock;
use conn::Conn;
use tx::Shared;
use versions::Versions;
use writer::Writer;

/// The open store.
#[derive(Clone)]
pub struct Store {
    inner: Arc<Inner>,
}

struct Inner {
    shared: Shared,
    backend: Backend,
}

enum Backend {
    Sqlite { writer: Writer, readers: Pool<ConnectionManager<SqliteConnection>> },
    Pg(Pool<ConnectionManager<PgConnection>>),
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
            inner: Arc::new(Inner { shared: Shared { clock, versions: Versions::default() }, backend }),
        })
    }

    /// The clock the store reads.
    pub fn clock(&self) -> Clock {
        self.inner.shared.clock
    }

    /// Applies the migrations that are missing; returns their names.
    ///
    /// # Errors
    /// If the store cannot be reached or a migration fails, which leaves it as it was.
    pub fn migrate(place: &Place) -> Result<Vec<String>, OpenError> {
        migrate::run(place)
    }

    /// Whether the store answers.
    ///
    /// # Errors
    /// What it said instead.
    pub fn ping(&self) -> Result<(), Error> {
        self.snapshot(|mut conn| conn.execute("SELECT 1"))
    }

    /// Reads in one snapshot, as someone. Blocks; call it off the async workers.
    ///
    /// # Errors
    /// What the closure answers, or [`Error::SignedOut`].
    pub fn read<T, E, F>(&self, reader: impl Into<Reader>, work: F) -> Result<T, E>
    where
        E: From<Error>,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        self.read_noting(reader.into(), work).map(|(value, _)| value)
    }

    /// As [`Self::read`], and returns what the read was about, for the audit log.
    fn read_noting<T, E, F>(&self, reader: Reader, work: F) -> Result<(T, Option<Subject>), E>
    where
        E: From<Error>,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        let shared = &self.inner.shared;
        self.snapshot(|conn| {
            let mut tx = Tx::open_read(conn, shared, reader)?;
            let value = work(&mut tx)?;
            Ok((value, tx.subject))
        })
    }

    /// Reads something whose reading is logged: answers only after the log entry is committed.
    ///
    /// # Errors
    /// What the closure answers, or why the entry could not be written.
    pub fn read_logged<T, E, F>(
        &self,
        reader: impl Into<Reader>,
        operation: &'static str,
        work: F,
    ) -> Result<T, E>
    where
        E: Failure + Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        let reader = reader.into();
        let (value, subject) = self.read_noting(reader, work)?;
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<(), E> {
            audit::note(&mut conn, reader.school(), clock.now(), operation, reader.staff(), subject)?;
            Ok(())
        })?;
        Ok(value)
    }

    /// Writes as someone: all of it or nothing, answered after the commit. The closure may
    /// run more than once and must have no effect but through the transaction.
    ///
    /// # Errors
    /// What the closure answers, [`Error::SignedOut`], or why nothing was written.
    pub fn write<T, E, F>(&self, who: Who, operation: &'static str, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        F: for<'tx> Fn(&mut Tx<'tx>) -> Result<T, E> + Send + 'static,
    {
        let shared = self.inner.shared.clone();
        self.transact(move |conn| {
            let mut tx = Tx::open_write(conn, &shared, who)?;
            let value = work(&mut tx)?;
            let (at, head, subject) = (tx.now(), tx.audit, tx.subject);
            audit::append(&mut tx.conn, who.school, head, at, operation, who.staff, subject)?;
            Ok(value)
        })
    }

    /// Runs a read on a connection inside one snapshot.
    fn snapshot<T, E: From<Error>>(&self, work: impl FnOnce(Conn<'_>) -> Result<T, E>) -> Result<T, E> {
        match &self.inner.backend {
            Backend::Sqlite { readers, .. } => {
                let mut pooled = readers.get().map_err(Error::from)?;
                writer::within(Conn::Sqlite(&mut pooled), "BEGIN DEFERRED", work)
            }
            Backend::Pg(pool) => {
                let mut pooled = pool.get().map_err(Error::from)?;
                writer::within(Conn::Pg(&mut pooled), "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY", work)
            }
        }
    }

    /// Runs a write to its commit.
    fn transact<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        F: Fn(Conn<'_>) -> Result<T, E> + Send + 'static,
    {
        match &self.inner.backend {
            Backend::Sqlite { writer, .. } => {
                let span = tracing::Span::current();
                writer.write(move |conn| span.in_scope(|| work(conn)))
            }
            Backend::Pg(pool) => {
                let mut pooled = pool.get().map_err(Error::from)?;
                for _ in 1..ATTEMPTS {
                    match writer::within(Conn::Pg(&mut pooled), "BEGIN", &work) {
                        Err(error) if error.was_in_the_way() => {}
                        done => return done,
                    }
                }
                writer::within(Conn::Pg(&mut pooled), "BEGIN", &work)
            }
        }
    }
}

/// How often a PostgreSQL transaction is tried when others are in the way (40001, 40P01,
/// lock timeouts).
const ATTEMPTS: usize = 3;

type Subject = (&'static str, uuid::Uuid);

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
