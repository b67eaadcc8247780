//! The change to a school year: as planned, and carried out.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{prelude::*, upsert::excluded};
use plumbline_core::{
    access::{
        act::{Manage, Publish},
        resource::Rollovers,
    },
    id::{ClassId, GroupId, PupilId, SchoolId, StaffId},
    roster::rollover::{Choices, ClassNow, Facts, GroupNow, Moved, PupilNow, Rollover, rollover},
    sequence::Fault,
    time::Date,
};
use serde_json::{Value, json};

use super::{
    Error, Permit, PupilChange, Tx,
    conn::{db, held_on},
    rollover_undo::RolloverBefore,
    schema::{
        class_member, class_staff, group_member, lesson_mark, lesson_record, pupil, pupil_year, rollover,
        staff, teaching_group,
    },
    tx::days_after,
};

plumbline_core::vocabulary! {
    /// How far a rollover is.
    pub enum RolloverStatus {
        /// Planned, nothing written; can be changed.
        Draft = "draft",
        /// Carried out: its changes take effect on the first day of the school year.
        Applied = "applied",
    }
}

/// A rollover.
#[derive(Clone, Debug)]
pub struct RolloverRow {
    /// The school year, by the calendar year it starts in.
    pub year: i32,
    /// How far it is.
    pub status: RolloverStatus,
    /// What was said.
    pub choices: Choices,
    /// What it would change, as last shown.
    pub shown: Rollover,
    /// Once it is applied, the last day on which it can be taken back.
    pub undo_until: Option<Date>,
    /// Its version.
    pub v: i64,
}

/// Names to show what a rollover would change with.
#[derive(Clone, Debug)]
pub struct RolloverNames {
    /// Classes.
    pub classes: BTreeMap<ClassId, String>,
    /// Groups.
    pub groups: BTreeMap<GroupId, String>,
    /// Staff.
    pub staff: BTreeMap<StaffId, String>,
}

/// The record id of a rollover: it follows from school and year.
pub(super) fn rollover_id(school: SchoolId, year: i32) -> uuid::Uuid {
    uuid::Uuid::new_v5(&school.uuid(), format!("rollover {year}").as_bytes())
}

type Placed<P, K> = (P, K, Date, Option<Date>);

impl<'tx> Tx<'tx> {
    /// What choices would change of the school as it is; the inner error says which of them cannot be.
    ///
    /// # Errors
    /// If the store fails.
    pub fn rollover_plan<A>(
        &mut self,
        _permit: &Permit<'tx, A, Rollovers>,
        (year, first): (i32, Date),
        choices: &Choices,
    ) -> Result<Result<Rollover, Vec<Fault>>, Error> {
        let (pupils, classes) = (self.pupils_now(year, first)?, self.classes_before(first)?);
        let (groups, staff, rules) = (self.groups_before(first)?, self.staff_enabled()?, self.rules()?);
        let facts =
            Facts { year, first, pupils: &pupils, classes: &classes, groups: &groups, staff: &staff, rules };
        Ok(rollover(&facts, choices))
    }

