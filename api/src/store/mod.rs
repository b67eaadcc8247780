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
mod handing_on;
mod heads;
mod heard;
mod held_op;
mod idempotency;
mod learning;
mod lesson;
mod lessons_until;
mod member_days;
mod migrate;
mod not_accessible;
mod opening;
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
mod reading;
mod report;
mod report_checks;
mod report_release;
mod report_snapshot;
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
mod round_progress;
mod round_whom;
mod schema;
mod school;
mod school_word;
mod second_marking;
mod second_marks;
mod sequence;
mod set_aside;
mod sitting;
mod staff;
mod statutory;
mod statutory_pupils;
mod statutory_result;
mod struck_word;
mod sync;
mod tablet;
mod tally;
#[cfg(test)]
mod tests;
mod timetable;
mod trust;
mod trust_file;
mod trust_share;
mod tx;
mod types;
mod upn;
mod versions;
mod vocabulary;
mod what_helped;
mod writer;

use std::sync::Arc;

use diesel::{
    PgConnection, SqliteConnection,
    r2d2::{ConnectionManager, Pool},
};

pub use attainment::{AnswersThere, AttainmentFacts};
pub use audit::{AuditChecked, AuditEnd, AuditKeys, AuditLine, AuditSearch, Signed};
pub use book::{BookHead, BookRow};
pub use calendar::YearSaved;
pub use carried_check::CarriedCheckRow;
pub use carried_in::SavedCarriedIn;
pub use catch_up::{CatchUpBasis, KnownCatchUp, SavedCatchUp};
pub use change::{ChangeKind, HistoryLine};
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
pub use handing_on::HandingOn;
pub use heads::Following;
pub use heard::HeardAnswers;
pub use held_op::{Held, HeldOpRow, Sent};
pub use idempotency::Remembered;
pub use lesson::{GroupLessons, Replaced, SavedRecord};
pub use not_accessible::NotAccessibleRow;
pub use opening::OpenError;
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
pub use report_release::{ReleaseHead, ReleaseRow};
pub use report_snapshot::{Snapshot, SnapshotHead};
pub(crate) use response::response_of;
pub use response::{NewResponse, ResponseRow};
pub use rollover::{RolloverNames, RolloverRow, RolloverStatus};
pub use roster::{ClassRow, ClassView};
pub use roster_import::{ImportRow, ImportStatus};
pub use roster_import_list::ImportLine;
pub use roster_undo::Dependents;
pub use round::RoundRow;
pub use round_list::{ListCheck, ListLine, RoundList};
pub use round_progress::RoundProgress;
pub use school::SchoolRow;
pub use school_word::SchoolWordRow;
pub use second_marking::{SecondMarkingRow, SecondSampleRow, SecondSampleView};
pub use second_marks::{MarkedTwice, NewSecondMark, SecondMarkRow};
pub use sequence::{DraftRow, SequenceRow, VersionHead, VersionRow};
pub use sitting::{Sitting, SittingView};
pub use staff::{RoleSpan, StaffRow, StaffView};
pub use statutory::{StatutoryThresholdRow, StatutoryWindowRow};
pub use statutory_pupils::{StatutoryPupil, StatutoryView};
pub use statutory_result::{Amending, StatutoryResultRow};
pub use struck_word::StruckWordRow;
pub use sync::{
    AnsweredOp, AnsweringNow, Arrival, ClassNow, GroupNow, MemberNow, NewOp, Pulled, PulledRow, RecordKind,
    ReplicaRow,
};
pub use tablet::{ReplicaLine, TabletRow};
pub use tally::Tally;
pub use trust::{TrustSchoolRow, TrustShown};
pub use trust_share::TrustShareRow;
pub use tx::{Reader, Tx, Who};
pub use vocabulary::Vocabulary;
pub use what_helped::WhatHelpedRow;

use plumbline_core::id::SchoolId;

use crate::clock::Clock;
use conn::Conn;
use heads::Heads;
use tx::Shared;
use writer::Writer;

/// The open store.
#[derive(Clone)]
pub struct Store {
    inner: Arc<Inner>,
}

struct Inner {
    shared: Shared,
    heads: Heads,
    backend: Backend,
}

enum Backend {
    Sqlite { writer: Writer, readers: Pool<ConnectionManager<SqliteConnection>> },
    Pg(Pool<ConnectionManager<PgConnection>>),
}

impl Store {
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
        let value = self.transact(move |conn| -> Result<T, E> {
            let mut tx = Tx::open_write(conn, &shared, who)?;
            let value = work(&mut tx)?;
            tx.settle_if_moved()?;
            let (at, head, subject) = (tx.now(), tx.audit, tx.subject);
            audit::append(&mut tx.conn, who.school, head, at, operation, who.staff, subject)?;
            Ok(value)
        })?;
        self.inner.heads.stirred(who.school);
        Ok(value)
    }

    /// The school's commits from now on, as this process makes them.
    pub fn follow(&self, school: SchoolId) -> Following {
        self.inner.heads.follow(school)
    }

    /// Ends what follows any school: the server is stopping.
    pub fn follow_no_more(&self) {
        self.inner.heads.end();
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
