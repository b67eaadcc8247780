//! What a school showed its trust, as it left. The rows are the school's own; the trust reads them where they are
//! (`trust.rs`), so that what is withdrawn is gone at once.

use diesel::{dsl::exists, prelude::*, select};
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::{Sequences, TrustShares},
    },
    id::{ReportReleaseId, SchoolId, SequenceId, StaffId, TrustShareId, VersionId},
    time::Instant,
    trust::{Fingerprint, Shared},
};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{sequence, sequence_version, trust_school, trust_share},
};

/// Something shown to a trust.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = trust_share, treat_none_as_default_value = false)]
pub struct TrustShareRow {
    school_id: SchoolId,
    /// Its id.
    pub id: TrustShareId,
    /// The school where the trust's lead works.
    pub trust_id: SchoolId,
    /// The release it was cut out of.
    pub release_id: ReportReleaseId,
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The half term's name.
    pub half_term: String,
    /// What left: the same bytes for ever.
    pub body: String,
    /// Who shared it.
    pub shared_by: StaffId,
    /// When.
    pub shared_at: Instant,
    /// Who withdrew it.
    pub withdrawn_by: Option<StaffId>,
    /// When.
    pub withdrawn_at: Option<Instant>,
}

impl<'tx> Tx<'tx> {
    /// The fingerprints of versions, in their order.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such version.
    pub fn fingerprints_of(
        &mut self,
        _permit: &Permit<'tx, Read, Sequences>,
        versions: &[VersionId],
    ) -> Result<Vec<Fingerprint>, Error> {
        versions.iter().map(|id| Ok(Fingerprint::of(&self.version_row(*id)?.content))).collect()
    }

    /// All published versions: the sequence's id and name, the version's id and number. By name, the latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn all_versions(
        &mut self,
        _permit: &Permit<'tx, Read, Sequences>,
    ) -> Result<Vec<(SequenceId, String, VersionId, i32)>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => sequence_version::table
            .inner_join(sequence::table.on(sequence::school_id.eq(sequence_version::school_id)
                .and(sequence::id.eq(sequence_version::sequence_id))))
            .filter(sequence_version::school_id.eq(school))
            .order((sequence::name, sequence::id, sequence_version::number.desc()))
            .select((sequence::id, sequence::name, sequence_version::id, sequence_version::number))
            .load(c))?)
    }

    /// Shows a trust something.
    ///
    /// # Errors
    /// [`Error::Conflict`] where something else of the half term is shown to it.
    pub fn share_with_trust(
        &mut self,
        _permit: &Permit<'tx, Publish, TrustShares>,
        trust: SchoolId,
        shared: &Shared,
    ) -> Result<TrustShareRow, Error> {
        let row = TrustShareRow {
            school_id: self.school(),
            id: self.new_id(),
            trust_id: trust,
            release_id: shared.figures.release_id,
            school_year: shared.figures.school_year,
            half_term: shared.half_term().to_owned(),
            body: serde_json::to_string(shared)?,
            shared_by: self.actor.staff,
            shared_at: self.now(),
            withdrawn_by: None,
            withdrawn_at: None,
        };
        db!(self.conn, c => diesel::insert_into(trust_share::table).values(&row).execute(c))?;
        self.about("trust_share", row.id.uuid());
        Ok(row)
    }

    /// What the school showed any trust, the latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn trust_shares(
        &mut self,
        _permit: &Permit<'tx, Read, TrustShares>,
    ) -> Result<Vec<TrustShareRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => trust_share::table
            .filter(trust_share::school_id.eq(school))
            .order(trust_share::id.desc())
            .select(TrustShareRow::as_select())
            .load(c))?)
    }

    /// One of these.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn trust_share<A>(
        &mut self,
        _permit: &Permit<'tx, A, TrustShares>,
        id: TrustShareId,
    ) -> Result<TrustShareRow, Error> {
        let school = self.school();
        self.about("trust_share", id.uuid());
        Ok(db!(self.conn, c => trust_share::table
            .find((school, id))
            .select(TrustShareRow::as_select())
            .first(c))?)
    }

    /// Shows it no longer; when it was withdrawn before stays.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn withdraw_trust_share(
        &mut self,
        permit: &Permit<'tx, Publish, TrustShares>,
        id: TrustShareId,
    ) -> Result<(), Error> {
        if self.trust_share(permit, id)?.withdrawn_at.is_some() {
            return Ok(());
        }
        let (school, by, now) = (self.school(), self.actor.staff, self.now());
        db!(self.conn, c => diesel::update(trust_share::table.find((school, id)))
            .set((trust_share::withdrawn_by.eq(Some(by)), trust_share::withdrawn_at.eq(Some(now))))
            .execute(c))?;
        Ok(())
    }

    /// Whether a trust's list of schools is on this server and has this school on it: otherwise what is shared reaches
    /// it as a file or not at all.
    ///
    /// # Errors
    /// If the store fails.
    pub fn trust_reads_here<A>(
        &mut self,
        _permit: &Permit<'tx, A, TrustShares>,
        trust: SchoolId,
    ) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(trust_school::table
            .filter(trust_school::school_id.eq(trust))
            .filter(trust_school::member_id.eq(school))))
            .get_result(c))?)
    }
}
