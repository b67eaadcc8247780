//! What was done offline and came after another change: it stands nowhere, and is kept in the history. Such clashes are
//! few, so that those of a record are looked for among all of the school's.

use plumbline_core::{
    access::{
        act::Read,
        resource::{GroupDay, PupilChecks},
    },
    check::{Outcome, ResponseMode},
    id::{CheckItemId, LessonRecordId, PupilId},
    lesson::{self, under_one_record},
};
use serde::Deserialize;

use super::{
    Error, Permit, Tx,
    change::{HistoryLine, RecKind},
    conn::db,
    schema::history,
};
use diesel::prelude::*;

/// What an operation said of the answers of one pupil.
#[derive(Deserialize)]
struct Said {
    pupil_id: PupilId,
    answers: Vec<AnswerSetAside>,
}

/// An answer that another adult's to the same item stands for.
#[derive(Deserialize)]
pub struct AnswerSetAside {
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead, in sounds.
    #[serde(default)]
    pub heard: Option<String>,
    /// How the pupil answered, where that was said.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
}

impl<'tx> Tx<'tx> {
    /// What was said of a lesson and does not stand, earliest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn lessons_set_aside(
        &mut self,
        permit: &Permit<'tx, Read, GroupDay>,
        id: LessonRecordId,
    ) -> Result<Vec<(HistoryLine, lesson::Record)>, Error> {
        let group = permit.resource().group;
        let (mut said, merged) = (Vec::new(), self.merged_records()?);
        let of_it = |line: &HistoryLine| line.body["id"] == id.to_string().as_str();
        for line in self.set_aside("superseded_lesson")?.into_iter().filter(of_it) {
            let mut record: lesson::Record = serde_json::from_value(line.body.clone())?;
            if record.group == group {
                let register = under_one_record(&record.register, |pupil| merged.now(pupil));
                record.register = register.into_iter().map(|(_, entry)| entry).collect();
                said.push((line, record));
            }
        }
        Ok(said)
    }

    /// Answers of a pupil in a round that do not stand, earliest first.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answers_set_aside(
        &mut self,
        permit: &Permit<'tx, Read, PupilChecks>,
    ) -> Result<Vec<(HistoryLine, AnswerSetAside)>, Error> {
        let PupilChecks { round, pupil, .. } = *permit.resource();
        let merged = self.merged_records()?;
        let mut given = Vec::new();
        let of_round = |line: &HistoryLine| line.body["round_id"] == round.to_string().as_str();
        for line in self.set_aside("superseded_answer")?.into_iter().filter(of_round) {
            let said: Said = serde_json::from_value(line.body.clone())?;
            if merged.now(said.pupil_id) == pupil {
                given.extend(said.answers.into_iter().map(|answer| (line.clone(), answer)));
            }
        }
        Ok(given)
    }

    fn set_aside(&mut self, kind: RecKind) -> Result<Vec<HistoryLine>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => history::table
            .filter(history::school_id.eq(school))
            .filter(history::rec_kind.eq(kind))
            .order((history::v, history::turn))
            .select((history::v, history::at, history::staff_id, history::body))
            .load(c))?)
    }
}
