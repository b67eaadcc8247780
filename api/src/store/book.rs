//! The school's reading books. The words of a book are kept while the book is, and stand in no
//! history: what is deleted is gone.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource,
    },
    book::{Book, Counted, ImportPlan, KnownBook, Reference, Room, Source},
    id::{BookId, SchoolId},
    text::Title,
};
use serde_json::json;

use super::{Error, Permit, Tx, change::Scope, conn::db, schema::book};

/// A book with its words.
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
    bytes: i64,
    counted: Option<serde_json::Value>,
}

/// A book without its words.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = book)]
pub struct BookHead {
    /// Its id.
    pub id: BookId,
    /// Its title.
    pub title: String,
    /// The school's code.
    pub reference: Option<String>,
    /// What the school gave.
    pub source: Source,
    /// Bytes of its words.
    pub bytes: i64,
}

impl BookRow {
    /// Its words, counted.
    ///
    /// # Errors
    /// [`Error::Damaged`] if they are no count.
    pub fn counted(&self) -> Result<Counted, Error> {
        counted(self.counted.clone(), || self.words.clone())
    }

    fn is(&self, new: &Book) -> bool {
        let reference = new.reference.as_ref().map(Reference::as_str);
        (self.title.as_str(), self.reference.as_deref(), self.source, self.words.as_str())
            == (new.title.as_str(), reference, new.source, new.text.as_str())
    }
}

/// The count kept with a book, or that of its words where none is.
fn counted(kept: Option<serde_json::Value>, words: impl FnOnce() -> String) -> Result<Counted, Error> {
    Ok(match kept {
        Some(kept) => serde_json::from_value(kept)?,
        None => Counted::of(&words()),
    })
}

fn size(bytes: i64) -> usize {
    usize::try_from(bytes).unwrap_or_default()
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
    ) -> Result<Vec<BookHead>, Error> {
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
            .select(BookHead::as_select())
            .load(c))?)
    }

    /// Every book, by title.
    ///
    /// # Errors
    /// If the store fails.
    pub fn all_books<A>(
        &mut self,
        _permit: &Permit<'tx, A, resource::Books>,
    ) -> Result<Vec<BookHead>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => book::table
            .filter(book::school_id.eq(school))
            .order((book::title, book::id))
            .select(BookHead::as_select())
            .load(c))?)
    }

    /// The words of these books, counted, in their order.
    ///
    /// # Errors
    /// [`Error::Missing`] if one of them is gone.
    pub fn counted_books<A>(
        &mut self,
        _permit: &Permit<'tx, A, resource::Books>,
        heads: &[BookHead],
    ) -> Result<Vec<Counted>, Error> {
        let school = self.school();
        let of = |head: &BookHead| {
            let kept: Option<serde_json::Value> = db!(self.conn, c => book::table
                .find((school, head.id))
                .select(book::counted)
                .first(c))?;
            let words = match kept {
                Some(_) => String::new(),
                None => {
                    db!(self.conn, c => book::table.find((school, head.id)).select(book::words).first(c))?
                }
            };
            counted(kept, || words)
        };
        heads.iter().map(of).collect()
    }

    /// What the school's books take.
    ///
    /// # Errors
    /// If the store fails.
    pub fn book_room<A, R>(&mut self, _permit: &Permit<'tx, A, R>) -> Result<Room, Error> {
        let school = self.school();
        let bytes: Vec<i64> =
            db!(self.conn, c => book::table.filter(book::school_id.eq(school)).select(book::bytes).load(c))?;
        Ok(Room { books: bytes.len(), bytes: bytes.into_iter().map(size).sum() })
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
        let row = self.row_of(self.new_id(), new)?;
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
        self.save_gone("book", id.uuid(), &[Scope::School])
    }

    /// What tells the books apart, to match a file with.
    ///
    /// # Errors
    /// If the store fails.
    pub fn known_books(
        &mut self,
        permit: &Permit<'tx, Manage, resource::Books>,
    ) -> Result<Vec<KnownBook>, Error> {
        let damaged = |_| Error::Damaged("book".into());
        let known = |head: BookHead| {
            Ok(KnownBook {
                id: head.id,
                title: Title::new(&head.title).map_err(damaged)?,
                reference: head.reference.as_deref().map(Reference::new).transpose().map_err(damaged)?,
            })
        };
        self.all_books(permit)?.into_iter().map(known).collect()
    }

    /// Takes what the school holds already out of what a file would change; answers what the books
    /// that stay in it take now.
    ///
    /// # Errors
    /// If the store fails.
    pub fn leave_unchanged(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Books>,
        plan: &mut ImportPlan,
    ) -> Result<Room, Error> {
        let (school, mut same, mut old) = (self.school(), BTreeSet::new(), Room::default());
        for (_, id, new) in &plan.changed {
            let row: BookRow =
                db!(self.conn, c => book::table.find((school, *id)).select(BookRow::as_select()).first(c))?;
            if row.is(new) {
                same.insert(*id);
            } else {
                old = Room { books: old.books + 1, bytes: old.bytes + row.words.len() };
            }
        }
        plan.leave_unchanged(&same);
        Ok(old)
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
        let (school, row) = (self.school(), self.row_of(id, new)?);
        db!(self.conn, c => diesel::update(book::table.find((school, id)))
            .set((
                book::title.eq(&row.title),
                book::reference.eq(&row.reference),
                book::source.eq(row.source),
                book::words.eq(&row.words),
                book::v.eq(row.v),
                book::bytes.eq(row.bytes),
                book::counted.eq(&row.counted),
            ))
            .execute(c))?;
        self.save_book(&row)?;
        Ok(row)
    }

    fn row_of(&self, id: BookId, new: &Book) -> Result<BookRow, Error> {
        Ok(BookRow {
            school_id: self.school(),
            id,
            title: new.title.to_string(),
            reference: new.reference.as_ref().map(ToString::to_string),
            source: new.source,
            words: new.text.as_str().to_owned(),
            v: self.version,
            bytes: i64::try_from(new.text.as_str().len()).unwrap_or(i64::MAX),
            counted: Some(serde_json::to_value(new.text.counted())?),
        })
    }

    fn save_book(&mut self, row: &BookRow) -> Result<(), Error> {
        let body = json!({"title": row.title, "reference": row.reference, "source": row.source,
                          "bytes": row.words.len()});
        self.save("book", row.id.uuid(), &[Scope::School], &body)
    }
}
