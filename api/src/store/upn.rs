//! Unique pupil numbers of pupils, with those they had before.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{id::PupilId, roster::Upn, time::Instant};

use super::{Error, Tx, conn::db, schema::pupil_upn};

impl Tx<'_> {
    /// The number each pupil has now.
    pub(super) fn upns(&mut self) -> Result<BTreeMap<PupilId, Upn>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, String)> = db!(self.conn, c => pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::until.is_null())
            .select((pupil_upn::pupil_id, pupil_upn::upn))
            .load(c))?;
        rows.into_iter().map(|(pupil, text)| Ok((pupil, kept(&text)?))).collect()
    }

    /// The number each of a batch of pupils has now.
    pub(super) fn upns_of(&mut self, ids: &[PupilId]) -> Result<BTreeMap<PupilId, Upn>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, String)> = db!(self.conn, c => pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::pupil_id.eq_any(ids))
            .filter(pupil_upn::until.is_null())
            .select((pupil_upn::pupil_id, pupil_upn::upn))
            .load(c))?;
        rows.into_iter().map(|(pupil, text)| Ok((pupil, kept(&text)?))).collect()
    }

    /// Every number a pupil had: since when, and until when unless it is the one of now.
    pub(super) fn all_upns_of(&mut self, id: PupilId) -> Result<Vec<(Upn, Instant, Option<Instant>)>, Error> {
        let school = self.school();
        let rows: Vec<(String, Instant, Option<Instant>)> = db!(self.conn, c => pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::pupil_id.eq(id))
            .order(pupil_upn::upn)
            .select((pupil_upn::upn, pupil_upn::since, pupil_upn::until))
            .load(c))?;
        rows.into_iter().map(|(text, since, until)| Ok((kept(&text)?, since, until))).collect()
    }

    /// Gives a pupil a number, or takes it; the one before is kept. A number another pupil of the
    /// school has is [`Error::Taken`].
    pub(super) fn set_upn(&mut self, id: PupilId, upn: Option<&Upn>) -> Result<(), Error> {
        let (school, now) = (self.school(), self.now());
        let text = upn.map(Upn::as_str).unwrap_or_default().to_owned();
        let taken: i64 = db!(self.conn, c => pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::upn.eq(&text))
            .filter(pupil_upn::pupil_id.ne(id))
            .filter(pupil_upn::until.is_null())
            .count()
            .get_result(c))?;
        if taken > 0 {
            return Err(Error::Taken("upn"));
        }
        db!(self.conn, c => diesel::update(pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::pupil_id.eq(id))
            .filter(pupil_upn::upn.ne(&text))
            .filter(pupil_upn::until.is_null()))
            .set(pupil_upn::until.eq(Some(now)))
            .execute(c))?;
        if upn.is_none() {
            return Ok(());
        }
        db!(self.conn, c => diesel::insert_into(pupil_upn::table)
            .values((
                pupil_upn::school_id.eq(school),
                pupil_upn::pupil_id.eq(id),
                pupil_upn::upn.eq(&text),
                pupil_upn::since.eq(now),
            ))
            .on_conflict((pupil_upn::school_id, pupil_upn::pupil_id, pupil_upn::upn))
            .do_update()
            .set(pupil_upn::until.eq(None::<Instant>))
            .execute(c))?;
        Ok(())
    }
}

/// A number as it was kept.
fn kept(text: &str) -> Result<Upn, Error> {
    Upn::new(text).map_err(|error| Error::Damaged(error.to_string()))
}
