//! The weekdays on which members come to their group's lessons.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Manage,
        resource::{Group, GroupDay},
    },
    id::{GroupId, PupilId},
    roster::{Weekdays, comes_on, weekdays_on},
    time::Date,
};
use serde_json::json;

use super::{
    Error, GroupRow, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{group_member, member_days},
};

/// Lines of one member, each counting from a day on.
type Lines = Vec<(Date, Option<Weekdays>)>;
/// A pupil's lines in all groups, as stored.
pub(super) type PupilDays = Vec<(GroupId, Date, Option<i16>)>;

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

    /// The pupils a lesson of the group is for that day: its members but those who come on other
    /// weekdays, and of these the ones named, who were there all the same.
    ///
    /// # Errors
    /// If the store fails.
    pub fn expected_ids<A>(
        &mut self,
        permit: &Permit<'tx, A, GroupDay>,
        named: &BTreeSet<PupilId>,
    ) -> Result<Vec<PupilId>, Error> {
        let GroupDay { group, on } = *permit.resource();
        let (mut members, lines) = (self.member_ids(permit)?, self.days_of(Some(group))?);
        members.retain(|pupil| {
            named.contains(pupil) || lines.get(&(group, *pupil)).is_none_or(|lines| comes_on(lines, on))
        });
        Ok(members)
    }

    /// Says on which weekdays a member comes from a day on; none for every day. What was said of later
    /// days is dropped.
    ///
    /// # Errors
    /// [`Error::Missing`] if the pupil is not in the group on or after that day.
    pub fn set_member_weekdays(
        &mut self,
        permit: &Permit<'tx, Manage, Group>,
        pupil: PupilId,
        from: Date,
        weekdays: Option<Weekdays>,
    ) -> Result<GroupRow, Error> {
        let (school, group) = (self.school(), permit.resource().0);
        db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(from)))
            .select(group_member::from_on)
            .first::<Date>(c))?;
        db!(self.conn, c => diesel::delete(member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::group_id.eq(group))
            .filter(member_days::pupil_id.eq(pupil))
            .filter(member_days::from_on.ge(from)))
            .execute(c))?;
        self.insert_days(pupil, &[(group, from, weekdays.map(Weekdays::bits))])?;
        let body = json!({"group_id": group, "from": from, "weekdays": weekdays.map(Weekdays::days)});
        self.save("member_days", pupil.uuid(), &[Scope::Group(group)], &body)?;
        let row = self.group_row(group)?;
        self.store_group(row)
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

    pub(super) fn days_of_pupil(&mut self, pupil: PupilId) -> Result<PupilDays, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::pupil_id.eq(pupil))
            .order((member_days::group_id, member_days::from_on))
            .select((member_days::group_id, member_days::from_on, member_days::weekdays))
            .load(c))?)
    }

    /// Makes a pupil's lines exactly these.
    pub(super) fn set_days_of_pupil(&mut self, pupil: PupilId, days: &PupilDays) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::pupil_id.eq(pupil)))
            .execute(c))?;
        self.insert_days(pupil, days)
    }

    fn insert_days(&mut self, pupil: PupilId, days: &[(GroupId, Date, Option<i16>)]) -> Result<(), Error> {
        let school = self.school();
        for (group, from, bits) in days {
            db!(self.conn, c => diesel::insert_into(member_days::table)
                .values((
                    member_days::school_id.eq(school),
                    member_days::group_id.eq(group),
                    member_days::pupil_id.eq(pupil),
                    member_days::from_on.eq(from),
                    member_days::weekdays.eq(bits),
                ))
                .execute(c))?;
        }
        Ok(())
    }
}
