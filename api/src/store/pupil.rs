//! Pupils.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Manage,
        resource::{Pupil, Roster},
    },
    id::{ClassId, GroupId, PupilId},
    roster::{Upn, shown_name},
    text::search_key,
    time::Date,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    schema::{class, pupil, pupil_year},
};

/// A pupil.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = pupil)]
pub struct PupilRow {
    /// The pupil.
    pub id: PupilId,
    /// The school's reference.
    pub pupil_ref: Option<String>,
    /// First name; empty where only a family name is known.
    pub given_name: String,
    /// Family name.
    pub family_name: Option<String>,
    /// Name the pupil is called by.
    pub preferred_name: Option<String>,
    /// What staff chose to tell namesakes apart.
    pub label: Option<String>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// The last day here.
    pub left_on: Option<Date>,
    /// Version of this row.
    pub v: i64,
}

impl PupilRow {
    /// The name on every screen and page.
    pub fn shown_name(&self) -> String {
        shown_name(&self.given_name, self.family_name.as_deref(), self.preferred_name.as_deref())
    }
}

/// A pupil with classes, groups and year group of today.
#[derive(Clone, Debug)]
pub struct PupilView {
    /// The row.
    pub row: PupilRow,
    /// Classes today.
    pub classes: Vec<(ClassId, String)>,
    /// Groups today.
    pub groups: Vec<(GroupId, String)>,
    /// Code of the year group this school year.
    pub year_group: Option<String>,
    /// Unique pupil number.
    pub upn: Option<Upn>,
}

/// A pupil to add.
#[derive(Clone, Debug)]
pub struct NewPupil {
    /// The school's reference.
    pub pupil_ref: Option<String>,
    /// Unique pupil number.
    pub upn: Option<Upn>,
    /// First name; empty where only a family name is known.
    pub given_name: String,
    /// Family name.
    pub family_name: Option<String>,
    /// Name the pupil is called by.
    pub preferred_name: Option<String>,
    /// What tells namesakes apart.
    pub label: Option<String>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// Year group in a school year.
    pub year_group: Option<(i32, String)>,
    /// Class.
    pub class: Option<ClassId>,
    /// First day in the class.
    pub from: Date,
}

/// What to change of a pupil: `None` leaves a field, `Some(None)` clears it.
#[derive(Clone, Debug, Default)]
pub struct PupilChange {
    /// The school's reference.
    pub pupil_ref: Option<Option<String>>,
    /// Unique pupil number; the one before is kept with those of before.
    pub upn: Option<Option<Upn>>,
    /// First name; empty for none.
    pub given_name: Option<String>,
    /// Family name.
    pub family_name: Option<Option<String>>,
    /// Name the pupil is called by.
    pub preferred_name: Option<Option<String>>,
    /// What tells namesakes apart.
    pub label: Option<Option<String>>,
    /// Date of birth.
    pub date_of_birth: Option<Option<Date>>,
    /// The last day here.
    pub left_on: Option<Option<Date>>,
    /// Year group in a school year.
    pub year_group: Option<(i32, String)>,
    /// Classes from a day on.
    pub classes: Option<(BTreeSet<ClassId>, Date)>,
}

