//! Answers that count, with what was heard, for working out which grapheme was read as what.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Read,
        reaches_all,
        resource::{ClassChecks, GroupChecks, PupilChecks, PupilLearning},
    },
    check::{CheckItem, Response, SpeechNote},
    id::{CheckId, PupilId},
    time::Date,
};

use super::{
    Error, Permit, Tx,
    conn::{db, held_on},
    response::Blind,
    schema::{class_member, group_member, second_marking, second_sample},
};

/// Answers with what is needed to look at them.
#[derive(Clone, Debug)]
pub struct HeardAnswers {
    /// The answers that count.
    pub answers: Vec<Response>,
    /// The items they are to.
    pub items: Vec<CheckItem>,
    /// How the pupils usually say sounds.
    pub notes: BTreeMap<PupilId, SpeechNote>,
    /// The fewest pupils a figure may be about; none for readers who may see each pupil's results.
    pub smallest: Option<usize>,
}

/// The first and the last day of some.
type Days = (Option<Date>, Option<Date>);

impl<'tx> Tx<'tx> {
    /// A pupil's answers between two days. The reading is of the pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_heard(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
        days: Days,
    ) -> Result<HeardAnswers, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        self.heard_of(&[pupil], days)
    }

    /// Answers of a group's members of today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_heard(
        &mut self,
        permit: &Permit<'tx, Read, GroupChecks>,
        days: Days,
    ) -> Result<HeardAnswers, Error> {
        let (school, group, today) = (self.school(), permit.resource().0, self.today());
        self.about("group", group.uuid());
        let pupils: Vec<PupilId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::group_id.eq(group))
            .filter(held_on!(group_member, today))
            .select(group_member::pupil_id)
            .load(c))?;
        self.heard_of(&pupils, days)
    }

    /// Answers of a class's pupils of today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn class_heard(
        &mut self,
        permit: &Permit<'tx, Read, ClassChecks>,
        days: Days,
    ) -> Result<HeardAnswers, Error> {
        let (school, class, today) = (self.school(), permit.resource().0, self.today());
        self.about("class", class.uuid());
        let pupils: Vec<PupilId> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::class_id.eq(class))
            .filter(held_on!(class_member, today))
            .select(class_member::pupil_id)
            .load(c))?;
        self.heard_of(&pupils, days)
    }

    fn heard_of(&mut self, pupils: &[PupilId], (since, until): Days) -> Result<HeardAnswers, Error> {
        let today = self.today();
        // Nothing of first marks to whoever is still to mark them a second time.
        let blind = self.blind_places(pupils)?;
        let mut answers = self.counting_responses(pupils, &blind)?;
        answers.retain(|one| since.is_none_or(|day| one.on >= day) && one.on <= until.unwrap_or(today));
        let checks: BTreeSet<CheckId> = answers.iter().map(|one| one.check).collect();
        let mut items = Vec::new();
        for check in checks {
            items.extend(self.check_found(check)?.into_iter().flat_map(|row| row.items));
        }
        let sees_each = reaches_all::<Read, PupilChecks>(&self.actor) || {
            let near = self.pupils_near(self.actor.staff)?;
            pupils.iter().all(|pupil| near.contains(pupil))
        };
        let smallest = self.rules()?.disclosure.closed.minimum_group;
        let notes = self.speech_notes(pupils, today)?;
        Ok(HeardAnswers { answers, items, notes, smallest: (!sees_each).then_some(smallest) })
    }

    /// Checks of rounds and pupils that the actor is still to mark a second time.
    pub(super) fn blind_places(&mut self, pupils: &[PupilId]) -> Result<Blind, Error> {
        let (school, me) = (self.school(), self.actor.staff);
        let rows: Vec<_> = db!(self.conn, c => second_sample::table
            .inner_join(second_marking::table.on(second_marking::school_id.eq(second_sample::school_id)
                .and(second_marking::id.eq(second_sample::second_marking_id))))
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::pupil_id.eq_any(pupils))
            .filter(second_sample::staff_id.eq(me))
            .filter(second_sample::given_at.is_null())
            .select((second_marking::round_id, second_marking::check_id, second_sample::pupil_id))
            .load(c))?;
        Ok(rows.into_iter().collect())
    }
}
