//! What stands in the records of a page that are about how checks went.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    check::{ResponseMode, SpeechNote},
    id::{ExemptionId, PupilId, ResponseId, SittingId},
};

use super::{Pulled, RecordKind};
use crate::store::{
    Error, ExemptionRow, NotAccessibleRow, ResponseRow, Sitting, Tx,
    conn::db,
    schema::{exemption, not_accessible, response, sitting},
    sitting::SittingRow,
};

/// How a pupil answers today.
#[derive(Clone, Debug)]
pub struct AnsweringNow {
    /// The pupil.
    pub pupil: PupilId,
    /// How the pupil usually answers.
    pub mode: ResponseMode,
    /// How the pupil usually says sounds.
    pub speech: SpeechNote,
    /// What is not accessible, ended or not.
    pub not_accessible: Vec<NotAccessibleRow>,
}

impl Tx<'_> {
    /// The answers in the page, but for first marks the actor is still to give second ones for.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_responses(&mut self, page: &Pulled) -> Result<Vec<ResponseRow>, Error> {
        let (school, ids): (_, Vec<ResponseId>) = (self.school(), page.of(RecordKind::Response));
        let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::id.eq_any(&ids))
            .select(ResponseRow::as_select())
            .load(c))?;
        let pupils: Vec<PupilId> = rows.iter().map(|row| row.pupil_id).collect();
        let blind = self.blind_places(&pupils)?;
        let told = |row: &ResponseRow| !blind.contains(&(row.round_id, row.check_id, row.pupil_id));
        Ok(rows.into_iter().filter(told).collect())
    }

    /// The sittings in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_sittings(&mut self, page: &Pulled) -> Result<Vec<Sitting>, Error> {
        let (school, ids): (_, Vec<SittingId>) = (self.school(), page.of(RecordKind::Sitting));
        let rows: Vec<SittingRow> = db!(self.conn, c => sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::id.eq_any(&ids))
            .select(SittingRow::as_select())
            .load(c))?;
        rows.into_iter().map(Sitting::try_from).collect()
    }

    /// The exemptions in the page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_exemptions(&mut self, page: &Pulled) -> Result<Vec<ExemptionRow>, Error> {
        let (school, ids): (_, Vec<ExemptionId>) = (self.school(), page.of(RecordKind::Exemption));
        Ok(db!(self.conn, c => exemption::table
            .filter(exemption::school_id.eq(school))
            .filter(exemption::id.eq_any(&ids))
            .select(ExemptionRow::as_select())
            .load(c))?)
    }

    /// How the pupils in the page answer today.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pulled_answering(&mut self, page: &Pulled) -> Result<Vec<AnsweringNow>, Error> {
        let (school, today) = (self.school(), self.today());
        let pupils: Vec<PupilId> = page.of(RecordKind::PupilAnswering);
        let rows: Vec<NotAccessibleRow> = db!(self.conn, c => not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::pupil_id.eq_any(&pupils))
            .order((not_accessible::at, not_accessible::id))
            .select(NotAccessibleRow::as_select())
            .load(c))?;
        let mut barred: BTreeMap<PupilId, Vec<NotAccessibleRow>> = BTreeMap::new();
        for row in rows {
            barred.entry(row.pupil_id).or_default().push(row);
        }
        let (modes, mut notes) = (self.usual_modes(&pupils, today)?, self.speech_notes(&pupils, today)?);
        let now = |pupil: PupilId| AnsweringNow {
            pupil,
            mode: modes.get(&pupil).copied().unwrap_or(ResponseMode::Spoken),
            speech: notes.remove(&pupil).unwrap_or_default(),
            not_accessible: barred.remove(&pupil).unwrap_or_default(),
        };
        Ok(pupils.into_iter().map(now).collect())
    }
}