impl<'tx> Tx<'tx> {
    /// A pupil with today's classes and groups. Its reading is logged.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_view<A>(&mut self, permit: &Permit<'tx, A, Pupil>) -> Result<PupilView, Error> {
        let id = permit.resource().0;
        self.about("pupil", id.uuid());
        self.view_of(id)
    }

    fn view_of(&mut self, id: PupilId) -> Result<PupilView, Error> {
        self.views_of(&[id])?.remove(&id).ok_or(Error::Missing)
    }

    pub(super) fn pupil_row(&mut self, id: PupilId) -> Result<PupilRow, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pupil::table.find((school, id)).select(PupilRow::as_select()).first(c))?)
    }

    /// Adds a pupil.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the reference is taken, [`Error::Missing`] for an unknown class.
    pub fn add_pupil(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        new: &NewPupil,
    ) -> Result<PupilView, Error> {
        let ids = self.insert_pupils(std::slice::from_ref(new))?;
        self.view_of(*ids.first().ok_or(Error::Missing)?)
    }

    /// Changes a pupil.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v` or a reference is taken,
    /// [`Error::Missing`] for an unknown class.
    pub fn change_pupil(
        &mut self,
        permit: &Permit<'tx, Manage, Pupil>,
        change: &PupilChange,
        base_v: i64,
    ) -> Result<PupilView, Error> {
        let id = permit.resource().0;
        if self.pupil_row(id)?.v != base_v {
            return Err(Error::Conflict);
        }
        self.apply_pupils(&[(id, change.clone())])?;
        self.view_of(id)
    }

    /// Changes the row and the places of a pupil; whoever calls it saves.
    pub(super) fn change_row(&mut self, old: PupilRow, change: &PupilChange) -> Result<(), Error> {
        let (school, id) = (self.school(), old.id);
        let pick = |new: &Option<Option<String>>, old: Option<String>| new.clone().unwrap_or(old);
        let row = PupilRow {
            id,
            pupil_ref: pick(&change.pupil_ref, old.pupil_ref),
            given_name: change.given_name.clone().unwrap_or(old.given_name),
            family_name: pick(&change.family_name, old.family_name),
            preferred_name: pick(&change.preferred_name, old.preferred_name),
            label: pick(&change.label, old.label),
            date_of_birth: change.date_of_birth.unwrap_or(old.date_of_birth),
            left_on: change.left_on.unwrap_or(old.left_on),
            v: self.version,
        };
        let key = key_of(&row.given_name, row.family_name.as_deref(), row.preferred_name.as_deref());
        db!(self.conn, c => diesel::update(pupil::table.find((school, id)))
            .set((
                pupil::pupil_ref.eq(&row.pupil_ref),
                pupil::given_name.eq(&row.given_name),
                pupil::family_name.eq(&row.family_name),
                pupil::preferred_name.eq(&row.preferred_name),
                pupil::label.eq(&row.label),
                pupil::search_key.eq(key),
                pupil::date_of_birth.eq(row.date_of_birth),
                pupil::left_on.eq(row.left_on),
                pupil::v.eq(row.v),
            ))
            .execute(c))?;
        self.place(id, change, row.left_on)?;
        if let Some(Some(last)) = change.left_on {
            self.end_memberships(id, last)?;
        }
        Ok(())
    }

    fn place(&mut self, id: PupilId, change: &PupilChange, last: Option<Date>) -> Result<(), Error> {
        let school = self.school();
        if let Some(upn) = &change.upn {
            self.set_upn(id, upn.as_ref())?;
        }
        if let Some((year, year_group)) = &change.year_group {
            self.set_year_group(id, *year, year_group)?;
        }
        if let Some((classes, from)) = &change.classes {
            for class_id in classes {
                db!(self.conn, c => class::table.find((school, class_id)).select(class::id).first::<ClassId>(c))?;
            }
            self.place_pupil(id, classes, *from, last)?;
        }
        Ok(())
    }

    pub(super) fn set_year_group(&mut self, id: PupilId, year: i32, year_group: &str) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::insert_into(pupil_year::table)
            .values((
                pupil_year::school_id.eq(school),
                pupil_year::pupil_id.eq(id),
                pupil_year::year.eq(year),
                pupil_year::year_group.eq(year_group),
            ))
            .on_conflict((pupil_year::school_id, pupil_year::pupil_id, pupil_year::year))
            .do_update()
            .set(pupil_year::year_group.eq(year_group))
            .execute(c))?;
        Ok(())
    }

    /// A leaver's classes and groups end with the last day; what was before stays.
    fn end_memberships(&mut self, id: PupilId, last: Date) -> Result<(), Error> {
        let Some(next) = last.succ_opt() else { return Ok(()) };
        self.leave_classes(id, next)?;
        for group in self.groups_of_pupil(id)? {
            self.remove_member(group, id, next)?;
        }
        Ok(())
    }
}

/// Orders lists by family name and the first name that is shown, and holds the names run together both ways round, so that
/// any part or the whole finds the pupil.
pub(super) fn key_of(given: &str, family: Option<&str>, preferred: Option<&str>) -> String {
    let (given, family) = (search_key(given), family.map(search_key).unwrap_or_default());
    let both = |name: &str| format!("{family}{name} {name}{family}");
    match preferred.map(search_key).filter(|name| !name.is_empty()) {
        Some(preferred) => format!("{} {}", both(&preferred), both(&given)),
        None => both(&given),
    }
}
