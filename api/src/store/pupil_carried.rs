//! What was carried in of one pupil, to be moved when two records become one child's.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use diesel::prelude::*;
use plumbline_core::{
    check::{CarriedAnswers, carried_check_id},
    id::{GroupId, ItemId, PupilId, StaffId},
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{
    Error, Tx,
    carried_check::CarriedCheckRow,
    change::{ChangeKind, Scope},
    conn::db,
    schema::{carried_check, carried_in_pupil},
};

/// What was carried in of a pupil.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Carried {
    /// What the pupil missed of what each group was taught.
    missed: BTreeMap<GroupId, BTreeSet<ItemId>>,
    /// Answers by day.
    checks: BTreeMap<Date, DayOfChecks>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct DayOfChecks {
    answers: CarriedAnswers,
    /// Those of them that another school's file brought.
    #[serde(default)]
    transferred: BTreeSet<ItemId>,
    entered_by: StaffId,
    at: Instant,
}

impl Carried {
    /// What there is of one child under two records: what either was taught was not missed; of two
    /// answers for one GPC on one day, the kept record's stands.
    pub(super) fn with(&self, other: &Self) -> Self {
        let mut out = self.clone();
        for (group, missed) in &other.missed {
            let held = out.missed.entry(*group).or_insert_with(|| missed.clone());
            held.retain(|item| missed.contains(item));
        }
        for (on, day) in &other.checks {
            let held = out.checks.entry(*on).or_insert_with(|| day.clone());
            for (gpc, outcome) in &day.answers {
                if let Entry::Vacant(free) = held.answers.entry(*gpc) {
                    free.insert(*outcome);
                    held.transferred.extend(day.transferred.get(gpc));
                }
            }
        }
        out
    }
}

impl Tx<'_> {
    pub(super) fn carried_of_pupil(&mut self, id: PupilId) -> Result<Carried, Error> {
        let school = self.school();
        let rows: Vec<(GroupId, Value)> = db!(self.conn, c => carried_in_pupil::table
            .filter(carried_in_pupil::school_id.eq(school))
            .filter(carried_in_pupil::pupil_id.eq(id))
            .select((carried_in_pupil::group_id, carried_in_pupil::missed))
            .load(c))?;
        let missed = rows.into_iter().map(|(group, missed)| Ok((group, serde_json::from_value(missed)?)));
        let checks = self.carried_of(&[id], None)?.into_iter().map(|row| {
            let (answers, transferred) = (row.by_gpc()?, row.brought()?);
            let day = DayOfChecks { answers, transferred, entered_by: row.entered_by, at: row.at };
            Ok((row.on_date, day))
        });
        Ok(Carried {
            missed: missed.collect::<Result<_, Error>>()?,
            checks: checks.collect::<Result<_, Error>>()?,
        })
    }

    /// Makes what was carried in of a pupil exactly this.
    pub(super) fn set_carried(&mut self, id: PupilId, carried: &Carried) -> Result<(), Error> {
        let school = self.school();
        let held = self.carried_of_pupil(id)?;
        if held == *carried {
            return Ok(());
        }
        let scopes = self.scopes_today(id)?;
        db!(self.conn, c => diesel::delete(carried_in_pupil::table
            .filter(carried_in_pupil::school_id.eq(school))
            .filter(carried_in_pupil::pupil_id.eq(id)))
            .execute(c))?;
        db!(self.conn, c => diesel::delete(carried_check::table
            .filter(carried_check::school_id.eq(school))
            .filter(carried_check::pupil_id.eq(id)))
            .execute(c))?;
        for (group, missed) in &carried.missed {
            db!(self.conn, c => diesel::insert_into(carried_in_pupil::table)
                .values((
                    carried_in_pupil::school_id.eq(school),
                    carried_in_pupil::group_id.eq(group),
                    carried_in_pupil::pupil_id.eq(id),
                    carried_in_pupil::missed.eq(serde_json::to_value(missed)?),
                ))
                .execute(c))?;
        }
        for group in held.missed.keys().chain(carried.missed.keys()).collect::<BTreeSet<_>>() {
            self.log("carried_in", group.uuid(), &[Scope::Group(*group)], ChangeKind::Put)?;
        }
        for on in held.checks.keys().filter(|on| !carried.checks.contains_key(on)) {
            let gone = carried_check_id(id, *on);
            self.save_gone("carried_check", gone.uuid(), &scopes)?;
        }
        for (on, day) in &carried.checks {
            let row = CarriedCheckRow {
                school_id: school,
                id: carried_check_id(id, *on),
                pupil_id: id,
                on_date: *on,
                answers: serde_json::to_value(&day.answers)?,
                entered_by: day.entered_by,
                at: day.at,
                v: self.version,
                transferred: serde_json::to_value(&day.transferred)?,
            };
            db!(self.conn, c => diesel::insert_into(carried_check::table).values(&row).execute(c))?;
            let body = json!({"pupil_id": id, "on": on, "answers": row.answers});
            self.save("carried_check", row.id.uuid(), &scopes, &body)?;
        }
        Ok(())
    }
}
