//! The school's reading books. The words of a book are kept while the book is, and stand in no
//! history: what is deleted is gone.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource,
    },
    book::{Book, BookText, ImportPlan, Reference, Source},
    id::{BookId, SchoolId},
    text::Title,
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::{ChangeKind, Scope},
    conn::db,
    schema::book,
};

/// A book.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = book, treat_none_as_default_value = false)]
pub struct BookRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: BookId,
    /// Its title.
    pub title: String,
    /// The school's code.
    pub reference: Option<String>,
    /// What the school gave.
    pub source: Source,
    /// The words.
    pub words: String,
    /// Version of this row.
    pub v: i64,
}

impl BookRow {
    /// The core's form.
    fn book(&self) -> Result<Book, Error> {
        let damaged = |_| Error::Damaged("book".into());
        Ok(Book {
            title: Title::new(&self.title).map_err(damaged)?,
            reference: self.reference.as_deref().map(Reference::new).transpose().map_err(damaged)?,
            source: self.source,
            text: BookText::new(&self.words).map_err(|_| Error::Damaged("book".into()))?,
        })
    }
}

impl<'tx> Tx<'tx> {
    /// Books by title, those behind `after`.
    ///
    /// # Errors
    /// [`Error::Missing`] if `after` is no book of the school.
    pub fn books(
        &mut self,
        _permit: &Permit<'tx, Read, resource::Books>,
        after: Option<BookId>,
        limit: i64,
    ) -> Result<Vec<BookRow>, Error> {
        let school = self.school();
        let after_id = after.unwrap_or_else(|| BookId::from_uuid(uuid::Uuid::nil()));
        let after_title: String = match after {
            None => String::new(),
            Some(id) => db!(self.conn, c => book::table.find((school, id)).select(book::title).first(c))?,
        };
        Ok(db!(self.conn, c => book::table
            .filter(book::school_id.eq(school))
            .filter(book::title.gt(&after_title).or(book::title.eq(&after_title).and(book::id.gt(after_id))))
            .order((book::title, book::id))
            .limit(limit)
            .select(BookRow::as_select())
            .load(c))?)
    }

    /// Every book, by title.
    ///
    /// # Errors
    /// If the store fails.
    pub fn all_books<A>(&mut self, _permit: &Permit<'tx, A, resource::Books>) -> Result<Vec<BookRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => book::table
            .filter(book::school_id.eq(school))
            .order((book::title, book::id))
            .select(BookRow::as_select())
            .load(c))?)
    }

    /// One book.
    ///
    /// # Errors
    /// If the store fails.
    pub fn book<A>(&mut self, permit: &Permit<'tx, A, resource::Book>) -> Result<BookRow, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        Ok(db!(self.conn, c => book::table.find((school, id)).select(BookRow::as_select()).first(c))?)
    }

    /// Adds a book.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the reference is taken.
    pub fn add_book(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Books>,
        new: &Book,
    ) -> Result<BookRow, Error> {
        let row = self.row_of(self.new_id(), new);
        db!(self.conn, c => diesel::insert_into(book::table).values(&row).execute(c))?;
        self.save_book(&row)?;
        Ok(row)
    }

    /// Changes a book to this.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v` or the reference is taken.
    pub fn change_book(
        &mut self,
        permit: &Permit<'tx, Manage, resource::Book>,
        new: &Book,
        base_v: i64,
    ) -> Result<BookRow, Error> {
        if self.book(permit)?.v != base_v {
            return Err(Error::Conflict);
        }
        self.write_book(permit.resource().0, new)
    }

    /// Removes a book and its words.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v`.
    pub fn remove_book(
        &mut self,
        permit: &Permit<'tx, Manage, resource::Book>,
        base_v: i64,
    ) -> Result<(), Error> {
        if self.book(permit)?.v != base_v {
            return Err(Error::Conflict);
        }
        let (school, id) = (self.school(), permit.resource().0);
        db!(self.conn, c => diesel::delete(book::table.find((school, id))).execute(c))?;
        self.save("book", id.uuid(), &[], &serde_json::Value::Null)?;
        self.log("book", id.uuid(), &[Scope::School], ChangeKind::Del)
    }

    /// The books in the core's form, to match a file with.
    ///
    /// # Errors
    /// If the store fails.
    pub fn books_to_match(
        &mut self,
        permit: &Permit<'tx, Manage, resource::Books>,
    ) -> Result<Vec<(BookId, Book)>, Error> {
        self.all_books(permit)?.into_iter().map(|row| Ok((row.id, row.book()?))).collect()
    }

    /// Does what a file would change; returns the new books' ids in the plan's order.
    ///
    /// # Errors
    /// If the store fails.
    pub fn import_books(
        &mut self,
        permit: &Permit<'tx, Manage, resource::Books>,
        plan: &ImportPlan,
    ) -> Result<Vec<BookId>, Error> {
        for (_, id, new) in &plan.changed {
            self.write_book(*id, new)?;
        }
        plan.added.iter().map(|(_, new)| Ok(self.add_book(permit, new)?.id)).collect()
    }

    fn write_book(&mut self, id: BookId, new: &Book) -> Result<BookRow, Error> {
        let (school, row) = (self.school(), self.row_of(id, new));
        db!(self.conn, c => diesel::update(book::table.find((school, id)))
            .set((
                book::title.eq(&row.title),
                book::reference.eq(&row.reference),
                book::source.eq(row.source),
                book::words.eq(&row.words),
                book::v.eq(row.v),
            ))
            .execute(c))?;
        self.save_book(&row)?;
        Ok(row)
    }

    fn row_of(&self, id: BookId, new: &Book) -> BookRow {
        BookRow {
            school_id: self.school(),
            id,
            title: new.title.to_string(),
            reference: new.reference.as_ref().map(ToString::to_string),
            source: new.source,
            words: new.text.as_str().to_owned(),
            v: self.version,
        }
    }

    fn save_book(&mut self, row: &BookRow) -> Result<(), Error> {
        let body = json!({"title": row.title, "reference": row.reference, "source": row.source,
                          "bytes": row.words.len()});
        self.save("book", row.id.uuid(), &[Scope::School], &body)
    }
}
