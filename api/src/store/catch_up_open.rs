//! What checks say of items that were missed.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Read,
        resource::{CatchUpPlans, Group, GroupChecks},
    },
    catch_up::{Answers, items_asked},
    check::in_force,
    id::PupilId,
    sequence::Item,
    time::Date,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    pupils::BATCH,
    response::{ResponseRow, response_of},
    schema::response,
};

impl<'tx> Tx<'tx> {
    /// Says whom a plan is about, for the audit log: its one group, or the school.
    pub fn note_plan(
        &mut self,
        _permit: &Permit<'tx, Read, CatchUpPlans>,
        groups: &[Permit<'tx, Read, Group>],
    ) {
        match groups {
            [group] => self.about("group", group.resource().0.uuid()),
            _ => self.about("school", self.school().uuid()),
        }
    }

    /// The answers up to a day of members of the group to checks that ask for these items. Answers carried in
    /// are none: nobody asked them here.
    ///
    /// # Errors
    /// If the store fails.
    pub fn member_answers(
        &mut self,
        _permit: &Permit<'tx, Read, GroupChecks>,
        members: &[PupilId],
        items: &[&Item],
        on: Date,
    ) -> Result<BTreeMap<PupilId, Answers>, Error> {
        self.answers_of(members, items, on)
    }

    /// The same of any pupils.
    pub(super) fn answers_of(
        &mut self,
        pupils: &[PupilId],
        items: &[&Item],
        on: Date,
    ) -> Result<BTreeMap<PupilId, Answers>, Error> {
        let school = self.school();
        let mut rows: Vec<ResponseRow> = Vec::new();
        for pupils in pupils.chunks(BATCH) {
            let some: Vec<ResponseRow> = db!(self.conn, c => response::table
                .filter(response::school_id.eq(school))
                .filter(response::pupil_id.eq_any(pupils))
                .select(ResponseRow::as_select())
                .load(c))?;
            rows.extend(some);
        }
        let checks = self.all_checks()?;
        let asked = items_asked(
            checks.iter().flat_map(|check| check.items.iter().map(|item| (check.kind, item))),
            items,
        );
        let mut answers: BTreeMap<PupilId, Answers> = BTreeMap::new();
        let responses = in_force(rows.into_iter().map(response_of).collect());
        for one in responses.into_iter().filter(|one| one.on <= on) {
            for item in asked.get(&one.item).into_iter().flatten() {
                let of_pupil = answers.entry(one.pupil).or_default();
                of_pupil.entry(*item).or_default().push((one.on, one.outcome));
            }
        }
        Ok(answers)
    }
}
