//! A school's own words. One may be a name, so they stand in no history: what is taken out is gone.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::{SchoolId, SchoolWordId},
    phonics::school::ReadingText,
};
use serde_json::{Value, json};

use super::{Error, Permit, Tx, change::Scope, conn::db, schema::school_word};

/// A word a school adds, or reads in its own way.
#[derive(Clone, Debug, PartialEq)]
pub struct SchoolWordRow {
    /// Its id.
    pub id: SchoolWordId,
    /// As shown.
    pub word: String,
    /// Its readings, best first.
    pub readings: Vec<ReadingText>,
    /// Its version.
    pub v: i64,
}

type WordTuple = (SchoolWordId, String, Value, i64);

impl<'tx> Tx<'tx> {
    /// The school's own words by spelling.
    ///
    /// # Errors
    /// If the store fails.
    pub fn school_words<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
    ) -> Result<Vec<SchoolWordRow>, Error> {
        let school = self.school();
        let rows: Vec<WordTuple> = db!(self.conn, c => school_word::table
            .filter(school_word::school_id.eq(school))
            .order(school_word::word_key)
            .select((school_word::id, school_word::word, school_word::readings, school_word::v))
            .load(c))?;
        rows.into_iter().map(word_row).collect()
    }

    /// How many words of its own the school has.
    ///
    /// # Errors
    /// If the store fails.
    pub fn count_school_words<A>(&mut self, _permit: &Permit<'tx, A, SchoolWords>) -> Result<i64, Error> {
        let school = self.school();
        let words = school_word::table.filter(school_word::school_id.eq(school)).count();
        Ok(db!(self.conn, c => words.get_result(c))?)
    }

    /// One of the school's own words.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none.
    pub fn school_word<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolWords>,
        id: SchoolWordId,
    ) -> Result<SchoolWordRow, Error> {
        let school = self.school();
        word_row(db!(self.conn, c => school_word::table
            .find((school, id))
            .select((school_word::id, school_word::word, school_word::readings, school_word::v))
            .first(c))?)
    }

    /// Adds a word.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the school has it already.
    pub fn add_school_word(
        &mut self,
        _permit: &Permit<'tx, Manage, SchoolWords>,
        (word, key): (&str, &str),
        readings: Vec<ReadingText>,
    ) -> Result<SchoolWordRow, Error> {
        let (school, id, v): (SchoolId, SchoolWordId, i64) = (self.school(), self.new_id(), self.version);
        let json = serde_json::to_value(&readings)?;
        db!(self.conn, c => diesel::insert_into(school_word::table)
            .values((
                school_word::school_id.eq(school),
                school_word::id.eq(id),
                school_word::word.eq(word),
                school_word::word_key.eq(key),
                school_word::readings.eq(&json),
                school_word::v.eq(v),
            ))
            .execute(c))?;
        self.words_changed()?;
        self.save("school_word", id.uuid(), &[Scope::School], &json!({}))?;
        Ok(SchoolWordRow { id, word: word.to_owned(), readings, v })
    }

    /// Gives a word other readings.
    ///
    /// # Errors
    /// [`Error::Missing`], or [`Error::Conflict`] if it is no longer at `base_v`.
    pub fn update_school_word(
        &mut self,
        permit: &Permit<'tx, Manage, SchoolWords>,
        id: SchoolWordId,
        readings: Vec<ReadingText>,
        base_v: i64,
    ) -> Result<SchoolWordRow, Error> {
        let old = self.school_word(permit, id)?;
        if old.v != base_v {
            return Err(Error::Conflict);
        }
        let (school, v) = (self.school(), self.version);
        let json = serde_json::to_value(&readings)?;
        db!(self.conn, c => diesel::update(school_word::table.find((school, id)))
            .set((school_word::readings.eq(&json), school_word::v.eq(v)))
            .execute(c))?;
        self.words_changed()?;
        self.save("school_word", id.uuid(), &[Scope::School], &json!({}))?;
        Ok(SchoolWordRow { readings, v, ..old })
    }

    /// Takes a word out again: the lexicon's own reading counts.
    ///
    /// # Errors
    /// [`Error::Missing`] if there is none, [`Error::Conflict`] if it is no longer at `base_v`.
    pub fn remove_school_word(
        &mut self,
        permit: &Permit<'tx, Manage, SchoolWords>,
        id: SchoolWordId,
        base_v: i64,
    ) -> Result<(), Error> {
        if self.school_word(permit, id)?.v != base_v {
            return Err(Error::Conflict);
        }
        let school = self.school();
        db!(self.conn, c => diesel::delete(school_word::table.find((school, id))).execute(c))?;
        self.words_changed()?;
        self.save_gone("school_word", id.uuid(), &[Scope::School])
    }
}

fn word_row((id, word, readings, v): WordTuple) -> Result<SchoolWordRow, Error> {
    Ok(SchoolWordRow { id, word, readings: serde_json::from_value(readings)?, v })
}
