//! Pseudo-words made for a check, and who approved them.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Record},
        resource::SchoolWords,
    },
    id::{PseudoWordSetId, SchoolId, StaffId},
    time::Instant,
};
use serde_json::{Value, json};

use super::{Error, Permit, Tx, change::Scope, conn::db, schema::pseudo_word_set};

/// Pseudo-words made for a check.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = pseudo_word_set, treat_none_as_default_value = false)]
pub struct PseudoWordSetRow {
    school_id: SchoolId,
    /// Its id.
    pub id: PseudoWordSetId,
    /// Its name.
    pub name: String,
    words: Value,
    /// Who made it.
    pub made_by: StaffId,
    /// When.
    pub made_at: Instant,
    /// Who approved it.
    pub approved_by: Option<StaffId>,
    /// When.
    pub approved_at: Option<Instant>,
    /// Its version.
    pub v: i64,
}

#[diesel::declare_sql_function]
extern "SQL" {
    /// How many values a JSON list holds, in both stores.
    fn json_array_length(list: crate::store::types::sql::Json) -> diesel::sql_types::Integer;
}

/// A set without its words.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = pseudo_word_set)]
pub struct PseudoWordSetHead {
    /// Its id.
    pub id: PseudoWordSetId,
    /// Its name.
    pub name: String,
    /// How many words it holds.
    #[diesel(select_expression = json_array_length(pseudo_word_set::words))]
    pub count: i32,
    /// Who made it.
    pub made_by: StaffId,
    /// When.
    pub made_at: Instant,
    /// Who approved it.
    pub approved_by: Option<StaffId>,
    /// When.
    pub approved_at: Option<Instant>,
}

impl PseudoWordSetRow {
    /// The words, in lower case, in order.
    ///
    /// # Errors
    /// [`Error::Damaged`] if they are no list.
    pub fn words(&self) -> Result<Vec<String>, Error> {
        Ok(serde_json::from_value(self.words.clone())?)
    }
}

impl<'tx> Tx<'tx> {
    /// The school's pseudo-word sets without their words, latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pseudo_word_sets<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
    ) -> Result<Vec<PseudoWordSetHead>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pseudo_word_set::table
            .filter(pseudo_word_set::school_id.eq(school))
            .order((pseudo_word_set::made_at.desc(), pseudo_word_set::id))
            .select(PseudoWordSetHead::as_select())
            .load(c))?)
    }

    /// How many pseudo-word sets the school has.
    ///
    /// # Errors
    /// If the store fails.
    pub fn count_pseudo_word_sets<A>(&mut self, _permit: &Permit<'tx, A, SchoolWords>) -> Result<i64, Error> {
        let school = self.school();
        let sets = pseudo_word_set::table.filter(pseudo_word_set::school_id.eq(school)).count();
        Ok(db!(self.conn, c => sets.get_result(c))?)
    }

    /// One set.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn pseudo_word_set<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
        id: PseudoWordSetId,
    ) -> Result<PseudoWordSetRow, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pseudo_word_set::table
            .find((school, id))
            .select(PseudoWordSetRow::as_select())
            .first(c))?)
    }

    /// Keeps a set that was made.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_pseudo_word_set(
        &mut self,
        _permit: &Permit<'tx, Record, SchoolWords>,
        name: &str,
        words: &[String],
    ) -> Result<PseudoWordSetRow, Error> {
        let row = PseudoWordSetRow {
            school_id: self.school(),
            id: self.new_id(),
            name: name.to_owned(),
            words: json!(words),
            made_by: self.actor.staff,
            made_at: self.now(),
            approved_by: None,
            approved_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(pseudo_word_set::table).values(&row).execute(c))?;
        self.save_set(&row)?;
        Ok(row)
    }

    /// Approves a set with the words that stay in it.
    ///
    /// # Errors
    /// [`Error::Missing`], or [`Error::Conflict`] if it is no longer at `base_v` or approved already.
    pub fn approve_pseudo_word_set(
        &mut self,
        permit: &Permit<'tx, Manage, SchoolWords>,
        id: PseudoWordSetId,
        words: &[String],
        base_v: i64,
    ) -> Result<PseudoWordSetRow, Error> {
        let old = self.pseudo_word_set(permit, id)?;
        if old.v != base_v || old.approved_at.is_some() {
            return Err(Error::Conflict);
        }
        let row = PseudoWordSetRow {
            words: json!(words),
            approved_by: Some(self.actor.staff),
            approved_at: Some(self.now()),
            v: self.version,
            ..old
        };
        db!(self.conn, c => diesel::update(pseudo_word_set::table.find((row.school_id, row.id)))
            .set((
                pseudo_word_set::words.eq(&row.words),
                pseudo_word_set::approved_by.eq(row.approved_by),
                pseudo_word_set::approved_at.eq(row.approved_at),
                pseudo_word_set::v.eq(row.v),
            ))
            .execute(c))?;
        self.save_set(&row)?;
        Ok(row)
    }

    /// Takes a set away; checks made of it keep their words.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, [`Error::Conflict`] if it is no longer at `base_v`.
    pub fn remove_pseudo_word_set(
        &mut self,
        permit: &Permit<'tx, Manage, SchoolWords>,
        id: PseudoWordSetId,
        base_v: i64,
    ) -> Result<(), Error> {
        if self.pseudo_word_set(permit, id)?.v != base_v {
            return Err(Error::Conflict);
        }
        let school = self.school();
        db!(self.conn, c => diesel::delete(pseudo_word_set::table.find((school, id))).execute(c))?;
        self.save_gone("pseudo_word_set", id.uuid(), &[Scope::School])
    }

    fn save_set(&mut self, row: &PseudoWordSetRow) -> Result<(), Error> {
        let body = json!({
            "name": row.name, "words": row.words, "made_by": row.made_by, "made_at": row.made_at,
            "approved_by": row.approved_by, "approved_at": row.approved_at,
        });
        self.save("pseudo_word_set", row.id.uuid(), &[Scope::School], &body)
    }
}
