//! What is on record of pupils' learning: lessons and checks, gathered in one snapshot.

use std::collections::BTreeMap;

use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{GroupProposals, PupilLearning},
    },
    attainment::{Answer, PupilRecords},
    check::{Outcome, Response},
    id::{ItemId, PupilId},
    lesson::{Record, coverage, days_taught},
    time::Date,
};

use super::{Error, Permit, SavedCarriedIn, SavedCatchUp, Tx, lesson::by_pupil, response::Blind};

impl<'tx> Tx<'tx> {
    /// A pupil's lessons and answers, with what was carried in. The reading is logged.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_learning(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<PupilRecords, Error> {
        let (pupil, today) = (permit.resource().0, self.today());
        let records: Vec<_> = self.pupil_records(permit)?.into_iter().map(|(_, saved)| saved).collect();
        let (pasts, catch_ups) = (self.pasts_of_pupil(pupil)?, self.pupil_catch_ups(permit)?);
        let blind = self.blind_places(&[pupil])?;
        let answers = self.gpc_answers(&[pupil], None, &blind)?.remove(&pupil).unwrap_or_default();
        let theirs: Vec<&Record> = records.iter().map(|saved| &saved.record).collect();
        let mut learning = records_of(pupil, &pasts, &theirs, &catch_ups, answers);
        for id in self.groups_today(pupil)? {
            let group = self.group_row(id)?;
            let version = self.version_for(&group, today)?;
            learning.contents.extend(version.map(|version| version.content));
        }
        learning.contents.extend(self.versions_pinned(permit, &records, &pasts, &catch_ups)?);
        Ok(learning)
    }

    /// Lessons and answers of many pupils as of a day, with what was carried in by then, and without the
    /// versions they are from.
    ///
    /// # Errors
    /// If the store fails.
    pub fn learning_of(
        &mut self,
        _permit: &Permit<'tx, Manage, GroupProposals>,
        pupils: &[PupilId],
        as_of: Date,
    ) -> Result<BTreeMap<PupilId, PupilRecords>, Error> {
        let (records, pasts) = (self.all_records(as_of)?, self.all_pasts(as_of)?);
        let catch_ups = self.all_catch_ups(as_of)?;
        let mut answers = self.gpc_answers(pupils, Some(as_of), &Blind::new())?;
        let of_pupil = by_pupil(&records);
        let learning = pupils.iter().map(|pupil| {
            let theirs = of_pupil.get(pupil).map_or(&[][..], Vec::as_slice);
            let answers = answers.remove(pupil).unwrap_or_default();
            (*pupil, records_of(*pupil, &pasts, theirs, &catch_ups, answers))
        });
        Ok(learning.collect())
    }

    /// Answers that count, those carried in too, by pupil and by the correspondence each asked for; up to a
    /// day where one is given, without those the actor is still to mark a second time.
    pub(super) fn gpc_answers(
        &mut self,
        pupils: &[PupilId],
        until: Option<Date>,
        blind: &Blind,
    ) -> Result<BTreeMap<PupilId, BTreeMap<ItemId, Vec<Answer>>>, Error> {
        let gpcs = self.gpcs_asked()?;
        let mut answers: BTreeMap<PupilId, BTreeMap<ItemId, Vec<Answer>>> = BTreeMap::new();
        let mut add = |pupil: PupilId, gpc: ItemId, answer: Answer| {
            answers.entry(pupil).or_default().entry(gpc).or_default().push(answer);
        };
        for row in self.carried_of(pupils, None)? {
            if until.is_none_or(|until| row.on_date <= until) {
                for (gpc, outcome) in row.by_gpc()? {
                    add(row.pupil_id, gpc, carried_answer(row.on_date, outcome));
                }
            }
        }
        let counts = self.counting_responses(pupils, blind)?.into_iter();
        for one in counts.filter(|one| until.is_none_or(|until| one.on <= until)) {
            if let Some(gpc) = gpcs.get(&one.item) {
                add(one.pupil, *gpc, answer_of(&one));
            }
        }
        Ok(answers)
    }
}

/// What is on record of one pupil, without the versions it is from.
pub(super) fn records_of(
    pupil: PupilId,
    pasts: &[SavedCarriedIn],
    records: &[&Record],
    catch_ups: &[SavedCatchUp],
    answers: BTreeMap<ItemId, Vec<Answer>>,
) -> PupilRecords {
    let carried = || pasts.iter().map(|past| &past.carried);
    let caught_up = || catch_ups.iter().map(|saved| &saved.catch_up);
    PupilRecords {
        covered: coverage(pupil, carried(), records.iter().copied(), caught_up()),
        days: days_taught(pupil, carried(), records.iter().copied(), caught_up()),
        answers,
        ..PupilRecords::default()
    }
}

/// A response to what asks for a correspondence.
pub(super) fn answer_of(response: &Response) -> Answer {
    let Response { on, outcome, mode, .. } = *response;
    Answer { on, outcome, carried_in: false, by_choice: mode.is_choice() }
}

/// One carried in; how it was given nobody says.
pub(super) const fn carried_answer(on: Date, outcome: Outcome) -> Answer {
    Answer { on, outcome, carried_in: true, by_choice: false }
}