    /// The pupils with their classes of the day before a school year, and what is said of that year
    /// already.
    fn pupils_now(&mut self, year: i32, first: Date) -> Result<Vec<PupilNow>, Error> {
        let (school, eve) = (self.school(), first.pred_opt().ok_or(Error::Conflict)?);
        let rows: Vec<(PupilId, Option<Date>, Option<Date>)> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .order((pupil::search_key, pupil::id))
            .select((pupil::id, pupil::date_of_birth, pupil::left_on))
            .load(c))?;
        let places: Vec<Placed<PupilId, ClassId>> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::until_on.is_null().or(class_member::until_on.ge(eve)))
            .select((class_member::pupil_id, class_member::class_id, class_member::from_on, class_member::until_on))
            .load(c))?;
        let (mut before, mut ahead, mut later) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
        for (pupil, class, from, _) in places {
            let side: &mut BTreeMap<PupilId, BTreeSet<ClassId>> = match from {
                from if from < first => &mut before,
                from if from == first => &mut ahead,
                _ => &mut later,
            };
            side.entry(pupil).or_default().insert(class);
        }
        // Who comes later in the year than its first day, and is here before, needs a place till then.
        for (pupil, classes) in later.into_iter().filter(|(pupil, _)| !before.contains_key(pupil)) {
            ahead.entry(pupil).or_default().extend(classes);
        }
        let years: Vec<(PupilId, i32, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.le(year))
            .order(pupil_year::year)
            .select((pupil_year::pupil_id, pupil_year::year, pupil_year::year_group))
            .load(c))?;
        let (said, earlier): (Vec<_>, Vec<_>) = years.into_iter().partition(|(_, of, _)| *of == year);
        let mut said: BTreeMap<_, _> = said.into_iter().map(|(pupil, _, code)| (pupil, code)).collect();
        // Of the rows of one pupil the last counts.
        let mut earlier: BTreeMap<_, _> =
            earlier.into_iter().map(|(pupil, of, code)| (pupil, (of, code))).collect();
        let taught = self.taught_from(first)?;
        let pupil = |(id, born, left_on)| PupilNow {
            id,
            born,
            left_on,
            classes: before.remove(&id).unwrap_or_default(),
            ahead: ahead.remove(&id),
            year_group: earlier.remove(&id),
            year_group_ahead: said.remove(&id),
            taught: taught.contains(&id),
        };
        Ok(rows.into_iter().map(pupil).collect())
    }

    /// Who stands in the register of a lesson, or in a catch-up record, of that day or later.
    fn taught_from(&mut self, first: Date) -> Result<BTreeSet<PupilId>, Error> {
        let school = self.school();
        let pupils: Vec<PupilId> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_record::on_date.ge(first))
            .filter(lesson_record::deleted_at.is_null())
            .select(lesson_mark::pupil_id)
            .distinct()
            .load(c))?;
        let caught_up = self.caught_up_from(first, 0)?.into_iter().map(|(_, pupil)| pupil);
        Ok(pupils.into_iter().chain(caught_up).collect())
    }

    fn classes_before(&mut self, first: Date) -> Result<Vec<ClassNow>, Error> {
        let school = self.school();
        let adults: Vec<(ClassId, StaffId)> = db!(self.conn, c => class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(held_on!(class_staff, first))
            .select((class_staff::class_id, class_staff::staff_id))
            .load(c))?;
        let of = |id| adults.iter().filter(|(class, _)| *class == id).map(|(_, staff)| *staff).collect();
        let classes = self.classes_by_key()?.into_values();
        Ok(classes.map(|row| ClassNow { id: row.id, adults: of(row.id), name: row.name }).collect())
    }

    fn groups_before(&mut self, first: Date) -> Result<Vec<GroupNow>, Error> {
        let school = self.school();
        let ids: Vec<GroupId> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .filter(teaching_group::closed_on.is_null().or(teaching_group::closed_on.ge(first)))
            .order(teaching_group::id)
            .select(teaching_group::id)
            .load(c))?;
        let members: Vec<(GroupId, PupilId)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, first))
            .select((group_member::group_id, group_member::pupil_id))
            .load(c))?;
        let mut taught: Vec<GroupId> = db!(self.conn, c => lesson_record::table
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::on_date.ge(first))
            .filter(lesson_record::deleted_at.is_null())
            .select(lesson_record::group_id)
            .distinct()
            .load(c))?;
        taught.extend(self.caught_up_from(first, 0)?.into_iter().map(|(group, _)| group));
        let of = |id| members.iter().filter(|(group, _)| *group == id).map(|(_, pupil)| *pupil).collect();
        let group = |id| GroupNow { id, members: of(id), taught: taught.contains(&id) };
        Ok(ids.into_iter().map(group).collect())
    }

    fn staff_enabled(&mut self) -> Result<BTreeSet<StaffId>, Error> {
        let school = self.school();
        let ids: Vec<StaffId> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::disabled_at.is_null())
            .select(staff::id)
            .load(c))?;
        Ok(ids.into_iter().collect())
    }

    /// Names of the school's classes, groups and staff.
    ///
    /// # Errors
    /// If the store fails.
    pub fn rollover_names<A>(&mut self, _permit: &Permit<'tx, A, Rollovers>) -> Result<RolloverNames, Error> {
        let school = self.school();
        let groups: Vec<(GroupId, String)> = db!(self.conn, c => teaching_group::table
            .filter(teaching_group::school_id.eq(school))
            .select((teaching_group::id, teaching_group::name))
            .load(c))?;
        let staff: Vec<(StaffId, String)> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .select((staff::id, staff::name))
            .load(c))?;
        let classes = self.classes_by_key()?.into_values().map(|row| (row.id, row.name)).collect();
        Ok(RolloverNames {
            classes,
            groups: groups.into_iter().collect(),
            staff: staff.into_iter().collect(),
        })
    }

    /// The rollover to a school year. Its reading is logged.
    ///
    /// # Errors
    /// [`Error::Missing`] if nobody has planned one.
    pub fn rollover_row<A>(
        &mut self,
        _permit: &Permit<'tx, A, Rollovers>,
        year: i32,
    ) -> Result<RolloverRow, Error> {
        let school = self.school();
        type Found = (RolloverStatus, Value, Value, Option<Date>, i64);
        let (status, choices, shown, undo_until, v): Found = db!(self.conn, c => rollover::table
            .find((school, year))
            .select((rollover::status, rollover::choices, rollover::shown, rollover::undo_until, rollover::v))
            .first(c))?;
        self.about("rollover", rollover_id(school, year));
        let (choices, shown) = (serde_json::from_value(choices)?, serde_json::from_value(shown)?);
        Ok(RolloverRow { year, status, choices, shown, undo_until, v })
    }

    /// Keeps a plan, in place of the one before.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_rollover(
        &mut self,
        _permit: &Permit<'tx, Manage, Rollovers>,
        year: i32,
        choices: Choices,
        shown: Rollover,
    ) -> Result<RolloverRow, Error> {
        let status = RolloverStatus::Draft;
        let row = RolloverRow { year, status, choices, shown, undo_until: None, v: self.version };
        let school = self.school();
        let (choices, shown) = (serde_json::to_value(&row.choices)?, serde_json::to_value(&row.shown)?);
        db!(self.conn, c => diesel::insert_into(rollover::table)
            .values((
                rollover::school_id.eq(school),
                rollover::year.eq(year),
                rollover::status.eq(row.status),
                rollover::choices.eq(&choices),
                rollover::shown.eq(&shown),
                rollover::v.eq(row.v),
            ))
            .on_conflict((rollover::school_id, rollover::year))
            .do_update()
            .set((
                rollover::choices.eq(excluded(rollover::choices)),
                rollover::shown.eq(excluded(rollover::shown)),
                rollover::v.eq(excluded(rollover::v)),
            ))
            .execute(c))?;
        self.save("rollover", rollover_id(school, year), &[], &choices)?;
        Ok(row)
    }

    /// Carries a plan out: dated changes that take effect on the first day of the school year. What
    /// an undo of an earlier year's would put back is forgotten.
    ///
    /// # Errors
    /// If the store fails.
    pub fn apply_rollover(
        &mut self,
        _permit: &Permit<'tx, Publish, Rollovers>,
        row: &mut RolloverRow,
    ) -> Result<(), Error> {
        let (school, version, shown) = (self.school(), self.version, row.shown.clone());
        let eve = shown.first.pred_opt().ok_or(Error::Conflict)?;
        self.about("rollover", rollover_id(school, row.year));
        let mut before = RolloverBefore { version, ..RolloverBefore::default() };
        for group in &shown.ends {
            before.groups.push(self.group_before(*group, eve)?);
        }
        let mut ids = BTreeMap::new();
        for class in &shown.classes {
            let id = match class.id {
                Some(id) => id,
                None => {
                    let id = self.insert_class(&class.name)?.id;
                    before.classes.push(id);
                    id
                }
            };
            ids.insert(class.name.as_str(), id);
            if class.id.is_none() || class.adults_change {
                before.adults.push(self.class_before(id)?);
            }
            if class.adults_change {
                self.set_class_adults_from(id, &class.adults, shown.first)?;
            }
        }
        let those = |leave: bool| -> Vec<PupilId> {
            shown.pupils.iter().filter(|moved| moved.leaves == leave).map(|moved| moved.pupil).collect()
        };
        let leavers = those(true);
        before.pupils = self.pupils_before(&those(false), false)?;
        before.pupils.extend(self.pupils_before(&leavers, true)?);
        let change = |moved: &Moved| (moved.pupil, change_of(moved, &ids, row.year, shown.first, eve));
        self.apply_pupils(&shown.pupils.iter().map(change).collect::<Vec<_>>())?;
        for group in &shown.ends {
            let group = self.group_row(*group)?;
            self.end_group(group, eve)?;
        }
        self.rollover_done(&mut before, eve)?;
        let before = serde_json::to_value(&before)?;
        let days = self.rules()?.undo.rollover_days;
        row.undo_until = Some(days_after(shown.first.max(self.today()), days));
        (row.status, row.v) = (RolloverStatus::Applied, version);
        db!(self.conn, c => diesel::update(rollover::table
            .filter(rollover::school_id.eq(school))
            .filter(rollover::year.lt(row.year)))
            .set((rollover::before.eq(None::<Value>), rollover::undo_until.eq(None::<Date>)))
            .execute(c))?;
        db!(self.conn, c => diesel::update(rollover::table.find((school, row.year)))
            .set((
                rollover::status.eq(row.status),
                rollover::before.eq(Some(&before)),
                rollover::undo_until.eq(row.undo_until),
                rollover::v.eq(version),
            ))
            .execute(c))?;
        self.save("rollover", rollover_id(school, row.year), &[], &json!({"status": row.status}))
    }
}

/// What is saved of one pupil.
fn change_of(moved: &Moved, ids: &BTreeMap<&str, ClassId>, year: i32, first: Date, eve: Date) -> PupilChange {
    if moved.leaves {
        return PupilChange { left_on: Some(Some(eve)), ..PupilChange::default() };
    }
    let classes = moved.to.iter().filter_map(|name| ids.get(name.as_str()).copied()).collect();
    PupilChange {
        classes: (!moved.ahead).then_some((classes, first)),
        year_group: moved.year_group.clone().map(|code| (year, code)),
        ..PupilChange::default()
    }
}
