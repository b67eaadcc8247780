//! The server at work on what has had its time: rows of pupil files that nothing can be done with
//! any more, what undoing a merge or a rollover would put back, proposals of groups, answers remembered for
//! repeats, links whose day is over, and the ledgers of old releases.

use diesel::prelude::*;
use plumbline_core::{
    id::{
        CoverLinkId, GroupProposalId, PupilDecisionId, ReportSnapshotId, RosterImportId, SchoolId, StaffId,
    },
    time::{Date, Instant},
};
use serde_json::{Value, json};

use crate::{
    clock::date_in,
    store::{
        Error, ImportStatus, Store, audit,
        change::AnyId,
        conn::db,
        idempotency::oldest,
        rollover::rollover_id,
        roster_import::RowsGone,
        schema::{
            cover_link, group_proposal, history, idempotency, pupil_decision, report_release,
            report_snapshot, rollover, roster_import, school,
        },
    },
};

/// Drops the rows of a table whose time is over, each in a transaction of its own that locks one school, and writes
/// each to the audit log in the name of whoever made it; how many another server had not dropped.
macro_rules! drop_rows {
    ($store:ident, $table:ident, $id:ty, $until:ident) => {{
        let now = $store.clock().now();
        let due: Vec<(SchoolId, $id)> = $store.snapshot(|mut conn| -> Result<_, Error> {
            Ok(db!(conn, c => $table::table
                .filter($table::$until.le(now))
                .select(($table::school_id, $table::id))
                .load(c))?)
        })?;
        let mut dropped = 0;
        for (school, id) in due {
            dropped += usize::from($store.transact(move |mut conn| -> Result<_, Error> {
                let made_by: Option<StaffId> = db!(conn, c => diesel::delete($table::table.find((school, id)))
                    .returning($table::created_by)
                    .get_result(c)
                    .optional())?;
                let Some(made_by) = made_by else { return Ok(false) };
                let subject = Some((stringify!($table), id.uuid()));
                let operation = concat!(stringify!($table), ".drop");
                audit::note(&mut conn, school, now, operation, made_by, subject)?;
                Ok(true)
            })?);
        }
        Ok(dropped)
    }};
}

