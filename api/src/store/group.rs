//! Teaching groups: adults and members by date, a sequence.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Group, Groups},
    },
    id::{GroupId, PupilId, SchoolId, SequenceId, StaffId},
    time::{Date, Reassignment, Span, earlier, reassign},
};
use serde_json::{Value, json};

use super::{
    Error, Permit, Tx,
    change::{ChangeKind, Scope},
    conn::{db, held_on},
    dated::dated,
    pupil::PupilRow,
    schema::{class, class_member, group_member, group_staff, pupil, staff, teaching_group},
};

/// A teaching group.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = teaching_group, treat_none_as_default_value = false)]
pub struct GroupRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: GroupId,
    /// Its name.
    pub name: String,
    /// The sequence it is taught.
    pub sequence_id: SequenceId,
    /// The last day it was taught.
    pub closed_on: Option<Date>,
    /// Version of this row.
    pub v: i64,
}

/// An adult's days with a class or group.
#[derive(Clone, Debug, PartialEq, Eq, Queryable)]
pub struct Assignment {
    /// The adult.
    pub staff_id: StaffId,
    /// The adult's name.
    pub name: String,
    /// First day.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
}

/// A pupil of a group.
#[derive(Clone, Debug, Queryable)]
pub struct MemberRow {
    /// The pupil.
    pub pupil: PupilRow,
    /// First day in the group.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
    /// The class today, to tell namesakes apart.
    pub class: Option<String>,
}

