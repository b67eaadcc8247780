//! Whom a round asks: one answer for its list, its progress, its log sheet, its samples, and whoever begins.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{
    dsl::{exists, select},
    prelude::*,
};
use plumbline_core::{
    access::{act::Read, resource::PupilChecks},
    check::{Places, RoundPlan},
    id::{GroupId, PupilId, RoundId},
    time::Date,
};

use super::{
    Error, Permit, PupilRow, RoundRow, Tx,
    conn::{db, held_on},
    schema::{group_member, pupil, response, sitting},
};

/// Whom a round asks, as of a day: those it is for by where they are, and those whom somebody has asked although it
/// is for others.
pub(super) struct Whom {
    pub(super) places: BTreeMap<PupilId, Places>,
    pub(super) asked: BTreeSet<PupilId>,
}

impl Whom {
    /// Whether the round asks a pupil.
    pub(super) fn holds(&self, plan: &RoundPlan, pupil: PupilId) -> bool {
        let nowhere = Places::default();
        plan.is_for(pupil, self.places.get(&pupil).unwrap_or(&nowhere)) || self.asked.contains(&pupil)
    }
}

impl RoundRow {
    /// The day of the round that is nearest to one: as of it pupils are where they are.
    pub(super) fn day_near(&self, day: Date) -> Date {
        day.clamp(self.opens_on, self.closes_on)
    }
}

impl<'tx> Tx<'tx> {
    /// Whom a round asks on a day.
    pub(super) fn whom_on(&mut self, round: &RoundRow, day: Date) -> Result<Whom, Error> {
        let places = self.places_on(round.day_near(day))?;
        if round.plan.whom.is_none() {
            return Ok(Whom { places, asked: BTreeSet::new() });
        }
        let school = self.school();
        let answered: Vec<PupilId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round.id))
            .select(response::pupil_id)
            .distinct()
            .load(c))?;
        let sat: Vec<PupilId> = db!(self.conn, c => sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::round_id.eq(round.id))
            .select(sitting::pupil_id)
            .distinct()
            .load(c))?;
        Ok(Whom { places, asked: answered.into_iter().chain(sat).collect() })
    }

    /// The pupils a round asks on a day whom the actor may see, by name.
    pub(super) fn pupils_of_round(
        &mut self,
        round: &RoundRow,
        whom: &Whom,
        day: Date,
    ) -> Result<Vec<PupilRow>, Error> {
        let school = self.school();
        let mut pupils: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(day)))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        let ids: Vec<PupilId> = pupils.iter().map(|row| row.id).collect();
        let of = |pupil| PupilChecks { round: round.id, pupil, on: None };
        let seen = self.allowed_of::<Read, _>(&ids, of)?;
        pupils.retain(|row| seen.contains(&row.id) && whom.holds(&round.plan, row.id));
        Ok(pupils)
    }

    /// Whether a round asks a pupil on a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn is_asked<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilChecks>,
        round: &RoundRow,
        on: Date,
    ) -> Result<bool, Error> {
        self.asks(round, permit.resource().pupil, on)
    }

    pub(super) fn asks(&mut self, round: &RoundRow, pupil: PupilId, on: Date) -> Result<bool, Error> {
        if round.plan.whom.is_none() {
            return Ok(true);
        }
        let (school, day) = (self.school(), round.day_near(on));
        let classes = self.classes_on(pupil, day)?;
        let groups: Vec<GroupId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(held_on!(group_member, day))
            .select(group_member::group_id)
            .load(c))?;
        let places = Places { classes, groups: groups.into_iter().collect() };
        Ok(round.plan.is_for(pupil, &places) || self.was_asked(round.id, pupil)?)
    }

    fn was_asked(&mut self, round: RoundId, pupil: PupilId) -> Result<bool, Error> {
        let school = self.school();
        let answered: bool = db!(self.conn, c => select(exists(response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::pupil_id.eq(pupil))))
            .get_result(c))?;
        let sat: bool = db!(self.conn, c => select(exists(sitting::table
            .filter(sitting::school_id.eq(school))
            .filter(sitting::round_id.eq(round))
            .filter(sitting::pupil_id.eq(pupil))))
            .get_result(c))?;
        Ok(answered || sat)
    }

    /// Where every pupil is on a day.
    fn places_on(&mut self, day: Date) -> Result<BTreeMap<PupilId, Places>, Error> {
        let school = self.school();
        let in_classes = self.class_places(day)?;
        let in_groups: Vec<(PupilId, GroupId)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, day))
            .select((group_member::pupil_id, group_member::group_id))
            .load(c))?;
        let mut places: BTreeMap<PupilId, Places> = BTreeMap::new();
        for (pupil, class) in in_classes {
            places.entry(pupil).or_default().classes.insert(class);
        }
        for (pupil, group) in in_groups {
            places.entry(pupil).or_default().groups.insert(group);
        }
        Ok(places)
    }
}
