//! The weekdays on which members come to their group's lessons. They go with the days in the group: who
//! leaves takes along what was said, and who comes anew comes every day until something is said.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::{GroupId, PupilId, SchoolId},
    roster::{Weekdays, weekdays_on},
    time::{Date, Span, seamless},
};
use serde_json::json;

use super::{
    Error, GroupRow, Permit, Tx,
    conn::db,
    pupils::BATCH,
    schema::{group_member, member_days},
};

#[derive(Insertable)]
#[diesel(table_name = member_days, treat_none_as_default_value = false)]
struct DaysInsert {
    school_id: SchoolId,
    group_id: GroupId,
    pupil_id: PupilId,
    from_on: Date,
    weekdays: Option<i16>,
}

/// Lines of one member, each counting from a day on.
type Lines = Vec<(Date, Option<Weekdays>)>;
/// A line as stored: the group, the day it counts from, the weekdays.
type Line = (GroupId, Date, Option<i16>);
/// A pupil's lines in all groups, as stored.
pub(super) type PupilDays = Vec<Line>;
/// A group's lines of all members, as stored.
pub(super) type GroupDays = Vec<(PupilId, Date, Option<i16>)>;

impl<'tx> Tx<'tx> {
    /// Of the members of a group who come on certain weekdays only: which, as of a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn member_weekdays<A>(
        &mut self,
        permit: &Permit<'tx, A, Group>,
        on: Date,
    ) -> Result<BTreeMap<PupilId, Weekdays>, Error> {
        let lines = self.days_of(Some(permit.resource().0))?;
        let on_day = lines.into_iter().map(|((_, pupil), lines)| (pupil, weekdays_on(&lines, on)));
        Ok(on_day.filter_map(|(pupil, days)| Some((pupil, days?))).collect())
    }

    /// Says on which weekdays a member comes from a day on; none for every day. It counts for the days in
    /// the group that hold that day or come next: what was said of later ones of these is dropped, and
    /// days after a time away stay as they are. Answers with the first day on which it counts.
    ///
    /// # Errors
    /// [`Error::Missing`] if the pupil is not in the group on or after that day.
    pub fn set_member_weekdays(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        pupil: PupilId,
        from: Date,
        weekdays: Option<Weekdays>,
    ) -> Result<(GroupRow, Date), Error> {
        let (school, group) = (self.school(), permit.resource().0);
        let spans: Vec<(Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(from)))
            .order(group_member::from_on)
            .select((group_member::from_on, group_member::until_on))
            .load(c))?;
        let spans = spans.into_iter().map(|(from, until)| Span { from, until }).collect();
        let mut times = seamless(spans).into_iter();
        let Span { from: begins, until } = times.next().ok_or(Error::Missing)?;
        let later = times.next().map(|next| next.from);
        let from = from.max(begins);
        let lines = self.days_of(Some(group))?.remove(&(group, pupil)).unwrap_or_default();
        self.forget_days(group, &[pupil].into(), Some(from), until)?;
        self.insert_days(&[(pupil, (group, from, weekdays.map(Weekdays::bits)))])?;
        if let Some(next) = later.filter(|next| !lines.iter().any(|(day, _)| day == next)) {
            let said = weekdays_on(&lines, next).map(Weekdays::bits);
            self.insert_days(&[(pupil, (group, next, said))])?;
        }
        let body = json!({
            "group_id": group, "from": from, "weekdays": weekdays.map(Weekdays::days),
            "mornings_only": weekdays.map(Weekdays::mornings_only),
            "afternoons_only": weekdays.map(Weekdays::afternoons_only),
        });
        self.save("member_days", pupil.uuid(), &[], &body)?;
        self.log_members(group, std::iter::once(pupil))?;
        let row = self.group_row(group)?;
        Ok((self.store_group(row)?, from))
    }

    /// After the members of a group have changed from a day on: drops what was said of those who are
    /// gone by then for the days from then on, and begins anew for those who come after a time away.
    pub(super) fn days_follow(
        &mut self,
        group: GroupId,
        gone: &BTreeSet<PupilId>,
        come: &BTreeSet<PupilId>,
        from: Date,
    ) -> Result<(), Error> {
        if gone.is_empty() && come.is_empty() {
            return Ok(());
        }
        let lines = self.days_of(Some(group))?;
        let said = |pupil: &PupilId| lines.get(&(group, *pupil));
        let gone: BTreeSet<PupilId> = gone.iter().copied().filter(|pupil| said(pupil).is_some()).collect();
        self.forget_days(group, &gone, Some(from), None)?;
        let there = self.members_until(group, from.pred_opt())?;
        let partly = |pupil: &PupilId| {
            said(pupil).is_some_and(|lines| {
                weekdays_on(lines, from).is_some() && !lines.iter().any(|(day, _)| *day == from)
            })
        };
        let anew: Vec<PupilId> = come.difference(&there).copied().filter(partly).collect();
        self.insert_days(&anew.iter().map(|pupil| (*pupil, (group, from, None))).collect::<Vec<_>>())?;
        for pupil in gone.into_iter().chain(anew) {
            let body = json!({"group_id": group, "from": from, "weekdays": null});
            self.save("member_days", pupil.uuid(), &[], &body)?;
        }
        Ok(())
    }

    /// Whose days in a group ended on a day.
    fn members_until(&mut self, group: GroupId, last: Option<Date>) -> Result<BTreeSet<PupilId>, Error> {
        let school = self.school();
        let pupils: Vec<PupilId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(group_member::until_on.eq(last))
            .select(group_member::pupil_id)
            .load(c))?;
        Ok(pupils.into_iter().collect())
    }

    /// What is said of members, of one group or of all.
    pub(super) fn days_of(
        &mut self,
        group: Option<GroupId>,
    ) -> Result<BTreeMap<(GroupId, PupilId), Lines>, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, PupilId, Date, Option<i16>)> = db!(self.conn, c => {
            let mut query = member_days::table
                .filter(member_days::school_id.eq(school))
                .order(member_days::from_on)
                .select((member_days::group_id, member_days::pupil_id, member_days::from_on, member_days::weekdays))
                .into_boxed();
            if let Some(group) = group {
                query = query.filter(member_days::group_id.eq(group));
            }
            query.load(c)
        })?;
        let mut lines: BTreeMap<(GroupId, PupilId), Lines> = BTreeMap::new();
        for (group, pupil, from, bits) in rows {
            lines.entry((group, pupil)).or_default().push((from, bits.and_then(Weekdays::from_bits)));
        }
        Ok(lines)
    }

    /// The lines of pupils in all groups.
    pub(super) fn days_of_pupils(
        &mut self,
        pupils: &[PupilId],
    ) -> Result<BTreeMap<PupilId, PupilDays>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, GroupId, Date, Option<i16>)> = db!(self.conn, c => member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::pupil_id.eq_any(pupils))
            .order((member_days::group_id, member_days::from_on))
            .select((member_days::pupil_id, member_days::group_id, member_days::from_on, member_days::weekdays))
            .load(c))?;
        let mut days: BTreeMap<PupilId, PupilDays> = BTreeMap::new();
        for (pupil, group, from, bits) in rows {
            days.entry(pupil).or_default().push((group, from, bits));
        }
        Ok(days)
    }

    /// Makes a pupil's lines exactly these.
    pub(super) fn set_days_of_pupil(&mut self, pupil: PupilId, days: &PupilDays) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::pupil_id.eq(pupil)))
            .execute(c))?;
        self.insert_days(&days.iter().map(|line| (pupil, *line)).collect::<Vec<_>>())
    }

    /// The lines of a group's members.
    pub(super) fn days_of_group(&mut self, group: GroupId) -> Result<GroupDays, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::group_id.eq(group))
            .order((member_days::pupil_id, member_days::from_on))
            .select((member_days::pupil_id, member_days::from_on, member_days::weekdays))
            .load(c))?)
    }

    /// Makes the lines of some of a group's members exactly these.
    pub(super) fn set_days_of_members(
        &mut self,
        group: GroupId,
        pupils: &BTreeSet<PupilId>,
        days: &GroupDays,
    ) -> Result<(), Error> {
        self.forget_days(group, pupils, None, None)?;
        let lines = days.iter().map(|&(pupil, from, bits)| (pupil, (group, from, bits)));
        self.insert_days(&lines.collect::<Vec<_>>())
    }

    /// Drops what was said of members for days from one to another, or without end on either side.
    fn forget_days(
        &mut self,
        group: GroupId,
        pupils: &BTreeSet<PupilId>,
        from: Option<Date>,
        until: Option<Date>,
    ) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => {
            let mut lines = diesel::delete(member_days::table)
                .filter(member_days::school_id.eq(school))
                .filter(member_days::group_id.eq(group))
                .filter(member_days::pupil_id.eq_any(pupils))
                .into_boxed();
            if let Some(from) = from {
                lines = lines.filter(member_days::from_on.ge(from));
            }
            if let Some(until) = until {
                lines = lines.filter(member_days::from_on.le(until));
            }
            lines.execute(c)
        })?;
        Ok(())
    }

    fn insert_days(&mut self, lines: &[(PupilId, Line)]) -> Result<(), Error> {
        let school_id = self.school();
        let row = |&(pupil_id, (group_id, from_on, weekdays)): &(PupilId, Line)| DaysInsert {
            school_id,
            group_id,
            pupil_id,
            from_on,
            weekdays,
        };
        for batch in lines.iter().map(row).collect::<Vec<_>>().chunks(BATCH) {
            db!(self.conn, c => diesel::insert_into(member_days::table).values(batch).execute(c))?;
        }
        Ok(())
    }
}
