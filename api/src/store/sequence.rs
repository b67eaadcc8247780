//! Sequences, their drafts and published versions.

use std::sync::Arc;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Publish, Read},
        resource::{Sequence, SequenceDraft, Sequences},
    },
    id::{SchoolId, SequenceId, StaffId, VersionId},
    sequence::{Content, Course, Known, Published},
    time::{Date, Instant},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{sequence, sequence_version},
};

/// A sequence.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = sequence)]
pub struct SequenceRow {
    /// Its id.
    pub id: SequenceId,
    /// Its name.
    pub name: String,
    /// Version of this row.
    pub v: i64,
}

/// A draft.
#[derive(Clone, Debug)]
pub struct DraftRow {
    /// What it holds.
    pub content: Content,
    /// Its version.
    pub v: i64,
}

/// A published version without its content.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = sequence_version)]
pub struct VersionHead {
    /// Its id.
    pub id: VersionId,
    /// Its sequence.
    pub sequence_id: SequenceId,
    /// 1, 2, 3 ...
    pub number: i32,
    /// First day it is taught from.
    pub effective_on: Date,
    /// What changed, in the lead's words.
    pub note: Option<String>,
    /// Who published it.
    pub published_by: StaffId,
    /// When.
    pub published_at: Instant,
    /// First day it is not taught from any more.
    pub withdrawn_on: Option<Date>,
    /// Why, in the lead's words.
    pub withdrawn_note: Option<String>,
}

/// A published version.
#[derive(Clone, Debug)]
pub struct VersionRow {
    /// All but the content.
    pub head: VersionHead,
    /// What it holds; never changes.
    pub content: Arc<Content>,
}

#[derive(Insertable)]
#[diesel(table_name = sequence_version, treat_none_as_default_value = false)]
struct VersionInsert<'a> {
    school_id: SchoolId,
    id: VersionId,
    sequence_id: SequenceId,
    number: i32,
    effective_on: Date,
    note: Option<&'a str>,
    content: serde_json::Value,
    published_by: StaffId,
    published_at: Instant,
    v: i64,
}

