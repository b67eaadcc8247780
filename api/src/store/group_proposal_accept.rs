//! A proposal of teaching groups made so: from a day on, whole or not at all.

use std::collections::BTreeSet;

use diesel::{dsl::max, prelude::*};
use plumbline_core::{
    access::{
        act::Manage,
        resource::{Group, GroupProposals, Groups},
    },
    id::{GroupId, PupilId},
    time::{Date, Span},
};

use super::{
    Error, GroupProposal, GroupRow, Permit, Tx,
    conn::db,
    group_proposal::Accepted,
    schema::{group_member, group_proposal, lesson_mark, lesson_record},
};

impl<'tx> Tx<'tx> {
    /// The last day from a day on with a lesson recorded, of the groups a proposal fills or empties or of
    /// anybody it places.
    ///
    /// # Errors
    /// If the store fails.
    pub fn last_lesson_since(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        made: &GroupProposal,
        on: Date,
    ) -> Result<Option<Date>, Error> {
        let (school, groups) = (self.school(), made.groups_touched());
        let pupils: Vec<PupilId> = made.placed().collect();
        let of_groups = self.last_lesson_of(&groups, on)?;
        let of_pupils: Option<Date> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq_any(&pupils))
            .filter(lesson_record::on_date.ge(on))
            .filter(lesson_record::deleted_at.is_null())
            .select(max(lesson_record::on_date))
            .first(c))?;
        Ok(of_groups.max(of_pupils))
    }

    /// The groups a proposal fills or empties whose last day is before a day, by name.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_over_by(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        made: &GroupProposal,
        on: Date,
    ) -> Result<Option<GroupRow>, Error> {
        for id in made.asked.known_groups() {
            let row = self.group_row(id)?;
            if row.closed_on.is_some_and(|last| last < on) {
                return Ok(Some(row));
            }
        }
        Ok(None)
    }

    /// Makes the groups that are not there, with their adults, and the members of all of them those proposed,
    /// from a day on; whoever is placed leaves the groups to be left. Who has left the school by then is in
    /// none.
    ///
    /// # Errors
    /// If the store fails.
    pub fn accept_group_proposal(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        made: &GroupProposal,
        on: Date,
    ) -> Result<Vec<(GroupRow, usize)>, Error> {
        let school = self.school();
        self.about("group_proposal", made.head.id.uuid());
        let rows = self.pupil_rows(&made.placed().collect::<Vec<_>>())?;
        let here = rows.into_iter().filter(|row| row.left_on.is_none_or(|last| last >= on));
        let here: BTreeSet<PupilId> = here.map(|row| row.id).collect();
        let mut filled = Vec::new();
        for (slot, group) in made.asked.groups.iter().zip(&made.proposal.groups) {
            let row = match slot.group_id {
                Some(id) => self.group_row(id)?,
                None => {
                    let permit = self.permit::<Manage, _>(Groups)?;
                    self.add_group(&permit, slot.name.as_str(), made.asked.sequence_id)?
                }
            };
            let permit = self.permit::<Manage, _>(Group(row.id))?;
            if let Some(staff) = slot.staff_id.filter(|_| slot.group_id.is_none()) {
                self.set_group_adults(&permit, &[(staff, Span { from: on, until: None })], row.v)?;
            }
            let pupils: BTreeSet<PupilId> =
                group.pupils.iter().map(|one| one.id).filter(|id| here.contains(id)).collect();
            let v = self.group_row(row.id)?.v;
            filled.push((self.set_group_members(&permit, &pupils, on, v)?, pupils.len()));
        }
        for id in &made.asked.leave {
            self.take_out(*id, &here, on)?;
        }
        let accepted = Accepted { on, groups: filled.iter().map(|(row, _)| row.id).collect() };
        let accepted = serde_json::to_value(&accepted)?;
        db!(self.conn, c => diesel::update(group_proposal::table.find((school, made.head.id)))
            .set(group_proposal::accepted.eq(Some(&accepted)))
            .execute(c))?;
        Ok(filled)
    }

    /// Takes those of some pupils who are members out of a group from a day on.
    fn take_out(&mut self, id: GroupId, pupils: &BTreeSet<PupilId>, from: Date) -> Result<(), Error> {
        let school = self.school();
        let members: Vec<PupilId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(id))
            .filter(group_member::until_on.is_null().or(group_member::until_on.ge(from)))
            .select(group_member::pupil_id)
            .distinct()
            .load(c))?;
        for pupil in members.into_iter().filter(|pupil| pupils.contains(pupil)) {
            self.remove_member(id, pupil, from)?;
        }
        let row = self.group_row(id)?;
        self.store_group(row).map(|_| ())
    }
}
