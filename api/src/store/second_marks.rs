//! Second marks. They stand beside the responses and change none.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{PupilChecks, RoundAgreement},
    },
    check::{CorrectionReason::SecondMarking, Heard, Outcome, second::Basis},
    id::{CheckId, CheckItemId, PupilId, SchoolId, SecondSampleId},
};

use super::{
    CheckRow, Error, Permit, ResponseRow, SecondSampleRow, Tx,
    conn::db,
    schema::{response, second_mark, second_sample},
};

/// A second mark.
#[derive(Clone, Debug, Insertable, Queryable, Selectable)]
#[diesel(table_name = second_mark, treat_none_as_default_value = false)]
pub struct SecondMarkRow {
    /// The school.
    pub school_id: SchoolId,
    /// The pupil's place in the sample.
    pub second_sample_id: SecondSampleId,
    /// The item.
    pub item_id: CheckItemId,
    /// The second mark.
    pub outcome: Outcome,
    /// What was heard, as sounds.
    pub heard: Option<String>,
}

/// A second mark to write.
#[derive(Clone, Debug)]
pub struct NewSecondMark {
    /// The item.
    pub item: CheckItemId,
    /// The mark.
    pub outcome: Outcome,
    /// What was heard.
    pub heard: Option<Heard>,
}

/// A pupil's marks of a check, first and second.
#[derive(Clone, Debug)]
pub struct MarkedTwice {
    /// The place in the sample.
    pub row: SecondSampleRow,
    /// The responses to the check, corrections and corrected ones too, with their versions and why they correct.
    pub first: Vec<ResponseRow>,
    /// The second marks.
    pub second: Vec<SecondMarkRow>,
}

impl MarkedTwice {
    /// The first mark of an item as it stood when the second was given, or that came after, where none stood yet: then
    /// one that was taken back or recorded wrongly is none. What was settled by talking about the two is no first mark.
    pub fn first_mark(&self, item: CheckItemId) -> Option<&ResponseRow> {
        let of_item = || {
            let marks = self.first.iter().filter(|row| row.item_id == item);
            marks.filter(|row| row.reason != Some(SecondMarking))
        };
        let asked = |row: &&ResponseRow| row.outcome != Outcome::NotOffered;
        let corrected = |row: &&ResponseRow| of_item().any(|other| other.corrects == Some(row.id));
        let stood = of_item().rfind(|row| row.v <= self.row.v);
        stood.filter(asked).or_else(|| of_item().find(|row| asked(row) && !corrected(row)))
    }

    /// Whether a difference was talked about and corrected.
    pub fn is_settled(&self, item: CheckItemId) -> bool {
        self.first.iter().any(|row| row.item_id == item && row.reason == Some(SecondMarking))
    }
}

impl<'tx> Tx<'tx> {
    /// Writes a second adult's marks of a pupil's check.
    ///
    /// # Errors
    /// [`Error::Conflict`] if they were given already.
    pub fn give_second_marks(
        &mut self,
        permit: &Permit<'tx, Record, PupilChecks>,
        check: CheckId,
        place: &SecondSampleRow,
        basis: Basis,
        marks: &[NewSecondMark],
    ) -> Result<(), Error> {
        let (school, now, v) = (self.school(), self.now(), self.version);
        if place.given_at.is_some() {
            return Err(Error::Conflict);
        }
        let row = |mark: &NewSecondMark| SecondMarkRow {
            school_id: school,
            second_sample_id: place.id,
            item_id: mark.item,
            outcome: mark.outcome,
            heard: mark.heard.as_ref().map(ToString::to_string),
        };
        let rows: Vec<SecondMarkRow> = marks.iter().map(row).collect();
        db!(self.conn, c => diesel::insert_into(second_mark::table).values(&rows).execute(c))?;
        db!(self.conn, c => diesel::update(second_sample::table.find((school, place.id)))
            .set((
                second_sample::basis.eq(Some(basis)),
                second_sample::given_at.eq(Some(now)),
                second_sample::v.eq(v),
            ))
            .execute(c))?;
        self.about("pupil", place.pupil_id.uuid());
        let PupilChecks { round, pupil, .. } = *permit.resource();
        self.told_to_others(round, check, &[pupil])
    }

    /// A pupil's marks of a check, first and second.
    ///
    /// # Errors
    /// If the store fails.
    pub fn marked_twice<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilChecks>,
        check: CheckId,
        place: &SecondSampleRow,
    ) -> Result<MarkedTwice, Error> {
        let first = self.responses(permit)?.into_iter().filter(|row| row.check_id == check).collect();
        let second = self.marks_at(&[place.id])?;
        Ok(MarkedTwice { row: place.clone(), first, second })
    }

    fn marks_at(&mut self, places: &[SecondSampleId]) -> Result<Vec<SecondMarkRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => second_mark::table
            .filter(second_mark::school_id.eq(school))
            .filter(second_mark::second_sample_id.eq_any(places))
            .order((second_mark::second_sample_id, second_mark::item_id))
            .select(SecondMarkRow::as_select())
            .load(c))?)
    }

    /// All that was marked twice of a check of the round, how many the sample holds, and the check.
    ///
    /// # Errors
    /// [`Error::Missing`] if no sample of the check was drawn.
    pub fn all_marked_twice(
        &mut self,
        permit: &Permit<'tx, Read, RoundAgreement>,
        check: CheckId,
    ) -> Result<(CheckRow, usize, Vec<MarkedTwice>), Error> {
        let (school, round) = (self.school(), permit.resource().0);
        self.about("check_round", round.uuid());
        let marking = self.marking_of(round, check)?.ok_or(Error::Missing)?;
        let row = self.check_found(check)?.ok_or(Error::Missing)?;
        let places: Vec<SecondSampleRow> = db!(self.conn, c => second_sample::table
            .filter(second_sample::school_id.eq(school))
            .filter(second_sample::second_marking_id.eq(marking.id))
            .order(second_sample::id)
            .select(SecondSampleRow::as_select())
            .load(c))?;
        let drawn = places.len();
        let mut given: Vec<SecondSampleRow> =
            places.into_iter().filter(|row| row.given_at.is_some()).collect();
        // Two records that became one child's may both have been marked: the first one counts.
        let mut once = BTreeSet::new();
        given.retain(|row| once.insert(row.pupil_id));
        let pupils: Vec<PupilId> = given.iter().map(|row| row.pupil_id).collect();
        let first: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::check_id.eq(check))
            .filter(response::pupil_id.eq_any(&pupils))
            .order((response::v, response::id))
            .select(ResponseRow::as_select())
            .load(c))?;
        let second = self.marks_at(&given.iter().map(|row| row.id).collect::<Vec<_>>())?;
        let whole = |place: SecondSampleRow| MarkedTwice {
            first: first.iter().filter(|row| row.pupil_id == place.pupil_id).cloned().collect(),
            second: second.iter().filter(|mark| mark.second_sample_id == place.id).cloned().collect(),
            row: place,
        };
        Ok((row, drawn, given.into_iter().map(whole).collect()))
    }
}