impl<'tx> Tx<'tx> {
    /// The school's sequences by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sequences(&mut self, _permit: &Permit<'tx, Read, Sequences>) -> Result<Vec<SequenceRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => sequence::table
            .filter(sequence::school_id.eq(school))
            .order((sequence::name, sequence::id))
            .select(SequenceRow::as_select())
            .load(c))?)
    }

    /// One sequence.
    ///
    /// # Errors
    /// If the store fails.
    pub fn sequence<A>(&mut self, permit: &Permit<'tx, A, Sequence>) -> Result<SequenceRow, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        Ok(db!(self.conn, c => sequence::table.find((school, id)).select(SequenceRow::as_select()).first(c))?)
    }

    /// Adds a sequence with an empty draft.
    ///
    /// # Errors
    /// If the store fails.
    pub fn add_sequence(
        &mut self,
        _permit: &Permit<'tx, Manage, Sequences>,
        name: &str,
    ) -> Result<SequenceRow, Error> {
        let row = SequenceRow { id: self.new_id(), name: name.to_owned(), v: self.version };
        let (school, draft) = (self.school(), serde_json::to_value(Content::default())?);
        db!(self.conn, c => diesel::insert_into(sequence::table)
            .values((
                sequence::school_id.eq(school),
                sequence::id.eq(row.id),
                sequence::name.eq(&row.name),
                sequence::draft.eq(draft),
                sequence::draft_v.eq(row.v),
                sequence::v.eq(row.v),
            ))
            .execute(c))?;
        self.save("sequence", row.id.uuid(), &[], &json!({"name": row.name}))?;
        Ok(row)
    }

    /// A sequence's draft.
    ///
    /// # Errors
    /// If the store fails.
    pub fn draft<A>(&mut self, permit: &Permit<'tx, A, SequenceDraft>) -> Result<DraftRow, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let (draft, v): (serde_json::Value, i64) = db!(self.conn, c => sequence::table
            .find((school, id))
            .select((sequence::draft, sequence::draft_v))
            .first(c))?;
        Ok(DraftRow { content: serde_json::from_value(draft)?, v })
    }

    /// Saves a sequence's draft whole.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the draft is no longer at `base_v`.
    pub fn save_draft(
        &mut self,
        permit: &Permit<'tx, Manage, SequenceDraft>,
        content: &Content,
        base_v: i64,
    ) -> Result<DraftRow, Error> {
        if self.draft(permit)?.v != base_v {
            return Err(Error::Conflict);
        }
        let (school, id, v) = (self.school(), permit.resource().0, self.version);
        let draft = serde_json::to_value(content)?;
        db!(self.conn, c => diesel::update(sequence::table.find((school, id)))
            .set((sequence::draft.eq(&draft), sequence::draft_v.eq(v)))
            .execute(c))?;
        self.save("sequence_draft", id.uuid(), &[], &draft)?;
        Ok(DraftRow { content: content.clone(), v })
    }

    /// What this sequence has used before: in the draft, and in its versions from the latest on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn known_of_sequence<A>(&mut self, permit: &Permit<'tx, A, SequenceDraft>) -> Result<Known, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let contents: Vec<serde_json::Value> = db!(self.conn, c => sequence_version::table
            .filter(sequence_version::school_id.eq(school))
            .filter(sequence_version::sequence_id.eq(id))
            .order(sequence_version::number.desc())
            .select(sequence_version::content)
            .load(c))?;
        let mut known = Known::default();
        known.add(&self.draft(permit)?.content);
        for content in contents {
            known.add(&serde_json::from_value(content)?);
        }
        Ok(known)
    }

    /// Publishes content as the sequence's next version.
    ///
    /// # Errors
    /// If the store fails.
    pub fn publish(
        &mut self,
        permit: &Permit<'tx, Publish, Sequence>,
        content: &Content,
        effective_on: Date,
        note: Option<&str>,
    ) -> Result<VersionHead, Error> {
        let id = permit.resource().0;
        let number = self.version_heads(id)?.first().map_or(1, |latest| latest.number + 1);
        let row = VersionInsert {
            school_id: self.school(),
            id: self.new_id(),
            sequence_id: id,
            number,
            effective_on,
            note,
            content: serde_json::to_value(content)?,
            published_by: self.actor.staff,
            published_at: self.now(),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(sequence_version::table).values(&row).execute(c))?;
        let head = VersionHead {
            id: row.id,
            sequence_id: id,
            number,
            effective_on,
            note: note.map(str::to_owned),
            published_by: row.published_by,
            published_at: row.published_at,
            withdrawn_on: None,
            withdrawn_note: None,
        };
        self.save_version(&head)?;
        Ok(head)
    }

    /// Withdraws a version from a day on with the reason, or has it taught from again.
    ///
    /// # Errors
    /// [`Error::Missing`] if the sequence has no such version.
    pub fn withdraw(
        &mut self,
        permit: &Permit<'tx, Publish, Sequence>,
        id: VersionId,
        from: Option<(Date, &str)>,
    ) -> Result<VersionHead, Error> {
        self.version_of(permit, id)?;
        let (school, on, note, v) =
            (self.school(), from.map(|one| one.0), from.map(|one| one.1), self.version);
        db!(self.conn, c => diesel::update(sequence_version::table.find((school, id)))
            .set((
                sequence_version::withdrawn_on.eq(on),
                sequence_version::withdrawn_note.eq(note),
                sequence_version::v.eq(v),
            ))
            .execute(c))?;
        let head = self.version_row(id)?.head;
        self.save_version(&head)?;
        Ok(head)
    }

    fn save_version(&mut self, head: &VersionHead) -> Result<(), Error> {
        let VersionHead { sequence_id, number, effective_on, note, withdrawn_on, withdrawn_note, .. } = head;
        let body = json!({"sequence_id": sequence_id, "number": number, "effective_on": effective_on,
            "note": note, "withdrawn_on": withdrawn_on, "withdrawn_note": withdrawn_note});
        self.save("sequence_version", head.id.uuid(), &[Scope::School], &body)
    }

    /// A sequence's versions, latest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn versions<A>(&mut self, permit: &Permit<'tx, A, Sequence>) -> Result<Vec<VersionHead>, Error> {
        self.version_heads(permit.resource().0)
    }

    fn version_heads(&mut self, id: SequenceId) -> Result<Vec<VersionHead>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => sequence_version::table
            .filter(sequence_version::school_id.eq(school))
            .filter(sequence_version::sequence_id.eq(id))
            .order(sequence_version::number.desc())
            .select(VersionHead::as_select())
            .load(c))?)
    }

    /// The sequence a version belongs to.
    ///
    /// # Errors
    /// [`Error::Missing`] if the school has no such version.
    pub fn sequence_of<A>(
        &mut self,
        _permit: &Permit<'tx, A, Sequences>,
        id: VersionId,
    ) -> Result<SequenceId, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => sequence_version::table
            .find((school, id))
            .select(sequence_version::sequence_id)
            .first(c))?)
    }

    /// One version of a sequence with its content.
    ///
    /// # Errors
    /// [`Error::Missing`] if the sequence has no such version.
    pub fn version_of<A>(
        &mut self,
        permit: &Permit<'tx, A, Sequence>,
        id: VersionId,
    ) -> Result<VersionRow, Error> {
        let row = self.version_row(id)?;
        if row.head.sequence_id == permit.resource().0 { Ok(row) } else { Err(Error::Missing) }
    }

    pub(super) fn version_row(&mut self, id: VersionId) -> Result<VersionRow, Error> {
        let school = self.school();
        let head: VersionHead = db!(self.conn, c => sequence_version::table
            .find((school, id))
            .select(VersionHead::as_select())
            .first(c))?;
        if let Some(content) = self.versions.get(school, id) {
            return Ok(VersionRow { head, content });
        }
        let content: serde_json::Value = db!(self.conn, c => sequence_version::table
            .find((school, id))
            .select(sequence_version::content)
            .first(c))?;
        let content: Arc<Content> = Arc::new(serde_json::from_value(content)?);
        self.versions.keep(school, id, content.clone());
        Ok(VersionRow { head, content })
    }

    /// The version of a sequence in force on a day for who follows it, if any.
    ///
    /// # Errors
    /// If the store fails.
    pub fn version_on<A>(
        &mut self,
        permit: &Permit<'tx, A, Sequence>,
        on: Date,
    ) -> Result<Option<VersionRow>, Error> {
        let found = self.course(permit.resource().0)?.in_force(on);
        found.map(|id| self.version_row(id)).transpose()
    }

    /// The versions of a sequence by their days, as who follows it is taught from them.
    pub(super) fn course(&mut self, id: SequenceId) -> Result<Course, Error> {
        let published = self.version_heads(id)?.into_iter().map(|head| Published {
            id: head.id,
            number: head.number,
            effective_on: head.effective_on,
            withdrawn_on: head.withdrawn_on,
        });
        Ok(Course { published: published.collect(), kept: Vec::new() })
    }
}
