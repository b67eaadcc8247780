//! Taking a rollover back: places, year groups, adults and groups are put back as they were, as long
//! as nothing else depends on the change by now.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Publish, resource::Rollovers},
    id::{ClassId, GroupId, PupilId, StaffId},
    time::Date,
};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{
    Error, Permit, RolloverRow, RolloverStatus, Tx,
    conn::db,
    dated::Dated,
    member_days::GroupDays,
    rollover::rollover_id,
    roster_undo::PupilBefore,
    schema::{
        class, class_member, class_staff, group_member, group_staff, lesson_mark, lesson_record, rollover,
        teaching_group,
    },
};

/// What a rollover found, to be put back.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct RolloverBefore {
    /// The version it was applied at.
    pub(super) version: i64,
    /// Pupils, as they were.
    pub(super) pupils: Vec<PupilBefore>,
    /// The groups of those who leave, as they were left.
    pub(super) left: Vec<(PupilId, Vec<Dated<GroupId>>)>,
    /// Classes it added.
    pub(super) classes: Vec<ClassId>,
    /// Adults of classes it gave other adults, as they were.
    pub(super) adults: Vec<(ClassId, Vec<Dated<StaffId>>)>,
    /// Groups it ended, as they were.
    pub(super) groups: Vec<GroupBefore>,
}

/// A group as it was before it was ended.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct GroupBefore {
    id: GroupId,
    closed_on: Option<Date>,
    members: Vec<Dated<PupilId>>,
    adults: Vec<Dated<StaffId>>,
    #[serde(default)]
    days: GroupDays,
}

impl<'tx> Tx<'tx> {
    pub(super) fn class_before(&mut self, id: ClassId) -> Result<(ClassId, Vec<Dated<StaffId>>), Error> {
        let school = self.school();
        let adults = db!(self.conn, c => class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(id))
            .order((class_staff::staff_id, class_staff::from_on))
            .select((class_staff::staff_id, class_staff::from_on, class_staff::until_on))
            .load(c))?;
        Ok((id, adults))
    }

    pub(super) fn group_before(&mut self, id: GroupId) -> Result<GroupBefore, Error> {
        let school = self.school();
        let members = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .order((group_member::pupil_id, group_member::from_on))
            .select((group_member::pupil_id, group_member::from_on, group_member::until_on))
            .load(c))?;
        let adults = db!(self.conn, c => group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(id))
            .order((group_staff::staff_id, group_staff::from_on))
            .select((group_staff::staff_id, group_staff::from_on, group_staff::until_on))
            .load(c))?;
        let (closed_on, days) = (self.group_row(id)?.closed_on, self.days_of_group(id)?);
        Ok(GroupBefore { id, closed_on, members, adults, days })
    }

    /// Takes a rollover back, whole or not at all: it is a draft again. The inner error says what
    /// depends on it by now.
    ///
    /// # Errors
    /// [`Error::NotKept`] once the days in which it can be done are over, [`Error::Conflict`] if it is not
    /// applied, or a later school year's is.
    pub fn undo_rollover(
        &mut self,
        _permit: &Permit<'tx, Publish, Rollovers>,
        row: &mut RolloverRow,
    ) -> Result<Result<(), Vec<String>>, Error> {
        let (school, version) = (self.school(), self.version);
        if row.undo_until.is_some_and(|last| last < self.today()) {
            return Err(Error::NotKept);
        }
        let before: Option<Value> = db!(self.conn, c => rollover::table
            .find((school, row.year))
            .select(rollover::before)
            .first(c))?;
        let before: RolloverBefore = serde_json::from_value(before.ok_or(Error::Conflict)?)?;
        let depends = self.depends_on_rollover(&before, row.shown.first)?;
        if !depends.is_empty() {
            return Ok(Err(depends));
        }
        self.about("rollover", rollover_id(school, row.year));
        self.put_back(&before.pupils)?;
        for group in &before.groups {
            self.put_group_back(group)?;
        }
        for (id, adults) in &before.adults {
            self.replace_class_staff(*id, adults)?;
            self.class_adults_changed(*id)?;
        }
        for id in &before.classes {
            self.forget_class(*id)?;
        }
        (row.status, row.undo_until, row.v) = (RolloverStatus::Draft, None, version);
        db!(self.conn, c => diesel::update(rollover::table.find((school, row.year)))
            .set((
                rollover::status.eq(row.status),
                rollover::before.eq(None::<Value>),
                rollover::undo_until.eq(row.undo_until),
                rollover::v.eq(version),
            ))
            .execute(c))?;
        self.save("rollover", rollover_id(school, row.year), &[], &json!({"status": row.status}))?;
        Ok(Ok(()))
    }

    fn depends_on_rollover(&mut self, before: &RolloverBefore, first: Date) -> Result<Vec<String>, Error> {
        let (school, version) = (self.school(), before.version);
        let touched: BTreeSet<PupilId> = before.pupils.iter().map(|pupil| pupil.id).collect();
        let pupils = self.changed_since(&touched, version)?;
        let mut regrouped = 0;
        // A leaver who is gone, merged into another, is among the changed.
        for (id, groups) in before.left.iter().filter(|_| pupils == 0) {
            regrouped += usize::from(self.pupil_before(*id, true)?.groups.as_ref() != Some(groups));
        }
        let taught: i64 = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq_any(&touched))
            .filter(lesson_record::on_date.ge(first))
            .filter(lesson_record::deleted_at.is_null())
            .count()
            .get_result(c))?;
        let groups: Vec<GroupId> = before.groups.iter().map(|group| group.id).collect();
        let groups: i64 = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::id.eq_any(&groups))
            .filter(teaching_group::v.ne(version))
            .count()
            .get_result(c))?;
        let ids: BTreeSet<ClassId> =
            before.classes.iter().copied().chain(before.adults.iter().map(|(class, _)| *class)).collect();
        let classes: i64 = db!(self.conn, c => class::table
            .filter(class::school_id.eq(school))
            .filter(class::id.eq_any(&ids))
            .filter(class::v.ne(version))
            .count()
            .get_result(c))?;
        let others: Vec<PupilId> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::class_id.eq_any(&before.classes))
            .select(class_member::pupil_id)
            .load(c))?;
        let others = others.iter().filter(|pupil| !touched.contains(pupil)).count();
        let count = |n: i64| usize::try_from(n).unwrap_or(usize::MAX);
        let found = [
            (pupils, "pupils were changed since"),
            (regrouped, "leavers were put in other groups since"),
            (count(taught), "places in registers of lessons lie in the school year"),
            (count(groups), "of the groups it ended were changed since"),
            (count(classes), "classes were given other adults since"),
            (others, "other pupils are in classes it added"),
        ];
        Ok(found.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect())
    }

    fn put_group_back(&mut self, before: &GroupBefore) -> Result<(), Error> {
        let (school, id) = (self.school(), before.id);
        db!(self.conn, c => diesel::delete(group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id)))
            .execute(c))?;
        let members = before.members.iter().map(|(pupil, from, until)| (*pupil, (id, *from, *until)));
        self.insert_members(&members.collect::<Vec<_>>())?;
        self.set_days_of_group(id, &before.days)?;
        self.replace_group_staff(id, &before.adults)?;
        let row = self.group_row(id)?;
        self.store_group(super::GroupRow { closed_on: before.closed_on, ..row }).map(|_| ())
    }
}