impl Store {
    /// Drops the rows of every pupil file whose time is over, of all schools; how many files that
    /// were. What came of each stays, in numbers. Written to the audit log in the name of whoever
    /// sent the file.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_files(&self) -> Result<usize, Error> {
        let now = self.clock().now();
        let due: Vec<(SchoolId, RosterImportId)> = self.snapshot(|mut conn| -> Result<_, Error> {
            Ok(db!(conn, c => roster_import::table
                .filter(roster_import::kept_until.le(now))
                .select((roster_import::school_id, roster_import::id))
                .load(c))?)
        })?;
        let mut dropped = 0;
        for (school, id) in due {
            dropped += usize::from(self.drop_file(school, id)?);
        }
        Ok(dropped)
    }

    /// Drops the rows of one file, unless another server did.
    fn drop_file(&self, school: SchoolId, id: RosterImportId) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let now = clock.now();
            let found: Option<(ImportStatus, StaffId)> = db!(conn, c => diesel::update(
                roster_import::table.find((school, id)).filter(roster_import::kept_until.le(now)))
                .set(RowsGone::default())
                .returning((roster_import::status, roster_import::created_by))
                .get_result(c)
                .optional())?;
            let Some((status, sent_by)) = found else { return Ok(false) };
            if status == ImportStatus::Preview {
                db!(conn, c => diesel::update(roster_import::table.find((school, id)))
                    .set(roster_import::status.eq(ImportStatus::Expired))
                    .execute(c))?;
            }
            let subject = Some(("roster_import", id.uuid()));
            audit::note(&mut conn, school, now, "roster_import.drop", sent_by, subject)?;
            Ok(true)
        })
    }

    /// Drops what undoing merges and rollovers would put back once their last day is over, of all
    /// schools; how many that were. Written to the audit log in the name of whoever decided.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_undo(&self) -> Result<usize, Error> {
        let now = self.clock().now();
        let schools: Vec<(SchoolId, String)> = self.snapshot(|mut conn| -> Result<_, Error> {
            Ok(db!(conn, c => school::table.select((school::id, school::time_zone)).load(c))?)
        })?;
        let mut dropped = 0;
        for (school, zone) in schools {
            let today = date_in(&zone, now);
            let (decisions, years) = self.old_undo(school, today)?;
            for id in decisions {
                dropped += usize::from(self.drop_merge(school, id, today)?);
            }
            for year in years {
                dropped += usize::from(self.drop_rollover(school, year, today)?);
            }
        }
        Ok(dropped)
    }

    fn old_undo(&self, school: SchoolId, today: Date) -> Result<(Vec<PupilDecisionId>, Vec<i32>), Error> {
        self.snapshot(|mut conn| {
            let decisions = db!(conn, c => pupil_decision::table
                .filter(pupil_decision::school_id.eq(school))
                .filter(pupil_decision::undo_until.lt(today))
                .filter(pupil_decision::before.is_not_null())
                .select(pupil_decision::id)
                .load(c))?;
            let years = db!(conn, c => rollover::table
                .filter(rollover::school_id.eq(school))
                .filter(rollover::undo_until.lt(today))
                .filter(rollover::before.is_not_null())
                .select(rollover::year)
                .load(c))?;
            Ok((decisions, years))
        })
    }

    /// Drops what taking two records apart would put back, unless another server did.
    fn drop_merge(&self, school: SchoolId, id: PupilDecisionId, today: Date) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let decided_by: Option<StaffId> = db!(conn, c => diesel::update(pupil_decision::table
                .find((school, id))
                .filter(pupil_decision::undo_until.lt(today))
                .filter(pupil_decision::before.is_not_null()))
                .set(pupil_decision::before.eq(None::<Value>))
                .returning(pupil_decision::decided_by)
                .get_result(c)
                .optional())?;
            let Some(decided_by) = decided_by else { return Ok(false) };
            let subject = Some(("pupil_decision", id.uuid()));
            audit::note(&mut conn, school, clock.now(), "pupil_decision.drop", decided_by, subject)?;
            Ok(true)
        })
    }

    /// Drops what taking a rollover back would put back, unless another server did.
    fn drop_rollover(&self, school: SchoolId, year: i32, today: Date) -> Result<bool, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| {
            let version: Option<i64> = db!(conn, c => diesel::update(rollover::table
                .find((school, year))
                .filter(rollover::undo_until.lt(today))
                .filter(rollover::before.is_not_null()))
                .set(rollover::before.eq(None::<Value>))
                .returning(rollover::v)
                .get_result(c)
                .optional())?;
            let Some(version) = version else { return Ok(false) };
            let id = rollover_id(school, year);
            // Whoever applied it stands in its history.
            let applied_by: Option<Option<StaffId>> = db!(conn, c => history::table
                .filter(history::school_id.eq(school))
                .filter(history::rec_kind.eq("rollover"))
                .filter(history::rec_id.eq(AnyId::from_uuid(id)))
                .filter(history::v.eq(version))
                .select(history::staff_id)
                .first(c)
                .optional())?;
            if let Some(applied_by) = applied_by.flatten() {
                let subject = Some(("rollover", id));
                audit::note(&mut conn, school, clock.now(), "rollover.drop", applied_by, subject)?;
            }
            Ok(true)
        })
    }

    /// Drops every proposal of groups whose time is over, of all schools; how many that were. Written to the
    /// audit log in the name of whoever asked for it.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_group_proposals(&self) -> Result<usize, Error> {
        drop_rows!(self, group_proposal, GroupProposalId, kept_until)
    }

    /// Drops the pupils frozen for reports whose time is over, of all schools; how many reports that were. What was
    /// released of them stays. Written to the audit log in the name of whoever made them.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_report_snapshots(&self) -> Result<usize, Error> {
        drop_rows!(self, report_snapshot, ReportSnapshotId, kept_until)
    }

    /// Empties the ledgers of releases whose time is over, of all schools; how many that were. The releases stay.
    ///
    /// # Errors
    /// If the store fails.
    pub fn empty_old_ledgers(&self) -> Result<usize, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<_, Error> {
            let over = report_release::table.filter(report_release::ledger_until.lt(clock.now()));
            Ok(db!(conn, c => diesel::update(over)
                .set((report_release::ledger.eq(json!([])), report_release::ledger_until.eq(None::<Instant>)))
                .execute(c))?)
        })
    }

    /// Drops the links to cover pages whose day is over, of all schools; how many that were. Written to the
    /// audit log in the name of whoever made them.
    ///
    /// # Errors
    /// If the store fails; what was dropped before stays dropped.
    pub fn drop_old_links(&self) -> Result<usize, Error> {
        drop_rows!(self, cover_link, CoverLinkId, valid_until)
    }

    /// Drops the answers remembered for repeats that are no longer answered, of all schools; how many
    /// that were.
    ///
    /// # Errors
    /// If the store fails.
    pub fn drop_old_answers(&self) -> Result<usize, Error> {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<_, Error> {
            let oldest = oldest(clock.now());
            Ok(db!(conn, c => diesel::delete(idempotency::table.filter(idempotency::at.lt(oldest))).execute(c))?)
        })
    }
}

#[cfg(test)]
mod tests;
