//! What was said of the optional fields of pupils. Values stand here, in the records a merge keeps for
//! taking it back and in pupil files; in no history and in no change log, so that removing them removes
//! them and no device gets them.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::PupilFields},
    id::{PupilId, SchoolId, StaffId},
    roster::optional::{Said, SaidFields, value_on},
    time::{Date, Instant},
};

use super::{Error, OptionalFieldRow, Permit, PupilChange, Tx, conn::db, pupils::BATCH, schema::pupil_field};

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = pupil_field, treat_none_as_default_value = false)]
struct SaidRow {
    school_id: SchoolId,
    pupil_id: PupilId,
    field: String,
    v: i64,
    from_on: Date,
    value: Option<String>,
    entered_by: StaffId,
    at: Instant,
}

impl SaidRow {
    fn into_said(self) -> (PupilId, String, Said) {
        let Self { pupil_id, field, v, from_on: from, value, entered_by, at, .. } = self;
        (pupil_id, field, Said { v, from, value, entered_by, at })
    }
}

/// A word on one field of one pupil: the field, the day it counts from, a code of the rule pack.
pub(super) type Word<'a> = (PupilId, &'a str, Date, Option<&'a str>);

/// A pupil's optional fields as they are.
#[derive(Clone, Debug)]
pub struct PupilFieldsView {
    /// The pupil's version.
    pub v: i64,
    /// The fields that are on, by key.
    pub on: Vec<OptionalFieldRow>,
    /// What was said.
    pub said: SaidFields,
}

impl<'tx> Tx<'tx> {
    /// What is recorded of a pupil in the fields that are on. Its reading is logged.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_fields<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilFields>,
    ) -> Result<PupilFieldsView, Error> {
        let id = permit.resource().0;
        self.about("pupil", id.uuid());
        Ok(PupilFieldsView { v: self.pupil_row(id)?.v, on: self.fields_on()?, said: self.said_of(id)? })
    }

    /// Says what a field of a pupil is from a day on, which makes the pupil's next version.
    ///
    /// # Errors
    /// If the store fails.
    pub fn set_pupil_field(
        &mut self,
        permit: &Permit<'tx, Manage, PupilFields>,
        field: &str,
        from: Date,
        value: Option<&str>,
    ) -> Result<PupilFieldsView, Error> {
        let id = permit.resource().0;
        self.say(&[(id, field, from, value)])?;
        self.apply_pupils(&[(id, PupilChange::default())])?;
        self.pupil_fields(permit)
    }

    /// Writes words down, of a field of a pupil at most one.
    pub(super) fn say(&mut self, words: &[Word<'_>]) -> Result<(), Error> {
        let (school_id, v, entered_by, at) = (self.school(), self.version, self.actor.staff, self.now());
        let row = |&(pupil_id, field, from_on, value): &Word<'_>| SaidRow {
            school_id,
            pupil_id,
            field: field.to_owned(),
            v,
            from_on,
            value: value.map(str::to_owned),
            entered_by,
            at,
        };
        self.insert_said(&words.iter().map(row).collect::<Vec<_>>())
    }

    fn insert_said(&mut self, rows: &[SaidRow]) -> Result<(), Error> {
        for batch in rows.chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(pupil_field::table).values(batch).execute(c))?;
        }
        Ok(())
    }

    /// All that was said of a pupil.
    pub(super) fn said_of(&mut self, id: PupilId) -> Result<SaidFields, Error> {
        let school = self.school();
        let rows: Vec<SaidRow> = db!(self.conn, c => pupil_field::table
            .filter(pupil_field::school_id.eq(school))
            .filter(pupil_field::pupil_id.eq(id))
            .order(pupil_field::v)
            .select(SaidRow::as_select())
            .load(c))?;
        let mut said = SaidFields::new();
        for (_, field, one) in rows.into_iter().map(SaidRow::into_said) {
            said.entry(field).or_default().push(one);
        }
        Ok(said)
    }

    /// Makes what was said of a pupil exactly this.
    pub(super) fn set_said_of(&mut self, id: PupilId, said: &SaidFields) -> Result<(), Error> {
        self.forget_said(&[id])?;
        let school_id = self.school();
        let rows = said.iter().flat_map(|(field, words)| {
            words.iter().map(move |one| SaidRow {
                school_id,
                pupil_id: id,
                field: field.clone(),
                v: one.v,
                from_on: one.from,
                value: one.value.clone(),
                entered_by: one.entered_by,
                at: one.at,
            })
        });
        self.insert_said(&rows.collect::<Vec<_>>())
    }

    /// The values of every pupil on a day, by field.
    pub(super) fn values_on(
        &mut self,
        day: Date,
    ) -> Result<BTreeMap<PupilId, BTreeMap<String, String>>, Error> {
        let school = self.school();
        let rows: Vec<SaidRow> = db!(self.conn, c => pupil_field::table
            .filter(pupil_field::school_id.eq(school))
            .order(pupil_field::v)
            .select(SaidRow::as_select())
            .load(c))?;
        let mut said: BTreeMap<(PupilId, String), Vec<Said>> = BTreeMap::new();
        for (pupil, field, one) in rows.into_iter().map(SaidRow::into_said) {
            said.entry((pupil, field)).or_default().push(one);
        }
        let mut values: BTreeMap<PupilId, BTreeMap<String, String>> = BTreeMap::new();
        for ((pupil, field), words) in said {
            if let Some(value) = value_on(&words, day) {
                values.entry(pupil).or_default().insert(field, value.to_owned());
            }
        }
        Ok(values)
    }

    /// What was said of pupils, gone.
    pub(super) fn forget_said(&mut self, ids: &[PupilId]) -> Result<(), Error> {
        let school = self.school();
        for ids in ids.chunks(BATCH) {
            db!(self.conn, c => diesel::delete(pupil_field::table
                .filter(pupil_field::school_id.eq(school))
                .filter(pupil_field::pupil_id.eq_any(ids)))
                .execute(c))?;
        }
        Ok(())
    }

    /// What was said of pupils at one version, gone: what counted before counts again.
    pub(super) fn forget_said_at(&mut self, ids: &BTreeSet<PupilId>, version: i64) -> Result<(), Error> {
        let school = self.school();
        for ids in ids.iter().copied().collect::<Vec<_>>().chunks(BATCH) {
            db!(self.conn, c => diesel::delete(pupil_field::table
                .filter(pupil_field::school_id.eq(school))
                .filter(pupil_field::pupil_id.eq_any(ids))
                .filter(pupil_field::v.eq(version)))
                .execute(c))?;
        }
        Ok(())
    }

    /// How many pupils something was said of in a field.
    pub(super) fn count_said(&mut self, field: &str) -> Result<usize, Error> {
        let school = self.school();
        let pupils: Vec<PupilId> = db!(self.conn, c => pupil_field::table
            .filter(pupil_field::school_id.eq(school))
            .filter(pupil_field::field.eq(field))
            .select(pupil_field::pupil_id)
            .distinct()
            .load(c))?;
        Ok(pupils.len())
    }

    /// What was said of a field, gone of every pupil.
    pub(super) fn remove_said(&mut self, field: &str) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(pupil_field::table
            .filter(pupil_field::school_id.eq(school))
            .filter(pupil_field::field.eq(field)))
            .execute(c))?;
        Ok(())
    }
}
