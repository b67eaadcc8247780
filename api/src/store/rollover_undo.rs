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
    pupil_before::{AsLeft, Extent, PupilBefore, Whom},
    rollover::rollover_id,
    schema::{class_member, class_staff, group_member, group_staff, lesson_mark, lesson_record, rollover},
};

/// What a rollover found, to be put back.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct RolloverBefore {
    /// The version it was applied at.
    pub(super) version: i64,
    /// Pupils, as they were: with their groups, where it makes them leave.
    pub(super) pupils: Vec<PupilBefore>,
    /// Classes it added.
    pub(super) classes: Vec<ClassId>,
    /// Adults of the classes it added or gave other adults, as they were.
    pub(super) adults: Vec<(ClassId, Vec<Dated<StaffId>>)>,
    /// Groups it ended, as they were from the day before on.
    pub(super) groups: Vec<GroupBefore>,
    /// The pupils, as it left them.
    #[serde(default)]
    pub(super) pupils_left: AsLeft,
    /// The adults and groups, as it left them.
    #[serde(default)]
    pub(super) others_left: Others,
}

/// Adults of classes, and groups, at a moment.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct Others {
    adults: Vec<(ClassId, Vec<Dated<StaffId>>)>,
    groups: Vec<GroupBefore>,
}

impl RolloverBefore {
    fn whom(&self) -> Vec<Whom> {
        self.pupils.iter().map(PupilBefore::whom).collect()
    }
}

/// A group at a moment: its adults, and its members of the last day and later.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct GroupBefore {
    id: GroupId,
    closed_on: Option<Date>,
    members: Vec<Dated<PupilId>>,
    adults: Vec<Dated<StaffId>>,
    /// The weekdays of these members.
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

    /// A group whose last day is to be `eve`, or is.
    pub(super) fn group_before(&mut self, id: GroupId, eve: Date) -> Result<GroupBefore, Error> {
        let school = self.school();
        let members: Vec<Dated<PupilId>> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(eve)))
            .order((group_member::pupil_id, group_member::from_on))
            .select((group_member::pupil_id, group_member::from_on, group_member::until_on))
            .load(c))?;
        let adults = db!(self.conn, c => group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(id))
            .order((group_staff::staff_id, group_staff::from_on))
            .select((group_staff::staff_id, group_staff::from_on, group_staff::until_on))
            .load(c))?;
        let (closed_on, mut days) = (self.group_row(id)?.closed_on, self.days_of_group(id)?);
        days.retain(|(pupil, ..)| members.iter().any(|(member, ..)| member == pupil));
        Ok(GroupBefore { id, closed_on, members, adults, days })
    }

    /// Notes what all of it is like after the rollover.
    pub(super) fn rollover_done(&mut self, before: &mut RolloverBefore, eve: Date) -> Result<(), Error> {
        before.pupils_left = self.as_left(&before.whom(), Extent::Places)?;
        before.others_left = self.others_of(before, eve)?;
        Ok(())
    }

    fn others_of(&mut self, before: &RolloverBefore, eve: Date) -> Result<Others, Error> {
        let adults = before.adults.iter().map(|(class, _)| self.class_before(*class));
        let adults = adults.collect::<Result<_, _>>()?;
        let groups = before.groups.iter().map(|group| self.group_before(group.id, eve));
        Ok(Others { adults, groups: groups.collect::<Result<_, _>>()? })
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
        if before.pupils_left.is_empty() && !before.pupils.is_empty() {
            return Err(Error::NotKept);
        }
        let eve = row.shown.first.pred_opt().ok_or(Error::Conflict)?;
        let depends = self.depends_on_rollover(&before, eve)?;
        if !depends.is_empty() {
            return Ok(Err(depends));
        }
        self.about("rollover", rollover_id(school, row.year));
        self.put_places_back(&before.pupils)?;
        for group in &before.groups {
            self.put_group_back(group, eve)?;
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

    fn depends_on_rollover(&mut self, before: &RolloverBefore, eve: Date) -> Result<Vec<String>, Error> {
        let (school, version) = (self.school(), before.version);
        let touched: BTreeSet<PupilId> = before.pupils.iter().map(|pupil| pupil.id).collect();
        let pupils = self.changed_since(&before.whom(), &before.pupils_left, Extent::Places)?.len();
        let (now, left) = (self.others_of(before, eve)?, &before.others_left);
        let groups = now.groups.iter().filter(|group| !left.groups.contains(group)).count();
        let classes = now.adults.iter().filter(|class| !left.adults.contains(class)).count();
        // Lessons that were on record when it was applied stood in no way then.
        let taught: i64 = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq_any(&touched))
            .filter(lesson_record::on_date.gt(eve))
            .filter(lesson_record::v.gt(version))
            .filter(lesson_record::deleted_at.is_null())
            .count()
            .get_result(c))?;
        let next = eve.succ_opt().unwrap_or(eve);
        let caught_up = self.caught_up_from(next, version)?;
        let caught_up = caught_up.iter().filter(|(_, pupil)| touched.contains(pupil)).count();
        let others: Vec<PupilId> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::class_id.eq_any(&before.classes))
            .select(class_member::pupil_id)
            .load(c))?;
        let others = others.iter().filter(|pupil| !touched.contains(pupil)).count();
        let remembered = self.remembered(&before.classes)?.len();
        let found = [
            (pupils, "pupils were given other places since"),
            (
                usize::try_from(taught).unwrap_or(usize::MAX),
                "places in registers of lessons lie in the school year",
            ),
            (caught_up, "places in catch-up records lie in the school year"),
            (groups, "of the groups it ended were changed since"),
            (classes, "classes were given other adults since"),
            (others, "other pupils are in classes it added"),
            (
                remembered,
                "classes it added are named by something else that can be taken back; take that back first",
            ),
        ];
        Ok(found.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect())
    }

    fn put_group_back(&mut self, before: &GroupBefore, eve: Date) -> Result<(), Error> {
        let (school, id) = (self.school(), before.id);
        db!(self.conn, c => diesel::delete(group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(eve))))
            .execute(c))?;
        self.places_moved = true;
        let members = before.members.iter().map(|(pupil, from, until)| (*pupil, (id, *from, *until)));
        self.insert_members(&members.collect::<Vec<_>>())?;
        let pupils = before.members.iter().map(|(pupil, ..)| *pupil).collect();
        self.set_days_of_members(id, &pupils, &before.days)?;
        self.replace_group_staff(id, &before.adults)?;
        let row = self.group_row(id)?;
        self.store_group(super::GroupRow { closed_on: before.closed_on, ..row }).map(|_| ())
    }
}
