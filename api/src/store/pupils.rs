//! Many pupils in few statements: what an import adds, changes and takes back. One pupil goes the
//! same way.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    id::{ClassId, GroupId, PupilId, SchoolId},
    roster::Upn,
    time::{Date, Instant},
};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{
    Error, NewPupil, PupilChange, PupilRow, PupilView, Tx,
    change::Scope,
    conn::{db, held_on},
    pupil::key_of,
    schema::{class, class_member, group_member, member_days, pupil, pupil_upn, pupil_year, teaching_group},
};

/// Pupils in one statement: SQLite takes a limited number of values.
pub(super) const BATCH: usize = 500;

#[derive(Insertable)]
#[diesel(table_name = pupil, treat_none_as_default_value = false)]
struct PupilInsert<'a> {
    school_id: SchoolId,
    id: PupilId,
    pupil_ref: Option<&'a str>,
    given_name: &'a str,
    family_name: Option<&'a str>,
    preferred_name: Option<&'a str>,
    label: Option<&'a str>,
    search_key: String,
    date_of_birth: Option<Date>,
    v: i64,
    created_at: Instant,
}

#[derive(Insertable)]
#[diesel(table_name = pupil_upn, treat_none_as_default_value = false)]
struct UpnInsert<'a> {
    school_id: SchoolId,
    pupil_id: PupilId,
    upn: &'a str,
    since: Instant,
}