impl<'tx> Tx<'tx> {
    /// The groups the actor may see: all, or those assigned today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn groups(&mut self, _permit: &Permit<'tx, Read, Groups>) -> Result<Vec<GroupRow>, Error> {
        let school = self.school();
        let rows: Vec<GroupRow> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .order((teaching_group::name, teaching_group::id))
            .select(GroupRow::as_select())
            .load(c))?;
        let mut seen = Vec::new();
        for row in rows {
            if self.permit_if_allowed::<Read, _>(Group(row.id))?.is_some() {
                seen.push(row);
            }
        }
        Ok(seen)
    }

    /// A group's row.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<GroupRow, Error> {
        self.group_row(permit.resource().0)
    }

    pub(super) fn group_row(&mut self, id: GroupId) -> Result<GroupRow, Error> {
        let school = self.school();
        Ok(
            db!(self.conn, c => teaching_group::table.find((school, id)).select(GroupRow::as_select()).first(c))?,
        )
    }

    /// A group's adults, past and coming ones too.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_adults<A>(&mut self, permit: &Permit<'tx, A, Group>) -> Result<Vec<Assignment>, Error> {
        self.adults_of(permit.resource().0)
    }

    pub(super) fn adults_of(&mut self, id: GroupId) -> Result<Vec<Assignment>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => group_staff::table
            .inner_join(staff::table.on(staff::school_id.eq(group_staff::school_id).and(staff::id.eq(group_staff::staff_id))))
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(id))
            .order((group_staff::from_on, staff::name))
            .select((group_staff::staff_id, staff::name, group_staff::from_on, group_staff::until_on))
            .load(c))?)
    }

    /// A group's members on a day, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_members<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        on: Date,
    ) -> Result<Vec<MemberRow>, Error> {
        self.members_of(permit.resource().0, on)
    }

    pub(super) fn members_of(&mut self, id: GroupId, on: Date) -> Result<Vec<MemberRow>, Error> {
        let school = self.school();
        let rows: Vec<(PupilRow, Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .inner_join(pupil::table.on(pupil::school_id.eq(group_member::school_id).and(pupil::id.eq(group_member::pupil_id))))
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(held_on!(group_member, on))
            .order((pupil::search_key, pupil::id))
            .select((PupilRow::as_select(), group_member::from_on, group_member::until_on))
            .load(c))?;
        let classes: Vec<(PupilId, String)> = db!(self.conn, c => class_member::table
            .inner_join(class::table.on(class::school_id.eq(class_member::school_id).and(class::id.eq(class_member::class_id))))
            .inner_join(group_member::table.on(group_member::school_id.eq(class_member::school_id)
                .and(group_member::pupil_id.eq(class_member::pupil_id))))
            .filter(class_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(held_on!(class_member, on))
            .select((class_member::pupil_id, class::name))
            .load(c))?;
        let class_of = |pupil| classes.iter().find(|(id, _)| *id == pupil).map(|(_, name)| name.clone());
        Ok(rows
            .into_iter()
            .map(|(pupil, from, until)| MemberRow { class: class_of(pupil.id), pupil, from, until })
            .collect())
    }

    /// Adds a group without adults or members.
    ///
    /// # Errors
    /// [`Error::Missing`] for an unknown sequence.
    pub fn add_group(
        &mut self,
        _permit: &Permit<'tx, Manage, Groups>,
        name: &str,
        sequence_id: SequenceId,
    ) -> Result<GroupRow, Error> {
        let row = GroupRow {
            school_id: self.school(),
            id: self.new_id(),
            name: name.to_owned(),
            sequence_id,
            closed_on: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(teaching_group::table).values(&row).execute(c))?;
        self.save_group(&row)?;
        Ok(row)
    }

    /// Changes a group's name.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v`.
    pub fn update_group(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        name: Option<&str>,
        base_v: i64,
    ) -> Result<GroupRow, Error> {
        let old = self.group_at(permit, base_v)?;
        self.store_group(GroupRow { name: name.map_or(old.name, str::to_owned), ..old })
    }

    /// Closes a group with its last day, which ends its members' and adults' days too.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the row is no longer at `base_v`.
    pub fn close_group(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        on: Date,
        base_v: i64,
    ) -> Result<(), Error> {
        let old = self.group_at(permit, base_v)?;
        self.end_group(old, on)
    }

    pub(super) fn end_group(&mut self, old: GroupRow, on: Date) -> Result<(), Error> {
        let (school, id) = (self.school(), old.id);
        let Some(next) = on.succ_opt() else { return Err(Error::Conflict) };
        let members = reassign(&self.member_spans(id)?, &BTreeMap::new(), next);
        self.apply_members(id, &members, next)?;
        db!(self.conn, c => diesel::delete(group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(id))
            .filter(group_staff::from_on.gt(on)))
            .execute(c))?;
        db!(self.conn, c => diesel::update(group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(id))
            .filter(group_staff::until_on.is_null().or(group_staff::until_on.gt(on))))
            .set(group_staff::until_on.eq(Some(on)))
            .execute(c))?;
        self.store_group(GroupRow { closed_on: Some(on), ..old }).map(|_| ())
    }

    fn group_at(&mut self, permit: &Permit<'tx, Manage, Group>, base_v: i64) -> Result<GroupRow, Error> {
        let row = self.group_row(permit.resource().0)?;
        if row.v == base_v { Ok(row) } else { Err(Error::Conflict) }
    }

    pub(super) fn store_group(&mut self, row: GroupRow) -> Result<GroupRow, Error> {
        let row = GroupRow { v: self.version, ..row };
        db!(self.conn, c => diesel::update(teaching_group::table.find((row.school_id, row.id)))
            .set((
                teaching_group::name.eq(&row.name),
                teaching_group::closed_on.eq(row.closed_on),
                teaching_group::v.eq(row.v),
            ))
            .execute(c))?;
        self.save_group(&row)?;
        Ok(row)
    }

    fn save_group(&mut self, row: &GroupRow) -> Result<(), Error> {
        let body = json!({"name": row.name, "sequence_id": row.sequence_id, "closed_on": row.closed_on});
        self.save("group", row.id.uuid(), &[Scope::Group(row.id)], &body)
    }

    /// Replaces the adults of a group, none of them beyond its last day.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the group is no longer at `base_v`, [`Error::Missing`] for
    /// someone who is not of this school's staff.
    pub fn set_group_adults(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        adults: &[(StaffId, Span)],
        base_v: i64,
    ) -> Result<(GroupRow, Vec<Assignment>), Error> {
        let old = self.group_at(permit, base_v)?;
        let id = old.id;
        for (staff_id, _) in adults {
            self.staff_exists(*staff_id)?;
        }
        let closed = old.closed_on;
        let within = |(staff, span): &(StaffId, Span)| Some((*staff, span.up_to(closed)?));
        self.replace_group_staff(id, &dated(&adults.iter().filter_map(within).collect::<Vec<_>>()))?;
        let row = self.store_group(old)?;
        let adults = self.adults_of(id)?;
        self.save("group_adults", id.uuid(), &[], &assignments_json(&adults))?;
        Ok((row, adults))
    }

    /// Makes the members, from a day on, exactly these, none of them beyond the last day of the group
    /// or the pupil's own.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the group is no longer at `base_v`, [`Error::Missing`] for a
    /// pupil who is not of this school.
    pub fn set_group_members(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        pupils: &BTreeSet<PupilId>,
        from: Date,
        base_v: i64,
    ) -> Result<GroupRow, Error> {
        let old = self.group_at(permit, base_v)?;
        let mut wanted = BTreeMap::new();
        for id in pupils {
            let left_on = self.pupil_row(*id)?.left_on;
            if left_on.is_some_and(|last| last < from) {
                return Err(Error::Missing);
            }
            wanted.insert(*id, earlier(left_on, old.closed_on));
        }
        let change = reassign(&self.member_spans(old.id)?, &wanted, from);
        self.apply_members(old.id, &change, from)?;
        let body = json!({"from": from, "pupils": pupils});
        self.save("group_members", old.id.uuid(), &[], &body)?;
        self.store_group(old)
    }

    fn member_spans(&mut self, id: GroupId) -> Result<Vec<(PupilId, Span)>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .select((group_member::pupil_id, group_member::from_on, group_member::until_on))
            .load(c))?;
        Ok(rows.into_iter().map(|(pupil, from, until)| (pupil, Span { from, until })).collect())
    }

    fn apply_members(
        &mut self,
        id: GroupId,
        change: &Reassignment<PupilId>,
        from: Date,
    ) -> Result<(), Error> {
        let school = self.school();
        for (pupil, from_on, until) in &change.end {
            db!(self.conn, c => diesel::update(group_member::table.find((school, id, pupil, from_on)))
                .set(group_member::until_on.eq(Some(until)))
                .execute(c))?;
        }
        for (pupil, from_on) in &change.drop {
            db!(self.conn, c => diesel::delete(group_member::table.find((school, id, pupil, from_on))).execute(c))?;
        }
        let begin = change.begin.iter().map(|(pupil, last)| (*pupil, (id, from, *last)));
        self.insert_members(&begin.collect::<Vec<_>>())?;
        let ended = change.end.iter().map(|(pupil, ..)| *pupil);
        let dropped = change.drop.iter().map(|(pupil, _)| *pupil);
        self.log_members(id, ended.chain(dropped))?;
        let come = change.begin.iter().map(|(pupil, _)| *pupil).collect();
        self.days_follow(id, &change.gone, &come, from)
    }

    /// Notes that the days of members have changed.
    pub(super) fn log_members(
        &mut self,
        group: GroupId,
        pupils: impl Iterator<Item = PupilId>,
    ) -> Result<(), Error> {
        self.places_moved = true;
        let record = |pupil| (super::sync::member_id(group, pupil), Scope::Group(group));
        self.log_many("group_member", &pupils.map(record).collect::<Vec<_>>(), ChangeKind::Put)
    }

    /// Every group the pupil was ever in.
    pub(super) fn groups_of_pupil(&mut self, id: PupilId) -> Result<Vec<GroupId>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(id))
            .select(group_member::group_id)
            .distinct()
            .load(c))?)
    }

    /// Takes one pupil out of a group from a day on.
    pub(super) fn remove_member(&mut self, group: GroupId, pupil: PupilId, from: Date) -> Result<(), Error> {
        let spans: Vec<(PupilId, Span)> =
            self.member_spans(group)?.into_iter().filter(|(member, _)| *member == pupil).collect();
        self.apply_members(group, &reassign(&spans, &BTreeMap::new(), from), from)
    }
}

/// What a list of assignments says, for the history.
pub(super) fn assignments_json(adults: &[Assignment]) -> Value {
    adults.iter().map(|a| json!({"staff_id": a.staff_id, "from": a.from, "until": a.until})).collect()
}
