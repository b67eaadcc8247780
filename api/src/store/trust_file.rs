//! What came of the schools of a trust as files, and which was the last of each half term.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    id::{SchoolId, StaffId, TrustShareId},
    text::{one_name, search_key},
    time::Instant,
    trust::Shared,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{trust_file, trust_file_signed},
    trust::{TrustShown, shown},
};

#[derive(Insertable)]
#[diesel(table_name = trust_file, treat_none_as_default_value = false)]
struct FileRow<'a> {
    school_id: SchoolId,
    id: TrustShareId,
    member_id: SchoolId,
    school_year: i32,
    half_term: &'a str,
    body: &'a str,
    taken_by: StaffId,
    taken_at: Instant,
}

#[derive(Insertable)]
#[diesel(table_name = trust_file_signed, treat_none_as_default_value = false)]
struct SignedRow {
    school_id: SchoolId,
    member_id: SchoolId,
    school_year: i32,
    half_term: String,
    signed_at: Instant,
}

/// A half term's name as it is found: a school may write it in another way the next time.
fn one_half_term(shared: &Shared) -> String {
    search_key(shared.half_term())
}

impl<'tx> Tx<'tx> {
    /// When the last file of the same school and half term was signed that was taken, whether it is here or was dropped.
    ///
    /// # Errors
    /// If the store fails.
    pub fn trust_file_signed_at(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        shared: &Shared,
    ) -> Result<Option<Instant>, Error> {
        let trust = self.school();
        let (member, year, half_term) =
            (shared.figures.school_id, shared.figures.school_year, one_half_term(shared));
        Ok(db!(self.conn, c => trust_file_signed::table
            .find((trust, member, year, &half_term))
            .select(trust_file_signed::signed_at)
            .first(c)
            .optional())?)
    }

    /// Keeps what came as a file, signed then, in the place of an earlier one of the same half term.
    ///
    /// # Errors
    /// If the store fails.
    pub fn take_trust_file(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        shared: &Shared,
        signed_at: Instant,
    ) -> Result<TrustShown, Error> {
        let body = serde_json::to_string(shared)?;
        let row = FileRow {
            school_id: self.school(),
            id: self.new_id(),
            member_id: shared.figures.school_id,
            school_year: shared.figures.school_year,
            half_term: shared.half_term(),
            body: &body,
            taken_by: self.actor.staff,
            taken_at: self.now(),
        };
        let earlier: Vec<(TrustShareId, String)> = db!(self.conn, c => trust_file::table
            .filter(trust_file::school_id.eq(row.school_id))
            .filter(trust_file::member_id.eq(row.member_id))
            .filter(trust_file::school_year.eq(row.school_year))
            .select((trust_file::id, trust_file::half_term))
            .load(c))?;
        for (id, _) in earlier.into_iter().filter(|(_, half_term)| one_name(half_term, row.half_term)) {
            db!(self.conn, c => diesel::delete(trust_file::table.find((row.school_id, id))).execute(c))?;
        }
        let signed = SignedRow {
            school_id: row.school_id,
            member_id: row.member_id,
            school_year: row.school_year,
            half_term: one_half_term(shared),
            signed_at,
        };
        db!(self.conn, c => diesel::insert_into(trust_file_signed::table)
            .values(&signed)
            .on_conflict((
                trust_file_signed::school_id,
                trust_file_signed::member_id,
                trust_file_signed::school_year,
                trust_file_signed::half_term,
            ))
            .do_update()
            .set(trust_file_signed::signed_at.eq(signed_at))
            .execute(c))?;
        db!(self.conn, c => diesel::insert_into(trust_file::table).values(&row).execute(c))?;
        let (id, member, at) = (row.id, row.member_id, row.taken_at);
        self.about("trust_share", id.uuid());
        Ok(shown(true)((id, member, body, at)))
    }

    /// Drops what came as a file. When it was signed stays, so that it does not come back.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn drop_trust_file(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        id: TrustShareId,
    ) -> Result<(), Error> {
        let trust = self.school();
        self.about("trust_share", id.uuid());
        let dropped = db!(self.conn, c => diesel::delete(trust_file::table.find((trust, id))).execute(c))?;
        if dropped == 0 { Err(Error::Missing) } else { Ok(()) }
    }
}
