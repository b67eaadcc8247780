//! Who is where from when to when, and which version a group keeps, written down many at a time.

use diesel::prelude::*;
use plumbline_core::{
    id::{ClassId, GroupId, PupilId, SchoolId, StaffId, VersionId},
    time::{Date, Span},
};

use super::{
    Error, Tx,
    change::{ChangeKind, Scope},
    conn::db,
    pupils::BATCH,
    schema::{class_member, class_staff, group_member, group_staff, group_version, pupil_year},
};

/// A place, the first day and the last, if it is known.
pub(super) type Dated<K> = (K, Date, Option<Date>);

/// Places with their days apart.
pub(super) fn dated<K: Copy>(spans: &[(K, Span)]) -> Vec<Dated<K>> {
    spans.iter().map(|(place, span)| (*place, span.from, span.until)).collect()
}

#[derive(Insertable)]
#[diesel(table_name = pupil_year, treat_none_as_default_value = false)]
struct YearInsert<'a> {
    school_id: SchoolId,
    pupil_id: PupilId,
    year: i32,
    year_group: &'a str,
}

#[derive(Insertable)]
#[diesel(table_name = class_member, treat_none_as_default_value = false)]
struct ClassMemberInsert {
    school_id: SchoolId,
    class_id: ClassId,
    pupil_id: PupilId,
    from_on: Date,
    until_on: Option<Date>,
}

#[derive(Insertable)]
#[diesel(table_name = group_member, treat_none_as_default_value = false)]
struct GroupMemberInsert {
    school_id: SchoolId,
    group_id: GroupId,
    pupil_id: PupilId,
    from_on: Date,
    until_on: Option<Date>,
}

#[derive(Insertable)]
#[diesel(table_name = class_staff, treat_none_as_default_value = false)]
struct ClassStaffInsert {
    school_id: SchoolId,
    class_id: ClassId,
    staff_id: StaffId,
    from_on: Date,
    until_on: Option<Date>,
}

#[derive(Insertable)]
#[diesel(table_name = group_staff, treat_none_as_default_value = false)]
struct GroupStaffInsert {
    school_id: SchoolId,
    group_id: GroupId,
    staff_id: StaffId,
    from_on: Date,
    until_on: Option<Date>,
}

#[derive(Insertable)]
#[diesel(table_name = group_version, treat_none_as_default_value = false)]
struct GroupVersionInsert {
    school_id: SchoolId,
    group_id: GroupId,
    version_id: VersionId,
    from_on: Date,
    until_on: Option<Date>,
}

impl Tx<'_> {
    pub(super) fn insert_years(&mut self, years: &[(PupilId, i32, &str)]) -> Result<(), Error> {
        let school_id = self.school();
        let rows = years.iter().map(|&(pupil_id, year, year_group)| YearInsert {
            school_id,
            pupil_id,
            year,
            year_group,
        });
        for batch in rows.collect::<Vec<_>>().chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(pupil_year::table).values(batch).execute(c))?;
        }
        Ok(())
    }

    pub(super) fn insert_class_members(&mut self, rows: &[(PupilId, Dated<ClassId>)]) -> Result<(), Error> {
        let school_id = self.school();
        let row = |&(pupil_id, (class_id, from_on, until_on)): &(PupilId, Dated<ClassId>)| {
            ClassMemberInsert { school_id, class_id, pupil_id, from_on, until_on }
        };
        for batch in rows.iter().map(row).collect::<Vec<_>>().chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(class_member::table).values(batch).execute(c))?;
        }
        self.places_moved |= !rows.is_empty();
        Ok(())
    }

    pub(super) fn insert_members(&mut self, rows: &[(PupilId, Dated<GroupId>)]) -> Result<(), Error> {
        let school_id = self.school();
        let row = |&(pupil_id, (group_id, from_on, until_on)): &(PupilId, Dated<GroupId>)| {
            GroupMemberInsert { school_id, group_id, pupil_id, from_on, until_on }
        };
        for batch in rows.iter().map(row).collect::<Vec<_>>().chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(group_member::table).values(batch).execute(c))?;
        }
        self.places_moved |= !rows.is_empty();
        let record = |(pupil, (group, ..)): &(PupilId, Dated<GroupId>)| {
            (super::sync::member_id(*group, *pupil), Scope::Group(*group))
        };
        self.log_many("group_member", &rows.iter().map(record).collect::<Vec<_>>(), ChangeKind::Put)
    }

    pub(super) fn insert_class_staff(
        &mut self,
        class_id: ClassId,
        adults: &[Dated<StaffId>],
    ) -> Result<(), Error> {
        let school_id = self.school();
        let row = |&(staff_id, from_on, until_on): &Dated<StaffId>| ClassStaffInsert {
            school_id,
            class_id,
            staff_id,
            from_on,
            until_on,
        };
        let rows: Vec<_> = adults.iter().map(row).collect();
        db!(self.conn, c => diesel::insert_into(class_staff::table).values(&rows).execute(c))?;
        Ok(())
    }

    /// Makes the adults of a class exactly these.
    pub(super) fn replace_class_staff(
        &mut self,
        id: ClassId,
        adults: &[Dated<StaffId>],
    ) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(id)))
            .execute(c))?;
        self.insert_class_staff(id, adults)
    }

    /// Makes the adults of a group exactly these.
    pub(super) fn replace_group_staff(
        &mut self,
        group_id: GroupId,
        adults: &[Dated<StaffId>],
    ) -> Result<(), Error> {
        let school_id = self.school();
        db!(self.conn, c => diesel::delete(group_staff::table
            .filter(group_staff::school_id.eq(school_id))
            .filter(group_staff::group_id.eq(group_id)))
            .execute(c))?;
        let row = |&(staff_id, from_on, until_on): &Dated<StaffId>| GroupStaffInsert {
            school_id,
            group_id,
            staff_id,
            from_on,
            until_on,
        };
        let rows: Vec<_> = adults.iter().map(row).collect();
        db!(self.conn, c => diesel::insert_into(group_staff::table).values(&rows).execute(c))?;
        Ok(())
    }

    /// Makes the versions a group keeps exactly these.
    pub(super) fn replace_group_versions(
        &mut self,
        group_id: GroupId,
        versions: &[Dated<VersionId>],
    ) -> Result<(), Error> {
        let school_id = self.school();
        db!(self.conn, c => diesel::delete(group_version::table
            .filter(group_version::school_id.eq(school_id))
            .filter(group_version::group_id.eq(group_id)))
            .execute(c))?;
        let row = |&(version_id, from_on, until_on): &Dated<VersionId>| GroupVersionInsert {
            school_id,
            group_id,
            version_id,
            from_on,
            until_on,
        };
        let rows: Vec<_> = versions.iter().map(row).collect();
        db!(self.conn, c => diesel::insert_into(group_version::table).values(&rows).execute(c))?;
        Ok(())
    }
}
