//! The list of roster imports: what came of them, without anybody in it.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{RosterImportId, StaffId},
    roster::Summary,
    time::Instant,
};

use super::{
    Error, ImportStatus, Permit, Tx,
    conn::db,
    schema::{roster_import, staff},
};

/// An import without its rows.
#[derive(Clone, Debug)]
pub struct ImportLine {
    /// Its id.
    pub id: RosterImportId,
    /// How far it is.
    pub status: ImportStatus,
    /// Who sent the file, and their name.
    pub sent_by: (StaffId, String),
    /// When.
    pub sent_at: Instant,
    /// When it was carried out.
    pub confirmed_at: Option<Instant>,
    /// Until when its rows are kept; none where they are gone.
    pub kept_until: Option<Instant>,
    /// What the file was and came to.
    pub summary: Summary,
}

impl<'tx> Tx<'tx> {
    /// Imports, latest first, from before `before` on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn imports(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        before: Option<RosterImportId>,
        limit: i64,
    ) -> Result<Vec<ImportLine>, Error> {
        type Found = (
            RosterImportId,
            ImportStatus,
            StaffId,
            String,
            Instant,
            Option<Instant>,
            Option<Instant>,
            serde_json::Value,
        );
        let school = self.school();
        // Ids are sorted by time.
        let before = before.unwrap_or_else(|| RosterImportId::from_uuid(uuid::Uuid::max()));
        let rows: Vec<Found> = db!(self.conn, c => roster_import::table
            .inner_join(staff::table.on(staff::school_id.eq(roster_import::school_id).and(staff::id.eq(roster_import::created_by))))
            .filter(roster_import::school_id.eq(school))
            .filter(roster_import::id.lt(before))
            .order(roster_import::id.desc())
            .limit(limit)
            .select((
                roster_import::id,
                roster_import::status,
                roster_import::created_by,
                staff::name,
                roster_import::created_at,
                roster_import::confirmed_at,
                roster_import::kept_until,
                roster_import::summary,
            ))
            .load(c))?;
        let line = |(id, status, staff, name, sent_at, confirmed_at, kept_until, summary): Found| {
            let summary = serde_json::from_value(summary)?;
            Ok(ImportLine { id, status, sent_by: (staff, name), sent_at, confirmed_at, kept_until, summary })
        };
        rows.into_iter().map(line).collect()
    }

    /// How far an import is, also where its rows are gone.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn import_status(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        id: RosterImportId,
    ) -> Result<ImportStatus, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => roster_import::table
            .find((school, id))
            .select(roster_import::status)
            .first(c))?)
    }
}
