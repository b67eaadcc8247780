//! How pupils answer checks: the usual speech and response mode, each word from its day on. It stands here alone, in
//! no history and in no copy for devices.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::Manage,
        resource::{PupilAnswering, PupilChecks},
    },
    check::{ResponseMode, SpeechNote},
    id::{NotAccessibleId, PupilId, SchoolId, SecondSampleId, StaffId},
    roster::optional::{Said, SaidFields, value_on},
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};

use super::{
    Error, Permit, Tx,
    change::ChangeKind,
    conn::db,
    not_accessible::NotAccessibleRow,
    schema::{not_accessible, pupil_answering, second_sample},
};

plumbline_core::vocabulary! {
    /// What is said of how a pupil answers.
    pub enum AnsweringSubject {
        /// How the pupil usually says sounds.
        Speech = "speech",
        /// The usual response mode.
        Mode = "mode",
    }
}

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = pupil_answering, treat_none_as_default_value = false)]
struct SaidRow {
    school_id: SchoolId,
    pupil_id: PupilId,
    subject: AnsweringSubject,
    v: i64,
    from_on: Date,
    value: Option<String>,
    entered_by: StaffId,
    at: Instant,
}

/// How a pupil answers checks.
#[derive(Clone, Debug)]
pub struct AnsweringView {
    /// The version of all of it; 0 where nothing was ever said.
    pub v: i64,
    /// What was said of speech and mode.
    pub said: SaidFields,
    /// Checks that are not accessible, past ones too, the latest first.
    pub not_accessible: Vec<NotAccessibleRow>,
}

impl AnsweringView {
    /// What was said of something.
    pub fn of(&self, subject: AnsweringSubject) -> &[Said] {
        self.said.get(subject.as_str()).map(Vec::as_slice).unwrap_or_default()
    }
}

/// What of it moves with a pupil's record.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Answering {
    pub(super) said: SaidFields,
    not_accessible: Vec<NotAccessibleId>,
    samples: Vec<SecondSampleId>,
}

/// The usual speech that a word on it says. A word that no longer reads accepts nothing more.
fn note(value: Option<&str>) -> SpeechNote {
    value.and_then(|text| text.parse().ok()).unwrap_or_default()
}

fn mode(value: Option<&str>) -> ResponseMode {
    value.and_then(ResponseMode::parse).unwrap_or(ResponseMode::Spoken)
}

