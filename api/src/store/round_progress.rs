//! How many items each pupil of a round was asked. No marks.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::Round},
    check::{Outcome, in_force},
    id::{CheckId, PupilId},
};

use super::{
    Error, Permit, PupilRow, ResponseRow, Tx, conn::db, exemption::exempting, response_of, schema::response,
};

/// How far one pupil is within a round.
#[derive(Clone, Debug)]
pub struct RoundProgress {
    /// The pupil.
    pub pupil: PupilRow,
    /// The class, to tell namesakes apart.
    pub class: Option<String>,
    /// Items answered, one way or another, by check.
    pub answered: BTreeMap<CheckId, Answered>,
    /// Checks of the round that are not accessible to the pupil.
    pub not_accessible: Vec<CheckId>,
    /// Checks of the round the pupil is exempt from.
    pub exempt: Vec<CheckId>,
}

/// Items of a check that a pupil answered.
#[derive(Clone, Copy, Debug, Default)]
pub struct Answered {
    /// All of them.
    pub asked: usize,
    /// Those where one of several was chosen.
    pub chosen: usize,
}

impl<'tx> Tx<'tx> {
    /// How far each pupil of a round is whom the actor may see, by name. Counts only: no marks.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round_progress(&mut self, permit: &Permit<'tx, Read, Round>) -> Result<Vec<RoundProgress>, Error> {
        let id = permit.resource().0;
        let round = self.round_row(id)?;
        let day = round.day_near(self.today());
        let (whom, mut answered) = (self.whom_on(&round, day)?, self.answered_in(permit)?);
        let pupils = self.pupils_of_round(&round, &whom, day)?;
        let ids: Vec<PupilId> = pupils.iter().map(|row| row.id).collect();
        let (checks, exemptions) = (self.checks_found(&round.checks)?, self.exemptions_in(id)?);
        let mut not_accessible: BTreeMap<PupilId, Vec<CheckId>> = BTreeMap::new();
        for (pupil, check) in self.not_accessible_on(&ids, &checks, day)? {
            not_accessible.entry(pupil).or_default().push(check);
        }
        let classes = self.class_names(day)?;
        let exempt = |pupil: PupilId| {
            let from = checks.iter().filter(|check| exempting(&exemptions, pupil, check.id).is_some());
            from.map(|check| check.id).collect()
        };
        Ok(pupils
            .into_iter()
            .map(|pupil| RoundProgress {
                answered: answered.remove(&pupil.id).unwrap_or_default(),
                not_accessible: not_accessible.remove(&pupil.id).unwrap_or_default(),
                exempt: exempt(pupil.id),
                class: classes.get(&pupil.id).cloned(),
                pupil,
            })
            .collect())
    }

    /// How many items of each check every pupil answered in a round.
    fn answered_in(
        &mut self,
        permit: &Permit<'tx, Read, Round>,
    ) -> Result<BTreeMap<PupilId, BTreeMap<CheckId, Answered>>, Error> {
        let (school, id) = (self.school(), permit.resource().0);
        let rows: Vec<ResponseRow> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(id))
            .select(ResponseRow::as_select())
            .load(c))?;
        let mut answered: BTreeMap<PupilId, BTreeMap<CheckId, Answered>> = BTreeMap::new();
        let mut items = BTreeSet::new();
        for one in in_force(rows.into_iter().map(response_of).collect()) {
            // Two records that became one child's may both hold an answer to an item.
            if one.outcome != Outcome::NotOffered && items.insert((one.pupil, one.check, one.item)) {
                let count = answered.entry(one.pupil).or_default().entry(one.check).or_default();
                count.asked += 1;
                count.chosen += usize::from(one.mode.is_choice());
            }
        }
        Ok(answered)
    }
}
