//! Words a school never shows to children.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Record},
        resource::SchoolWords,
    },
    id::{SchoolId, StaffId, StruckWordId},
    phonics::word::Word,
    time::Instant,
};
use serde_json::json;

use super::{Error, Permit, Tx, change::Scope, conn::db, schema::struck_word};

/// A word never shown to children.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = struck_word, treat_none_as_default_value = false)]
pub struct StruckWordRow {
    school_id: SchoolId,
    /// Its id.
    pub id: StruckWordId,
    /// As written.
    pub word: String,
    /// What makes spellings of it one word.
    pub word_key: String,
    /// Who struck it.
    pub struck_by: StaffId,
    /// When.
    pub struck_at: Instant,
    v: i64,
}

impl<'tx> Tx<'tx> {
    /// The words struck, by spelling.
    ///
    /// # Errors
    /// If the store fails.
    pub fn struck_words<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
    ) -> Result<Vec<StruckWordRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => struck_word::table
            .filter(struck_word::school_id.eq(school))
            .order(struck_word::word_key)
            .select(StruckWordRow::as_select())
            .load(c))?)
    }

    /// How many words the school struck off.
    ///
    /// # Errors
    /// If the store fails.
    pub fn count_struck_words<A>(&mut self, _permit: &Permit<'tx, A, SchoolWords>) -> Result<i64, Error> {
        let school = self.school();
        let words = struck_word::table.filter(struck_word::school_id.eq(school)).count();
        Ok(db!(self.conn, c => words.get_result(c))?)
    }

    /// Strikes a word for ever, until the lead takes it back.
    ///
    /// # Errors
    /// [`Error::Conflict`] if it is struck already.
    pub fn strike_word(
        &mut self,
        _permit: &Permit<'tx, Record, SchoolWords>,
        word: &Word,
    ) -> Result<StruckWordRow, Error> {
        let row = StruckWordRow {
            school_id: self.school(),
            id: self.new_id(),
            word: word.given.clone(),
            word_key: word.key(),
            struck_by: self.actor.staff,
            struck_at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(struck_word::table).values(&row).execute(c))?;
        self.words_changed()?;
        self.save("struck_word", row.id.uuid(), &[Scope::School], &json!({}))?;
        Ok(row)
    }

    /// Takes a strike back.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn remove_strike(
        &mut self,
        _permit: &Permit<'tx, Manage, SchoolWords>,
        id: StruckWordId,
    ) -> Result<(), Error> {
        let school = self.school();
        let removed = db!(self.conn, c => diesel::delete(struck_word::table.find((school, id))).execute(c))?;
        if removed == 0 {
            return Err(Error::Missing);
        }
        self.words_changed()?;
        self.save_gone("struck_word", id.uuid(), &[Scope::School])
    }
}
