//! What is on record of one pupil's learning: lessons and checks, gathered in one snapshot.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    attainment::{Answer, PupilRecords},
    check::in_force,
    id::{ItemId, PupilId},
    lesson::coverage,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    response::{ResponseRow, response_of},
    schema::response,
};

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
        let pasts = self.pasts_of_pupil(pupil)?;
        let carried = pasts.iter().map(|past| &past.carried);
        let mut learning = PupilRecords {
            covered: coverage(pupil, carried, records.iter().map(|saved| &saved.record)),
            answers: self.gpc_answers(pupil)?,
            ..PupilRecords::default()
        };
        for id in self.groups_today(pupil)? {
            let group = self.group_row(id)?;
            let version = self.version_for(&group, today)?;
            learning.contents.extend(version.map(|version| version.content));
        }
        learning.contents.extend(self.versions_pinned(permit, &records, &pasts)?);
        Ok(learning)
    }

    /// One pupil's answers that count, those carried in too, by the correspondence each asked for.
    fn gpc_answers(&mut self, pupil: PupilId) -> Result<BTreeMap<ItemId, Vec<Answer>>, Error> {
        let school = self.school();
        let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq(pupil))
            .select(ResponseRow::as_select())
            .load(c))?;
        let gpcs = self.gpcs_asked()?;
        let mut answers: BTreeMap<ItemId, Vec<Answer>> = BTreeMap::new();
        for (gpc, answer) in self.carried_answers(pupil)? {
            answers.entry(gpc).or_default().push(answer);
        }
        for one in in_force(rows.into_iter().map(response_of).collect()) {
            if let Some(gpc) = gpcs.get(&one.item) {
                let answer = Answer { on: one.on, outcome: one.outcome, carried_in: false };
                answers.entry(*gpc).or_default().push(answer);
            }
        }
        Ok(answers)
    }
}
