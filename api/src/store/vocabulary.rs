//! What a school itself says about words: what it counts as taught, and when any of it changed.

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::SchoolWords,
    },
    phonics::policy::Policy,
};
use serde_json::Value;

use super::{Error, Permit, SchoolWordRow, Tx, change::Scope, conn::db, schema::school_phonics};

/// What a school says about words, at one version.
#[derive(Clone, Debug, Default)]
pub struct Vocabulary {
    /// The version.
    pub version: i64,
    /// What it counts as taught.
    pub policy: Policy,
    /// Its own words.
    pub words: Vec<SchoolWordRow>,
    /// Words it struck, in lower case.
    pub struck: Vec<String>,
}

impl<'tx> Tx<'tx> {
    /// The version at which the school's words, strikes or policy last changed; 0 for never.
    ///
    /// # Errors
    /// If the store fails.
    pub fn words_version(&mut self, _permit: &Permit<'tx, Read, SchoolWords>) -> Result<i64, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => school_phonics::table
            .find(school)
            .select(school_phonics::words_v)
            .first(c)
            .optional())?
        .unwrap_or(0))
    }

    /// All the school says about words.
    ///
    /// # Errors
    /// If the store fails.
    pub fn vocabulary(&mut self, permit: &Permit<'tx, Read, SchoolWords>) -> Result<Vocabulary, Error> {
        Ok(Vocabulary {
            version: self.words_version(permit)?,
            policy: self.phonics_policy(permit)?.0,
            words: self.school_words(permit)?,
            struck: self.struck_words(permit)?.into_iter().map(|row| row.word_key).collect(),
        })
    }

    /// What the school counts as taught, and its version.
    ///
    /// # Errors
    /// If the store fails.
    pub fn phonics_policy<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
    ) -> Result<(Policy, i64), Error> {
        let school = self.school();
        let row: Option<(Value, i64)> = db!(self.conn, c => school_phonics::table
            .find(school)
            .select((school_phonics::policy, school_phonics::v))
            .first(c)
            .optional())?;
        Ok(match row {
            Some((policy, v)) => (serde_json::from_value(policy)?, v),
            None => (Policy::default(), 0),
        })
    }

    /// Says what the school counts as taught.
    ///
    /// # Errors
    /// If the store fails.
    pub fn set_phonics_policy(
        &mut self,
        _permit: &Permit<'tx, Manage, SchoolWords>,
        policy: Policy,
    ) -> Result<i64, Error> {
        let (school, v) = (self.school(), self.version);
        let policy = serde_json::to_value(policy)?;
        self.words_changed()?;
        db!(self.conn, c => diesel::update(school_phonics::table.find(school))
            .set((school_phonics::policy.eq(&policy), school_phonics::v.eq(v)))
            .execute(c))?;
        self.save("phonics_policy", school.uuid(), &[Scope::School], &policy)?;
        Ok(v)
    }

    /// Engines made of the words before are stale from this version on.
    pub(super) fn words_changed(&mut self) -> Result<(), Error> {
        let (school, v) = (self.school(), self.version);
        let policy = serde_json::to_value(Policy::default())?;
        db!(self.conn, c => diesel::insert_into(school_phonics::table)
            .values((
                school_phonics::school_id.eq(school),
                school_phonics::policy.eq(&policy),
                school_phonics::words_v.eq(v),
                school_phonics::v.eq(0_i64),
            ))
            .on_conflict(school_phonics::school_id)
            .do_update()
            .set(school_phonics::words_v.eq(excluded(school_phonics::words_v)))
            .execute(c))?;
        Ok(())
    }
}
