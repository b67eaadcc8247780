//! Whose a pupil's checks are: who has the pupil today, or had on the day something is written down of.

use plumbline_core::{
    access::{
        Facts,
        resource::{Pupil, PupilChecks, PupilExemptions, PupilPlacements, PupilSittings, Round},
    },
    time::Date,
};

use crate::store::{Error, Locate, Tx};

impl Locate for PupilPlacements {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let pupil = Pupil(self.pupil).facts(tx)?;
        Ok(Facts { assigned: pupil.assigned || tx.was_near_then(self.pupil, self.on)?, ..pupil })
    }

    fn day(&self) -> Option<Date> {
        self.on
    }
}

impl Locate for PupilSittings {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let round = Round(self.round).facts(tx)?.exists;
        let pupil = Pupil(self.pupil).facts(tx)?;
        let assigned = pupil.assigned || tx.was_near_pupil(self.pupil, self.on)?;
        Ok(Facts { exists: round && pupil.exists, assigned })
    }

    fn day(&self) -> Option<Date> {
        Some(self.on)
    }
}

impl Locate for PupilExemptions {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let pupil = Pupil(self.pupil).facts(tx)?;
        Ok(Facts { exists: Round(self.round).facts(tx)?.exists && pupil.exists, assigned: pupil.assigned })
    }
}

impl Locate for PupilChecks {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let of_pupil = tx.placed_in(self.round)?.is_none_or(|pupil| pupil == self.pupil);
        let round = tx.round_exists(self.round)? && of_pupil;
        let pupil = Pupil(self.pupil).facts(tx)?;
        let assigned = pupil.assigned || tx.was_near_then(self.pupil, self.on)?;
        Ok(Facts { exists: round && pupil.exists, assigned })
    }

    fn day(&self) -> Option<Date> {
        self.on
    }
}
