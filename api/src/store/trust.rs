//! A trust, at the school where its lead works: which schools it has, and what they showed it. The one place where a
//! transaction reads rows of another school: what that school addressed to this trust, has not withdrawn, and is on this
//! trust's list for.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::TrustReports,
    },
    id::{SchoolId, StaffId, TrustSchoolId, TrustShareId},
    time::Instant,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{trust_file, trust_school, trust_share},
};

/// A school of the trust.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = trust_school, treat_none_as_default_value = false)]
pub struct TrustSchoolRow {
    school_id: SchoolId,
    /// Its place on the list.
    pub id: TrustSchoolId,
    /// The school.
    pub member_id: SchoolId,
    /// As the trust calls it.
    pub name: String,
    /// What its server signs files with.
    pub file_key: Option<String>,
    added_by: StaffId,
    /// When it was put on the list.
    pub added_at: Instant,
    /// Its version.
    pub v: i64,
}

/// Something a school showed the trust.
#[derive(Clone, Debug)]
pub struct TrustShown {
    /// Its id.
    pub id: TrustShareId,
    /// The school.
    pub member_id: SchoolId,
    /// What left it.
    pub body: String,
    /// When it was shared, or came as a file.
    pub at: Instant,
    /// Whether it came as a file.
    pub by_file: bool,
}

pub(super) type Columns = (TrustShareId, SchoolId, String, Instant);

pub(super) fn shown(by_file: bool) -> impl Fn(Columns) -> TrustShown {
    move |(id, member_id, body, at)| TrustShown { id, member_id, body, at, by_file }
}

impl<'tx> Tx<'tx> {
    /// The schools of the trust, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn trust_schools<A>(
        &mut self,
        _permit: &Permit<'tx, A, TrustReports>,
    ) -> Result<Vec<TrustSchoolRow>, Error> {
        let trust = self.school();
        Ok(db!(self.conn, c => trust_school::table
            .filter(trust_school::school_id.eq(trust))
            .order((trust_school::name, trust_school::id))
            .select(TrustSchoolRow::as_select())
            .load(c))?)
    }

    /// Puts a school on the list. That shows nothing of it: the school has to share.
    ///
    /// # Errors
    /// [`Error::Taken`] if it is on the list.
    pub fn add_trust_school(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        member: SchoolId,
        name: &str,
        file_key: Option<&str>,
    ) -> Result<TrustSchoolRow, Error> {
        let row = TrustSchoolRow {
            school_id: self.school(),
            id: self.new_id(),
            member_id: member,
            name: name.to_owned(),
            file_key: file_key.map(str::to_owned),
            added_by: self.actor.staff,
            added_at: self.now(),
            v: self.version,
        };
        let added = db!(self.conn, c => diesel::insert_into(trust_school::table)
            .values(&row)
            .on_conflict((trust_school::school_id, trust_school::member_id))
            .do_nothing()
            .execute(c))?;
        if added == 0 {
            return Err(Error::Taken("school_id"));
        }
        self.about("trust_school", row.id.uuid());
        Ok(row)
    }

    /// A school on the list.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not on it.
    pub fn trust_school<A>(
        &mut self,
        _permit: &Permit<'tx, A, TrustReports>,
        id: TrustSchoolId,
    ) -> Result<TrustSchoolRow, Error> {
        let trust = self.school();
        self.about("trust_school", id.uuid());
        Ok(db!(self.conn, c => trust_school::table
            .find((trust, id))
            .select(TrustSchoolRow::as_select())
            .first(c))?)
    }

    /// Has another key, or none, for a school's files from now on. What came of it stays.
    ///
    /// # Errors
    /// If the store fails.
    pub fn set_trust_file_key(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        old: TrustSchoolRow,
        file_key: Option<&str>,
    ) -> Result<TrustSchoolRow, Error> {
        let row = TrustSchoolRow { file_key: file_key.map(str::to_owned), v: self.version, ..old };
        db!(self.conn, c => diesel::update(trust_school::table.find((row.school_id, row.id)))
            .set((trust_school::file_key.eq(&row.file_key), trust_school::v.eq(row.v)))
            .execute(c))?;
        Ok(row)
    }

    /// Takes a school off the list, with the files that came of it.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not on it.
    pub fn remove_trust_school(
        &mut self,
        _permit: &Permit<'tx, Manage, TrustReports>,
        id: TrustSchoolId,
    ) -> Result<(), Error> {
        let trust = self.school();
        self.about("trust_school", id.uuid());
        let member: SchoolId = db!(self.conn, c => trust_school::table
            .find((trust, id))
            .select(trust_school::member_id)
            .first(c))?;
        db!(self.conn, c => diesel::delete(trust_file::table
            .filter(trust_file::school_id.eq(trust))
            .filter(trust_file::member_id.eq(member)))
            .execute(c))?;
        db!(self.conn, c => diesel::delete(trust_school::table.find((trust, id))).execute(c))?;
        Ok(())
    }

    /// What schools on the list showed the trust, of one school year or of all: files first, the earlier first, so that
    /// of one half term what the school shares on this server counts.
    ///
    /// # Errors
    /// If the store fails.
    pub fn shown_to_trust(
        &mut self,
        _permit: &Permit<'tx, Read, TrustReports>,
        school_year: Option<i32>,
    ) -> Result<Vec<TrustShown>, Error> {
        let trust = self.school();
        let (from, to) = (school_year.unwrap_or(i32::MIN), school_year.unwrap_or(i32::MAX));
        let files: Vec<Columns> = db!(self.conn, c => trust_file::table
            .filter(trust_file::school_id.eq(trust))
            .filter(trust_file::school_year.between(from, to))
            .order(trust_file::id)
            .select((trust_file::id, trust_file::member_id, trust_file::body, trust_file::taken_at))
            .load(c))?;
        let shares: Vec<Columns> = db!(self.conn, c => trust_share::table
            .inner_join(trust_school::table.on(trust_school::school_id.eq(trust_share::trust_id)
                .and(trust_school::member_id.eq(trust_share::school_id))))
            .filter(trust_share::trust_id.eq(trust))
            .filter(trust_share::withdrawn_at.is_null())
            .filter(trust_share::school_year.between(from, to))
            .order(trust_share::id)
            .select((trust_share::id, trust_share::school_id, trust_share::body, trust_share::shared_at))
            .load(c))?;
        Ok(files.into_iter().map(shown(true)).chain(shares.into_iter().map(shown(false))).collect())
    }

    /// One of these.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, or the school withdrew it.
    pub fn one_shown_to_trust(
        &mut self,
        _permit: &Permit<'tx, Read, TrustReports>,
        id: TrustShareId,
    ) -> Result<TrustShown, Error> {
        let trust = self.school();
        self.about("trust_share", id.uuid());
        let file: Option<Columns> = db!(self.conn, c => trust_file::table
            .find((trust, id))
            .select((trust_file::id, trust_file::member_id, trust_file::body, trust_file::taken_at))
            .first(c)
            .optional())?;
        if let Some(file) = file {
            return Ok(shown(true)(file));
        }
        let share: Columns = db!(self.conn, c => trust_share::table
            .inner_join(trust_school::table.on(trust_school::school_id.eq(trust_share::trust_id)
                .and(trust_school::member_id.eq(trust_share::school_id))))
            .filter(trust_share::trust_id.eq(trust))
            .filter(trust_share::withdrawn_at.is_null())
            .filter(trust_share::id.eq(id))
            .select((trust_share::id, trust_share::school_id, trust_share::body, trust_share::shared_at))
            .first(c))?;
        Ok(shown(false)(share))
    }
}
