//! Classes, their adults and their pupils by date.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Class, Roster},
    },
    id::{ClassId, PupilId, SchoolId, StaffId},
    roster::class_key,
    time::{Date, Reassignment, Span, reassign, reassign_until_said},
};
use serde_json::json;

use super::{
    Error, Permit, Tx,
    change::{ChangeKind, Scope},
    conn::{db, held_on},
    dated::dated,
    group::Assignment,
    pupil::PupilRow,
    schema::{class, class_member, class_staff, pupil, staff},
};

/// A class.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = class, treat_none_as_default_value = false)]
pub struct ClassRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: ClassId,
    /// Its name as first spelled.
    pub name: String,
    /// What makes two spellings one class.
    pub name_key: String,
    /// Version of this row.
    pub v: i64,
}

/// A class with its adults and today's pupils.
#[derive(Clone, Debug)]
pub struct ClassView {
    /// The row.
    pub row: ClassRow,
    /// Adults, past and coming ones too.
    pub adults: Vec<Assignment>,
    /// Pupils in it today, by name.
    pub pupils: Vec<PupilRow>,
}

impl<'tx> Tx<'tx> {
    /// The classes the actor may see: all, or those assigned today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn classes(&mut self) -> Result<Vec<ClassRow>, Error> {
        let school = self.school();
        let rows: Vec<ClassRow> = db!(self.conn, c => class::table
            .filter(class::school_id.eq(school))
            .order((class::name, class::id))
            .select(ClassRow::as_select())
            .load(c))?;
        let mut seen = Vec::new();
        for row in rows {
            match self.permit::<Read, _>(Class(row.id)) {
                Ok(_) => seen.push(row),
                Err(Error::Refused(_)) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(seen)
    }

    /// A class with adults and pupils.
    ///
    /// # Errors
    /// If the store fails.
    pub fn class_view(&mut self, permit: &Permit<'tx, Read, Class>) -> Result<ClassView, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let row =
            db!(self.conn, c => class::table.find((school, id)).select(ClassRow::as_select()).first(c))?;
        let adults = self.class_adults(id)?;
        let pupils = self.pupils_of_class(id)?;
        Ok(ClassView { row, adults, pupils })
    }

    /// A class's pupils of today, by name.
    pub(super) fn pupils_of_class(&mut self, id: ClassId) -> Result<Vec<PupilRow>, Error> {
        let (school, today) = (self.school(), self.today());
        Ok(db!(self.conn, c => class_member::table
            .inner_join(pupil::table.on(pupil::school_id.eq(class_member::school_id).and(pupil::id.eq(class_member::pupil_id))))
            .filter(class_member::school_id.eq(school))
            .filter(class_member::class_id.eq(id))
            .filter(held_on!(class_member, today))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?)
    }

    pub(super) fn class_adults(&mut self, id: ClassId) -> Result<Vec<Assignment>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => class_staff::table
            .inner_join(staff::table.on(staff::school_id.eq(class_staff::school_id).and(staff::id.eq(class_staff::staff_id))))
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(id))
            .order((class_staff::from_on, staff::name))
            .select((class_staff::staff_id, staff::name, class_staff::from_on, class_staff::until_on))
            .load(c))?)
    }

    /// Adds a class.
    ///
    /// # Errors
    /// [`Error::Conflict`] if a class has this name, however spelled.
    pub fn add_class(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        name: &str,
    ) -> Result<ClassRow, Error> {
        self.insert_class(name)
    }

    pub(super) fn insert_class(&mut self, name: &str) -> Result<ClassRow, Error> {
        let row = ClassRow {
            school_id: self.school(),
            id: self.new_id(),
            name: name.to_owned(),
            name_key: class_key(name),
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(class::table).values(&row).execute(c))?;
        self.save("class", row.id.uuid(), &[Scope::Class(row.id)], &json!({"name": row.name}))?;
        Ok(row)
    }

    /// The classes by what makes spellings one.
    pub(super) fn classes_by_key(&mut self) -> Result<BTreeMap<String, ClassRow>, Error> {
        let school = self.school();
        let rows: Vec<ClassRow> = db!(self.conn, c => class::table
            .filter(class::school_id.eq(school))
            .select(ClassRow::as_select())
            .load(c))?;
        Ok(rows.into_iter().map(|row| (row.name_key.clone(), row)).collect())
    }

    /// Replaces the adults of a class.
    ///
    /// # Errors
    /// [`Error::Missing`] if one is not of this school's staff.
    pub fn set_class_adults(
        &mut self,
        permit: &Permit<'tx, Manage, Class>,
        adults: &[(StaffId, Span)],
    ) -> Result<Vec<Assignment>, Error> {
        let id = permit.resource().0;
        for (staff_id, _) in adults {
            self.staff_exists(*staff_id)?;
        }
        self.replace_class_staff(id, &dated(adults))?;
        self.class_adults_changed(id)
    }

    /// Makes the adults of a class, from a day on, exactly these.
    pub(super) fn set_class_adults_from(
        &mut self,
        id: ClassId,
        adults: &BTreeSet<StaffId>,
        from: Date,
    ) -> Result<(), Error> {
        let school = self.school();
        let current = self.class_adults(id)?.into_iter();
        let current: Vec<(StaffId, Span)> =
            current.map(|one| (one.staff_id, Span { from: one.from, until: one.until })).collect();
        let wanted = adults.iter().map(|staff| (*staff, None)).collect();
        let change = reassign(&current, &wanted, from);
        for (staff, from_on, until) in &change.end {
            db!(self.conn, c => diesel::update(class_staff::table.find((school, id, staff, from_on)))
                .set(class_staff::until_on.eq(Some(until)))
                .execute(c))?;
        }
        for (staff, from_on) in &change.drop {
            db!(self.conn, c => diesel::delete(class_staff::table.find((school, id, staff, from_on))).execute(c))?;
        }
        let begin: Vec<_> = change.begin.iter().map(|(staff, last)| (*staff, from, *last)).collect();
        self.insert_class_staff(id, &begin)?;
        self.class_adults_changed(id).map(|_| ())
    }

    /// Notes that the adults of a class were changed: it is at this version now, and who they are is
    /// in its history.
    pub(super) fn class_adults_changed(&mut self, id: ClassId) -> Result<Vec<Assignment>, Error> {
        let (school, version) = (self.school(), self.version);
        let adults = self.class_adults(id)?;
        db!(self.conn, c => diesel::update(class::table.find((school, id))).set(class::v.eq(version)).execute(c))?;
        self.save("class_adults", id.uuid(), &[], &super::group::assignments_json(&adults))?;
        self.log("class", id.uuid(), &[Scope::Class(id)], ChangeKind::Put)?;
        Ok(adults)
    }

    /// Whether someone is of this school's staff: for naming who taught or asked.
    ///
    /// # Errors
    /// [`Error::Missing`] if not.
    pub fn known_staff<A, R>(&mut self, _permit: &Permit<'tx, A, R>, id: StaffId) -> Result<(), Error> {
        self.staff_exists(id)
    }

    /// The name of someone of this school's staff.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is nobody of them.
    pub fn staff_name<A, R>(&mut self, _permit: &Permit<'tx, A, R>, id: StaffId) -> Result<String, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => staff::table.find((school, id)).select(staff::name).first(c))?)
    }

    pub(super) fn staff_exists(&mut self, id: StaffId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => staff::table.find((school, id)).select(staff::id).first::<StaffId>(c))?;
        Ok(())
    }

    /// The classes a pupil is in on a day.
    pub(super) fn classes_on(&mut self, id: PupilId, day: Date) -> Result<BTreeSet<ClassId>, Error> {
        let school = self.school();
        let ids: Vec<ClassId> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::pupil_id.eq(id))
            .filter(held_on!(class_member, day))
            .select(class_member::class_id)
            .load(c))?;
        Ok(ids.into_iter().collect())
    }

    /// Who is in which class on a day.
    pub(super) fn class_places(&mut self, on: Date) -> Result<Vec<(PupilId, ClassId)>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, on))
            .select((class_member::pupil_id, class_member::class_id))
            .load(c))?)
    }

    /// Moves a pupil so that from a day on the classes are exactly these: until the pupil's last day,
    /// or until what is said of a day ahead begins.
    pub(super) fn place_pupil(
        &mut self,
        id: PupilId,
        classes: &BTreeSet<ClassId>,
        from: Date,
        last: Option<Date>,
    ) -> Result<(), Error> {
        let wanted = classes.iter().map(|class| (*class, last)).collect();
        let change = reassign_until_said(&self.class_spans(id)?, &wanted, from, self.today());
        self.change_classes(id, &change, from)
    }

    /// Takes a pupil out of every class from a day on.
    pub(super) fn leave_classes(&mut self, id: PupilId, from: Date) -> Result<(), Error> {
        let change = reassign(&self.class_spans(id)?, &BTreeMap::new(), from);
        self.change_classes(id, &change, from)
    }

    fn class_spans(&mut self, id: PupilId) -> Result<Vec<(ClassId, Span)>, Error> {
        let school = self.school();
        let rows: Vec<(ClassId, Date, Option<Date>)> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::pupil_id.eq(id))
            .select((class_member::class_id, class_member::from_on, class_member::until_on))
            .load(c))?;
        Ok(rows.into_iter().map(|(class, from, until)| (class, Span { from, until })).collect())
    }

    fn change_classes(
        &mut self,
        id: PupilId,
        change: &Reassignment<ClassId>,
        from: Date,
    ) -> Result<(), Error> {
        let school = self.school();
        for (class, from_on, until) in &change.end {
            db!(self.conn, c => diesel::update(class_member::table.find((school, class, id, from_on)))
                .set(class_member::until_on.eq(Some(until)))
                .execute(c))?;
        }
        for (class, from_on) in &change.drop {
            db!(self.conn, c => diesel::delete(class_member::table.find((school, class, id, from_on))).execute(c))?;
        }
        let begin = change.begin.iter().map(|(class, last)| (id, (*class, from, *last)));
        self.insert_class_members(&begin.collect::<Vec<_>>())?;
        self.places_moved = true;
        Ok(())
    }
}