impl<'tx> Tx<'tx> {
    /// How a pupil answers checks. Its reading is logged.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answering<A>(&mut self, permit: &Permit<'tx, A, PupilAnswering>) -> Result<AnsweringView, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        self.about("pupil", id.uuid());
        let not_accessible: Vec<NotAccessibleRow> = db!(self.conn, c => not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::pupil_id.eq(id))
            .order((not_accessible::at.desc(), not_accessible::id.desc()))
            .select(NotAccessibleRow::as_select())
            .load(c))?;
        let said = self.answering_said(id)?;
        let words = said.values().flatten().map(|word| word.v);
        let v = words.chain(not_accessible.iter().map(|row| row.v)).max().unwrap_or(0);
        Ok(AnsweringView { v, said, not_accessible })
    }

    /// Says how a pupil answers from a day on; none takes back what was said.
    ///
    /// # Errors
    /// If the store fails.
    pub fn say_answering(
        &mut self,
        permit: &Permit<'tx, Manage, PupilAnswering>,
        subject: AnsweringSubject,
        from: Date,
        value: Option<&str>,
    ) -> Result<(), Error> {
        let pupil = permit.resource().0;
        let word = Said {
            v: self.version,
            from,
            value: value.map(str::to_owned),
            entered_by: self.actor.staff,
            at: self.now(),
        };
        self.insert_answering(pupil, &SaidFields::from([(subject.as_str().to_owned(), vec![word])]))?;
        self.answering_changed(pupil)
    }

    /// How pupils usually answer on a day; who is left out speaks.
    pub(super) fn usual_modes(
        &mut self,
        pupils: &[PupilId],
        day: Date,
    ) -> Result<BTreeMap<PupilId, ResponseMode>, Error> {
        let said = self.answering_on(pupils, AnsweringSubject::Mode, day)?;
        Ok(said.into_iter().map(|(pupil, value)| (pupil, mode(Some(&value)))).collect())
    }

    /// How pupils usually say sounds on a day; who is left out says them as the school does.
    pub(super) fn speech_notes(
        &mut self,
        pupils: &[PupilId],
        day: Date,
    ) -> Result<BTreeMap<PupilId, SpeechNote>, Error> {
        let said = self.answering_on(pupils, AnsweringSubject::Speech, day)?;
        Ok(said.into_iter().map(|(pupil, value)| (pupil, note(Some(&value)))).collect())
    }

    /// How the pupil who is checked usually answers on a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn usual_mode<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilChecks>,
        day: Date,
    ) -> Result<ResponseMode, Error> {
        let pupil = permit.resource().pupil;
        Ok(self.usual_modes(&[pupil], day)?.remove(&pupil).unwrap_or(mode(None)))
    }

    /// How the pupil usually says sounds on a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn speech_note<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilAnswering>,
        day: Date,
    ) -> Result<SpeechNote, Error> {
        let pupil = permit.resource().0;
        Ok(self.speech_notes(&[pupil], day)?.remove(&pupil).unwrap_or_default())
    }

    fn answering_on(
        &mut self,
        pupils: &[PupilId],
        subject: AnsweringSubject,
        day: Date,
    ) -> Result<BTreeMap<PupilId, String>, Error> {
        let school = self.school();
        let rows: Vec<SaidRow> = db!(self.conn, c => pupil_answering::table
            .filter(pupil_answering::school_id.eq(school))
            .filter(pupil_answering::pupil_id.eq_any(pupils))
            .filter(pupil_answering::subject.eq(subject))
            .order(pupil_answering::v)
            .select(SaidRow::as_select())
            .load(c))?;
        let mut said: BTreeMap<PupilId, Vec<Said>> = BTreeMap::new();
        for row in rows {
            said.entry(row.pupil_id).or_default().push(row.said());
        }
        let value = |(pupil, words): (_, Vec<Said>)| Some((pupil, value_on(&words, day)?.to_owned()));
        Ok(said.into_iter().filter_map(value).collect())
    }

    fn answering_said(&mut self, id: PupilId) -> Result<SaidFields, Error> {
        let school = self.school();
        let rows: Vec<SaidRow> = db!(self.conn, c => pupil_answering::table
            .filter(pupil_answering::school_id.eq(school))
            .filter(pupil_answering::pupil_id.eq(id))
            .order(pupil_answering::v)
            .select(SaidRow::as_select())
            .load(c))?;
        let mut said = SaidFields::new();
        for row in rows {
            said.entry(row.subject.as_str().to_owned()).or_default().push(row.said());
        }
        Ok(said)
    }

    fn insert_answering(&mut self, pupil: PupilId, said: &SaidFields) -> Result<(), Error> {
        let school_id = self.school();
        let rows: Vec<SaidRow> = said
            .iter()
            .filter_map(|(subject, words)| Some((AnsweringSubject::parse(subject)?, words)))
            .flat_map(|(subject, words)| words.iter().map(move |word| (subject, word)))
            .map(|(subject, word)| SaidRow {
                school_id,
                pupil_id: pupil,
                subject,
                v: word.v,
                from_on: word.from,
                value: word.value.clone(),
                entered_by: word.entered_by,
                at: word.at,
            })
            .collect();
        db!(self.conn, c => diesel::insert_into(pupil_answering::table).values(&rows).execute(c))?;
        Ok(())
    }

    /// Those who teach the pupil learn that something changed, and not what.
    pub(super) fn answering_changed(&mut self, pupil: PupilId) -> Result<(), Error> {
        self.about("pupil", pupil.uuid());
        let scopes = self.scopes_of(pupil)?;
        self.log("pupil_answering", pupil.uuid(), &scopes, ChangeKind::Put)
    }

    /// What of it moves with a pupil's record.
    pub(super) fn answering_whole(&mut self, id: PupilId) -> Result<Answering, Error> {
        let school = self.school();
        let not_accessible = db!(self.conn, c => not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::pupil_id.eq(id))
            .order(not_accessible::id)
            .select(not_accessible::id)
            .load(c))?;
        let samples = db!(self.conn, c => second_sample::table
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::pupil_id.eq(id))
            .order(second_sample::id)
            .select(second_sample::id)
            .load(c))?;
        Ok(Answering { said: self.answering_said(id)?, not_accessible, samples })
    }

    /// Makes what is said of a pupil exactly this.
    pub(super) fn set_answering(&mut self, id: PupilId, said: &SaidFields) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(pupil_answering::table
            .filter(pupil_answering::school_id.eq(school))
            .filter(pupil_answering::pupil_id.eq(id)))
            .execute(c))?;
        self.insert_answering(id, said)
    }

    /// Makes what has ids of its own another record's.
    pub(super) fn move_answering(&mut self, of: &Answering, to: PupilId) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::update(not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::id.eq_any(&of.not_accessible)))
            .set(not_accessible::pupil_id.eq(to))
            .execute(c))?;
        db!(self.conn, c => diesel::update(second_sample::table
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::id.eq_any(&of.samples)))
            .set(second_sample::pupil_id.eq(to))
            .execute(c))?;
        Ok(())
    }
}

impl SaidRow {
    fn said(self) -> Said {
        let Self { v, from_on: from, value, entered_by, at, .. } = self;
        Said { v, from, value, entered_by, at }
    }
}
