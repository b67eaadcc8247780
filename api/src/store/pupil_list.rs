//! Lists of pupils.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::Roster},
    id::PupilId,
    text::search_key,
    time::Date,
};

use super::{
    Error, Permit, PupilRow, Tx,
    conn::{db, held_on},
    schema::{class, class_member, pupil},
};

impl<'tx> Tx<'tx> {
    /// Pupils of the school by name, found by a part of it or by reference; leavers only on
    /// request. With each today's class. `after` is the last one of the page before.
    ///
    /// # Errors
    /// [`Error::Missing`] if `after` is no pupil of the school.
    pub fn pupils(
        &mut self,
        _permit: &Permit<'tx, Read, Roster>,
        find: Option<&str>,
        leavers: bool,
        after: Option<PupilId>,
        limit: i64,
    ) -> Result<Vec<(PupilRow, Option<String>)>, Error> {
        let school = self.school();
        let today = self.today();
        let reference = find.unwrap_or_default().trim().to_owned();
        let key = search_key(&reference);
        // Signs alone are no part of any name; only nothing at all is a part of every name.
        let pattern =
            if key.is_empty() && !reference.is_empty() { String::new() } else { format!("%{key}%") };
        let after_id = after.unwrap_or_else(|| PupilId::from_uuid(uuid::Uuid::nil()));
        let after_key: String = match after {
            None => String::new(),
            Some(id) => {
                db!(self.conn, c => pupil::table.find((school, id)).select(pupil::search_key).first(c))?
            }
        };
        let rows: Vec<PupilRow> = db!(self.conn, c => {
            let query = pupil::table
                .filter(pupil::school_id.eq(school))
                .filter(pupil::search_key.like(&pattern).or(pupil::pupil_ref.eq(&reference)))
                .filter(pupil::search_key.gt(&after_key)
                    .or(pupil::search_key.eq(&after_key).and(pupil::id.gt(after_id))))
                .order((pupil::search_key, pupil::id))
                .limit(limit)
                .select(PupilRow::as_select());
            if leavers {
                query.load(c)
            } else {
                query.filter(pupil::left_on.is_null().or(pupil::left_on.ge(today))).load(c)
            }
        })?;
        let classes = self.class_names(today)?;
        Ok(rows
            .into_iter()
            .map(|row| {
                let class = classes.get(&row.id).cloned();
                (row, class)
            })
            .collect())
    }

    /// Those pupils of the school in the order of names, with each today's class.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupils_by_id(
        &mut self,
        _permit: &Permit<'tx, Read, Roster>,
        ids: &[PupilId],
    ) -> Result<Vec<(PupilRow, Option<String>)>, Error> {
        let school = self.school();
        let mut classes = self.class_names(self.today())?;
        let rows: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::id.eq_any(ids))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        Ok(rows
            .into_iter()
            .map(|row| {
                let class = classes.remove(&row.id);
                (row, class)
            })
            .collect())
    }

    /// The class of every pupil on a day, of several the first by name.
    pub(super) fn class_names(&mut self, on: Date) -> Result<BTreeMap<PupilId, String>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, String)> = db!(self.conn, c => class_member::table
            .inner_join(class::table.on(class::school_id.eq(class_member::school_id).and(class::id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, on))
            .order((class::name.desc(), class::id))
            .select((class_member::pupil_id, class::name))
            .load(c))?;
        // Of the rows of one pupil the last counts.
        Ok(rows.into_iter().collect())
    }
}
