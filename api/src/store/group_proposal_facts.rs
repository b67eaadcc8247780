//! What groups are proposed from, and what a proposal stands on.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        Role,
        act::{Manage, Record},
        could,
        resource::{GroupDay, GroupProposals},
    },
    grouping::{GroupNow, PupilNow, SchoolNow},
    id::{ClassId, GroupId, PupilId, SequenceId, StaffId},
    time::{Date, Span},
};
use serde::{Deserialize, Serialize};

use super::{
    Error, GroupProposal, Permit, Tx,
    conn::{db, held_on},
    schema::{class, class_member, group_member, group_staff, pupil, pupil_year, staff, teaching_group},
};

/// How groups and members stood when a proposal was made: with anything of it changed, the proposal is of
/// another school.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stood {
    /// The day it was made.
    since: Date,
    /// Versions of the groups it fills and of those it empties.
    groups: BTreeMap<GroupId, i64>,
    /// Days in groups, from that day on: of the pupils placed, and of everybody in those groups.
    places: BTreeSet<(PupilId, GroupId, Date, Option<Date>)>,
    /// The year group of each pupil placed who is there.
    #[serde(default)]
    pupils: BTreeMap<PupilId, Option<String>>,
}

impl<'tx> Tx<'tx> {
    /// What the school is like today, as far as groups go; their adults and lessons as they are from a day on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn school_now(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        from: Date,
    ) -> Result<SchoolNow, Error> {
        let (school, today) = (self.school(), self.today());
        let year = self.school_year_of(today)?;
        let here: Vec<PupilId> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(today)))
            .order((pupil::search_key, pupil::id))
            .select(pupil::id)
            .load(c))?;
        let in_classes: Vec<(PupilId, ClassId)> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, today))
            .select((class_member::pupil_id, class_member::class_id))
            .load(c))?;
        let in_groups: Vec<(PupilId, GroupId)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(today)))
            .select((group_member::pupil_id, group_member::group_id))
            .load(c))?;
        // Of the rows of one pupil the last counts.
        let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.le(year))
            .order(pupil_year::year)
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load(c))?;
        let (mut classes, mut groups) = (by_pupil(in_classes), by_pupil(in_groups));
        let mut years: BTreeMap<PupilId, String> = years.into_iter().collect();
        let pupil = |id: PupilId| PupilNow {
            id,
            year_group: years.remove(&id),
            classes: classes.remove(&id).unwrap_or_default(),
            groups: groups.remove(&id).unwrap_or_default(),
        };
        let pupils = here.into_iter().map(pupil).collect();
        let class_ids: Vec<ClassId> = db!(self.conn, c => class::table
            .filter(class::school_id.eq(school))
            .select(class::id)
            .load(c))?;
        let group_rows: Vec<(GroupId, String, SequenceId, Option<Date>)> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .select((teaching_group::id, teaching_group::name, teaching_group::sequence_id, teaching_group::closed_on))
            .load(c))?;
        let staff_ids: Vec<StaffId> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::disabled_at.is_null())
            .select(staff::id)
            .load(c))?;
        let roles = self.roles_within(&staff_ids, Span { from, until: None })?;
        let teaches = |one: &(StaffId, BTreeSet<Role>)| could::<Record, GroupDay>(&one.1);
        let may_teach = roles.into_iter().filter(teaches).map(|(id, _)| id).collect();
        let mut adults = self.adults_from(from)?;
        let mut lessons = self.lesson_times(from)?;
        let group = |(id, name, sequence, closed_on)| {
            let adults = adults.remove(&id).unwrap_or_default();
            (
                id,
                GroupNow {
                    name,
                    sequence,
                    closed_on,
                    adults,
                    lessons: lessons.remove(&id).unwrap_or_default(),
                },
            )
        };
        Ok(SchoolNow {
            today,
            pupils,
            classes: class_ids.into_iter().collect(),
            groups: group_rows.into_iter().map(group).collect(),
            staff: staff_ids.into_iter().collect(),
            may_teach,
        })
    }

    /// The adults each group has from a day on, those who are to come too; after its last day it has none.
    fn adults_from(&mut self, from: Date) -> Result<BTreeMap<GroupId, BTreeSet<StaffId>>, Error> {
        let school = self.school();
        let in_charge: Vec<(GroupId, StaffId)> = db!(self.conn, c => group_staff::table
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_staff::school_id)
                .and(teaching_group::id.eq(group_staff::group_id))))
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::until_on.is_null().or(group_staff::until_on.ge(from)))
            .filter(teaching_group::closed_on.is_null()
                .or(teaching_group::closed_on.ge(group_staff::from_on.nullable())))
            .select((group_staff::group_id, group_staff::staff_id))
            .load(c))?;
        let mut adults: BTreeMap<GroupId, BTreeSet<StaffId>> = BTreeMap::new();
        for (group, adult) in in_charge {
            adults.entry(group).or_default().insert(adult);
        }
        Ok(adults)
    }

    /// How some groups and the members of groups stand today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn stood(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        groups: &BTreeSet<GroupId>,
        pupils: &[PupilId],
    ) -> Result<Stood, Error> {
        let today = self.today();
        self.standing(groups, pupils, today)
    }

    /// Whether groups or members have changed since a proposal was made.
    ///
    /// # Errors
    /// If the store fails.
    pub fn is_group_proposal_stale<A>(
        &mut self,
        _permit: &Permit<'tx, A, GroupProposals>,
        made: &GroupProposal,
    ) -> Result<bool, Error> {
        let pupils: Vec<PupilId> = made.placed().collect();
        Ok(self.standing(&made.groups_touched(), &pupils, made.stood.since)? != made.stood)
    }

    fn standing(
        &mut self,
        groups: &BTreeSet<GroupId>,
        pupils: &[PupilId],
        since: Date,
    ) -> Result<Stood, Error> {
        let school = self.school();
        let versions: Vec<(GroupId, i64)> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::id.eq_any(groups))
            .select((teaching_group::id, teaching_group::v))
            .load(c))?;
        let places: Vec<(PupilId, GroupId, Date, Option<Date>)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(since)))
            .filter(group_member::pupil_id.eq_any(pupils).or(group_member::group_id.eq_any(groups)))
            .select((
                group_member::pupil_id,
                group_member::group_id,
                group_member::from_on,
                group_member::until_on,
            ))
            .load(c))?;
        let year = self.school_year_of(since)?;
        let here: Vec<PupilId> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::id.eq_any(pupils))
            .select(pupil::id)
            .load(c))?;
        // Of the rows of one pupil the last counts.
        let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::pupil_id.eq_any(pupils))
            .filter(pupil_year::year.le(year))
            .order(pupil_year::year)
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load(c))?;
        let mut years: BTreeMap<PupilId, String> = years.into_iter().collect();
        let pupils = here.into_iter().map(|pupil| (pupil, years.remove(&pupil))).collect();
        let (groups, places) = (versions.into_iter().collect(), places.into_iter().collect());
        Ok(Stood { since, groups, places, pupils })
    }

    /// Groups of the same sequence, neither filled nor emptied by a proposal, with how many of the pupils it
    /// places are in each today, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn groups_beside<A>(
        &mut self,
        _permit: &Permit<'tx, A, GroupProposals>,
        made: &GroupProposal,
    ) -> Result<Vec<(GroupId, String, usize)>, Error> {
        let (school, today) = (self.school(), self.today());
        let pupils: Vec<PupilId> = made.placed().collect();
        let rows: Vec<(GroupId, String)> = db!(self.conn, c => group_member::table
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_member::school_id)
                .and(teaching_group::id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(teaching_group::sequence_id.eq(made.asked.sequence_id))
            .filter(group_member::pupil_id.eq_any(&pupils))
            .filter(held_on!(group_member, today))
            .order((teaching_group::name, teaching_group::id))
            .select((teaching_group::id, teaching_group::name))
            .load(c))?;
        let touched = made.groups_touched();
        let mut beside: Vec<(GroupId, String, usize)> = Vec::new();
        for (id, name) in rows.into_iter().filter(|(id, _)| !touched.contains(id)) {
            match beside.last_mut().filter(|last| last.0 == id) {
                Some(last) => last.2 += 1,
                None => beside.push((id, name, 1)),
            }
        }
        Ok(beside)
    }
}

fn by_pupil<K: Ord>(rows: Vec<(PupilId, K)>) -> BTreeMap<PupilId, BTreeSet<K>> {
    let mut of: BTreeMap<PupilId, BTreeSet<K>> = BTreeMap::new();
    for (pupil, place) in rows {
        of.entry(pupil).or_default().insert(place);
    }
    of
}
