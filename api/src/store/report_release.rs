//! What was released, byte for byte, and what later releases have to know of it.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::SchoolReport,
    },
    disclosure::Audience,
    id::{ReportReleaseId, ReportSnapshotId, SchoolId, StaffId},
    report::{CheckTold, Made, PastTable, Release},
    time::{Date, Instant},
};
use serde_json::Value;

use super::{Error, Permit, Tx, conn::db, schema::report_release};

#[derive(Insertable)]
#[diesel(table_name = report_release, treat_none_as_default_value = false)]
struct Row<'a> {
    school_id: SchoolId,
    id: ReportReleaseId,
    snapshot_id: ReportSnapshotId,
    audience: Audience,
    as_of: Date,
    body: &'a str,
    ledger: Value,
    ledger_until: Option<Instant>,
    released_by: StaffId,
    released_at: Instant,
}

/// A release without its figures.
#[derive(Clone, Debug)]
pub struct ReleaseHead {
    /// Its id.
    pub id: ReportReleaseId,
    /// The snapshot it was made of.
    pub snapshot: ReportSnapshotId,
    /// For whom.
    pub audience: Audience,
    /// As of which day.
    pub as_of: Date,
    /// The half term's name, as it was released.
    pub half_term: String,
    /// Its measures, by their codes.
    pub measures: Vec<String>,
    /// Who released it.
    pub released_by: StaffId,
    /// When.
    pub released_at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = report_release)]
struct HeadRow {
    id: ReportReleaseId,
    snapshot_id: ReportSnapshotId,
    audience: Audience,
    as_of: Date,
    body: String,
    released_by: StaffId,
    released_at: Instant,
}

impl HeadRow {
    /// What a list says of it stands in its bytes.
    fn into_head(self) -> Result<ReleaseHead, Error> {
        let release: Release = serde_json::from_str(&self.body)?;
        Ok(ReleaseHead {
            id: self.id,
            snapshot: self.snapshot_id,
            audience: self.audience,
            as_of: self.as_of,
            half_term: release.basis.half_term,
            measures: release.tables.into_iter().map(|table| table.measure).collect(),
            released_by: self.released_by,
            released_at: self.released_at,
        })
    }
}

/// A release.
#[derive(Clone, Debug)]
pub struct ReleaseRow {
    /// Its id.
    pub id: ReportReleaseId,
    /// As it was made: the same bytes for ever.
    pub body: String,
}

/// The audience and the wider ones.
const fn as_wide(audience: Audience) -> &'static [Audience] {
    match audience {
        Audience::Published => &[Audience::Published],
        Audience::Internal | Audience::Closed => &[Audience::Closed, Audience::Published],
    }
}

impl<'tx> Tx<'tx> {
    /// What is out already, to the same readers or to more, release by release with its snapshot, as long as the ledger
    /// is kept.
    ///
    /// # Errors
    /// If the store fails.
    pub fn past_tables(
        &mut self,
        _permit: &Permit<'tx, Publish, SchoolReport>,
        audience: Audience,
    ) -> Result<Vec<(ReportSnapshotId, Vec<PastTable>)>, Error> {
        let school = self.school();
        let rows: Vec<(ReportSnapshotId, Value)> = db!(self.conn, c => report_release::table
            .filter(report_release::school_id.eq(school))
            .filter(report_release::audience.eq_any(as_wide(audience)))
            .order(report_release::id)
            .select((report_release::snapshot_id, report_release::ledger))
            .load(c))?;
        rows.into_iter().map(|(snapshot, ledger)| Ok((snapshot, serde_json::from_value(ledger)?))).collect()
    }

    /// The measures of statutory checks that were released, to whomever, each with its check.
    ///
    /// # Errors
    /// If the store fails.
    pub fn checks_told(
        &mut self,
        _permit: &Permit<'tx, Publish, SchoolReport>,
    ) -> Result<Vec<(String, CheckTold)>, Error> {
        let school = self.school();
        let bodies: Vec<String> = db!(self.conn, c => report_release::table
            .filter(report_release::school_id.eq(school))
            .select(report_release::body)
            .load(c))?;
        let mut told = Vec::new();
        for body in bodies {
            let release: Release = serde_json::from_str(&body)?;
            told.extend(release.tables.into_iter().filter_map(|table| Some((table.measure, table.check?))));
        }
        Ok(told)
    }

    /// The latest release to these readers or to more.
    ///
    /// # Errors
    /// If the store fails.
    pub fn latest_release(
        &mut self,
        _permit: &Permit<'tx, Publish, SchoolReport>,
        audience: Audience,
    ) -> Result<Option<ReportReleaseId>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => report_release::table
            .filter(report_release::school_id.eq(school))
            .filter(report_release::audience.eq_any(as_wide(audience)))
            .order(report_release::id.desc())
            .select(report_release::id)
            .first(c)
            .optional())?)
    }

    /// Keeps a release of a snapshot.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_release(
        &mut self,
        _permit: &Permit<'tx, Publish, SchoolReport>,
        snapshot: ReportSnapshotId,
        made: &Made,
    ) -> Result<ReleaseRow, Error> {
        let body = made.release.canonical()?;
        let kept_days = self.rules()?.reports.kept_days;
        let figures = made.release.figures();
        let row = Row {
            school_id: self.school(),
            id: self.new_id(),
            snapshot_id: snapshot,
            audience: figures.audience,
            as_of: figures.as_of,
            body: &body,
            ledger: serde_json::to_value(&made.ledger)?,
            ledger_until: Some(self.in_days(kept_days)),
            released_by: self.actor.staff,
            released_at: self.now(),
        };
        db!(self.conn, c => diesel::insert_into(report_release::table).values(&row).execute(c))?;
        let id = row.id;
        self.about("report_release", id.uuid());
        Ok(ReleaseRow { id, body })
    }

    /// The school's releases, the latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn releases(&mut self, _permit: &Permit<'tx, Read, SchoolReport>) -> Result<Vec<ReleaseHead>, Error> {
        let school = self.school();
        let rows: Vec<HeadRow> = db!(self.conn, c => report_release::table
            .filter(report_release::school_id.eq(school))
            .order(report_release::id.desc())
            .select(HeadRow::as_select())
            .load(c))?;
        rows.into_iter().map(HeadRow::into_head).collect()
    }

    /// A release.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn release(
        &mut self,
        _permit: &Permit<'tx, Read, SchoolReport>,
        id: ReportReleaseId,
    ) -> Result<ReleaseRow, Error> {
        let school = self.school();
        self.about("report_release", id.uuid());
        let body = db!(self.conn, c => report_release::table
            .find((school, id))
            .select(report_release::body)
            .first(c))?;
        Ok(ReleaseRow { id, body })
    }
}