impl Tx<'_> {
    /// Pupils with today's classes and groups, each by name.
    pub(super) fn views_of(&mut self, ids: &[PupilId]) -> Result<BTreeMap<PupilId, PupilView>, Error> {
        let (school, today) = (self.school(), self.today());
        let year = self.school_year_of(today)?;
        let mut views = BTreeMap::new();
        for ids in ids.chunks(BATCH) {
            for row in self.pupil_rows(ids)? {
                let view =
                    PupilView { row, classes: Vec::new(), groups: Vec::new(), year_group: None, upn: None };
                views.insert(view.row.id, view);
            }
            let classes: Vec<(PupilId, ClassId, String)> = db!(self.conn, c => class_member::table
                .inner_join(class::table.on(class::school_id.eq(class_member::school_id).and(class::id.eq(class_member::class_id))))
                .filter(class_member::school_id.eq(school))
                .filter(class_member::pupil_id.eq_any(ids))
                .filter(held_on!(class_member, today))
                .order(class::name)
                .select((class_member::pupil_id, class::id, class::name))
                .load(c))?;
            for (pupil, id, name) in classes {
                views.entry(pupil).and_modify(|view| view.classes.push((id, name)));
            }
            let groups: Vec<(PupilId, GroupId, String)> = db!(self.conn, c => group_member::table
                .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_member::school_id)
                    .and(teaching_group::id.eq(group_member::group_id))))
                .filter(group_member::school_id.eq(school))
                .filter(group_member::pupil_id.eq_any(ids))
                .filter(held_on!(group_member, today))
                .order(teaching_group::name)
                .select((group_member::pupil_id, teaching_group::id, teaching_group::name))
                .load(c))?;
            for (pupil, id, name) in groups {
                views.entry(pupil).and_modify(|view| view.groups.push((id, name)));
            }
            // The latest year group known by now: of the rows of one pupil the last counts.
            let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
                .filter(pupil_year::school_id.eq(school))
                .filter(pupil_year::pupil_id.eq_any(ids))
                .filter(pupil_year::year.le(year))
                .order(pupil_year::year)
                .select((pupil_year::pupil_id, pupil_year::year_group))
                .load(c))?;
            for (pupil, code) in years {
                views.entry(pupil).and_modify(|view| view.year_group = Some(code));
            }
            for (pupil, upn) in self.upns_of(ids)? {
                views.entry(pupil).and_modify(|view| view.upn = Some(upn));
            }
        }
        Ok(views)
    }

    /// The rows of a batch of pupils.
    pub(super) fn pupil_rows(&mut self, ids: &[PupilId]) -> Result<Vec<PupilRow>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::id.eq_any(ids))
            .select(PupilRow::as_select())
            .load(c))?)
    }

    /// Adds pupils, in the order given.
    pub(super) fn insert_pupils(&mut self, new: &[NewPupil]) -> Result<Vec<PupilId>, Error> {
        let (school, now, version) = (self.school(), self.now(), self.version);
        for id in new.iter().filter_map(|new| new.class).collect::<BTreeSet<ClassId>>() {
            db!(self.conn, c => class::table.find((school, id)).select(class::id).first::<ClassId>(c))?;
        }
        let ids: Vec<PupilId> = new.iter().map(|_| self.new_id()).collect();
        let of = |start: usize| ids.get(start..).unwrap_or_default();
        for (n, batch) in new.chunks(BATCH).enumerate() {
            let pairs = || of(n * BATCH).iter().copied().zip(batch);
            let pupils: Vec<PupilInsert<'_>> = pairs()
                .map(|(id, new)| PupilInsert {
                    school_id: school,
                    id,
                    pupil_ref: new.pupil_ref.as_deref(),
                    given_name: &new.given_name,
                    family_name: new.family_name.as_deref(),
                    preferred_name: new.preferred_name.as_deref(),
                    label: new.label.as_deref(),
                    search_key: key_of(
                        &new.given_name,
                        new.family_name.as_deref(),
                        new.preferred_name.as_deref(),
                    ),
                    date_of_birth: new.date_of_birth,
                    v: version,
                    created_at: now,
                })
                .collect();
            db!(self.conn, c => diesel::insert_into(pupil::table).values(&pupils).execute(c))?;
            let years = pairs().filter_map(|(id, new)| new.year_group.as_ref().map(|year| (id, year)));
            self.insert_years(
                &years.map(|(id, (year, code))| (id, *year, code.as_str())).collect::<Vec<_>>(),
            )?;
            let members = pairs().filter_map(|(id, new)| Some((id, (new.class?, new.from, None))));
            self.insert_class_members(&members.collect::<Vec<_>>())?;
            let upns = pairs().filter_map(|(id, new)| new.upn.as_ref().map(|upn| (id, upn)));
            self.insert_upns(&upns.collect::<Vec<_>>())?;
        }
        self.save_pupils(&ids)?;
        Ok(ids)
    }

    /// Gives new pupils their numbers. One that another pupil of the school has is [`Error::Taken`].
    fn insert_upns(&mut self, upns: &[(PupilId, &Upn)]) -> Result<(), Error> {
        let (school, since) = (self.school(), self.now());
        let texts: BTreeSet<&str> = upns.iter().map(|(_, upn)| upn.as_str()).collect();
        let taken: i64 = db!(self.conn, c => pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::upn.eq_any(&texts))
            .filter(pupil_upn::until.is_null())
            .count()
            .get_result(c))?;
        if taken > 0 || texts.len() < upns.len() {
            return Err(Error::Taken("upn"));
        }
        let rows: Vec<UpnInsert<'_>> = upns
            .iter()
            .map(|(pupil_id, upn)| UpnInsert {
                school_id: school,
                pupil_id: *pupil_id,
                upn: upn.as_str(),
                since,
            })
            .collect();
        db!(self.conn, c => diesel::insert_into(pupil_upn::table).values(&rows).execute(c))?;
        Ok(())
    }

    /// Changes pupils, each once.
    pub(super) fn apply_pupils(&mut self, changes: &[(PupilId, PupilChange)]) -> Result<(), Error> {
        for batch in changes.chunks(BATCH) {
            let ids: Vec<PupilId> = batch.iter().map(|(id, _)| *id).collect();
            let rows = self.pupil_rows(&ids)?;
            let mut rows: BTreeMap<PupilId, PupilRow> = rows.into_iter().map(|row| (row.id, row)).collect();
            for (id, change) in batch {
                let old = rows.remove(id).ok_or(Error::Missing)?;
                self.change_row(old, change)?;
            }
        }
        self.save_pupils(&changes.iter().map(|(id, _)| *id).collect::<Vec<_>>())
    }

    /// Notes in the change log and the history what pupils are like now.
    fn save_pupils(&mut self, ids: &[PupilId]) -> Result<(), Error> {
        // Who comes into a scope brings along what belongs to it, also where a new day brought it there.
        let today = self.today();
        self.places_moved |= self.places_settled_on()? != Some(today);
        self.settle_if_moved()?;
        for ids in ids.chunks(BATCH) {
            let records: Vec<(Uuid, Vec<Scope>, Value)> = self
                .views_of(ids)?
                .into_values()
                .map(|view| {
                    let row = &view.row;
                    let classes = view.classes.iter().map(|(class, _)| Scope::Class(*class));
                    let scopes = classes.chain(view.groups.iter().map(|(group, _)| Scope::Group(*group)));
                    let body = json!({
                        "pupil_ref": row.pupil_ref, "given_name": row.given_name,
                        "family_name": row.family_name, "preferred_name": row.preferred_name,
                        "label": row.label, "date_of_birth": row.date_of_birth, "left_on": row.left_on,
                        "year_group": view.year_group, "upn": view.upn,
                        "classes": view.classes.iter().map(|(class, _)| class).collect::<Vec<_>>(),
                    });
                    (row.id.uuid(), scopes.collect(), body)
                })
                .collect();
            self.save_many("pupil", &records)?;
        }
        Ok(())
    }

    /// Year groups and classes of pupils, gone.
    pub(super) fn clear_places(&mut self, ids: &[PupilId]) -> Result<(), Error> {
        let school = self.school();
        for ids in ids.chunks(BATCH) {
            db!(self.conn, c => diesel::delete(pupil_year::table
                .filter(pupil_year::school_id.eq(school))
                .filter(pupil_year::pupil_id.eq_any(ids)))
                .execute(c))?;
            db!(self.conn, c => diesel::delete(class_member::table
                .filter(class_member::school_id.eq(school))
                .filter(class_member::pupil_id.eq_any(ids)))
                .execute(c))?;
        }
        self.places_moved = true;
        Ok(())
    }

    /// Pupils nothing else depends on, gone.
    pub(super) fn forget_pupils(&mut self, ids: &[PupilId]) -> Result<(), Error> {
        let school = self.school();
        self.clear_places(ids)?;
        for ids in ids.chunks(BATCH) {
            db!(self.conn, c => diesel::delete(pupil_upn::table
                .filter(pupil_upn::school_id.eq(school))
                .filter(pupil_upn::pupil_id.eq_any(ids)))
                .execute(c))?;
            db!(self.conn, c => diesel::delete(member_days::table
                .filter(member_days::school_id.eq(school))
                .filter(member_days::pupil_id.eq_any(ids)))
                .execute(c))?;
            self.forget_said(ids)?;
            db!(self.conn, c => diesel::delete(pupil::table
                .filter(pupil::school_id.eq(school))
                .filter(pupil::id.eq_any(ids)))
                .execute(c))?;
            let gone: Vec<_> = ids.iter().map(|id| (id.uuid(), Vec::new(), Value::Null)).collect();
            self.save_many("pupil", &gone)?;
        }
        Ok(())
    }
}
