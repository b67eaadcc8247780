//! What checks say of items that were missed.

use std::collections::BTreeMap;

use plumbline_core::{
    access::{
        act::Read,
        resource::{CatchUpPlans, Group, GroupChecks},
    },
    catch_up::{Answers, items_asked},
    id::PupilId,
    sequence::Item,
    time::Date,
};

use super::{Error, Permit, Tx, response::Blind};

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
    /// are none: nobody asked them here. What the actor is still to mark a second time is left out.
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
        let blind = self.blind_places(members)?;
        self.answers_of(members, items, on, &blind)
    }

    /// The same of any pupils.
    pub(super) fn answers_of(
        &mut self,
        pupils: &[PupilId],
        items: &[&Item],
        on: Date,
        blind: &Blind,
    ) -> Result<BTreeMap<PupilId, Answers>, Error> {
        let checks = self.all_checks()?;
        let asked = items_asked(
            checks.iter().flat_map(|check| check.items.iter().map(|item| (check.kind, item))),
            items,
        );
        let mut answers: BTreeMap<PupilId, Answers> = BTreeMap::new();
        let responses = self.counting_responses(pupils, blind)?;
        for one in responses.into_iter().filter(|one| one.on <= on) {
            for item in asked.get(&one.item).into_iter().flatten() {
                let of_pupil = answers.entry(one.pupil).or_default();
                of_pupil.entry(*item).or_default().push((one.on, one.outcome));
            }
        }
        Ok(answers)
    }
}
