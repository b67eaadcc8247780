//! How far each pupil of a round is: in a bounded number of statements, and without a mark in it.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{
    dsl::{count, exists, not},
    prelude::*,
};
use plumbline_core::{
    access::{
        act::Read,
        reaches_all,
        resource::{PupilChecks, Round},
    },
    check::{Known, Outcome, Places, Standing},
    id::{CheckId, ClassId, GroupId, PupilId, RoundId, StaffId},
    lesson::Mark,
    time::Date,
};

use super::{
    CheckRow, Error, ExemptionRow, Permit, PupilRow, RoundRow, Sitting, Tx,
    conn::{db, held_on},
    schema::{class_member, group_member, lesson_mark, lesson_record, pupil, response, staff},
};

/// A round with how far each pupil is whom the actor may see.
#[derive(Clone, Debug)]
pub struct RoundList {
    /// The round.
    pub round: RoundRow,
    /// Its checks.
    pub checks: Vec<CheckRow>,
    /// Its pupils by name.
    pub lines: Vec<ListLine>,
    /// Names of the adults in it.
    pub adults: BTreeMap<StaffId, String>,
}

/// One pupil of a round.
#[derive(Clone, Debug)]
pub struct ListLine {
    /// The pupil.
    pub pupil: PupilRow,
    /// The class, to tell namesakes apart.
    pub class: Option<String>,
    /// Who is to check the pupil.
    pub checkers: BTreeSet<StaffId>,
    /// Each check of the round, in their order.
    pub checks: Vec<ListCheck>,
}

/// How far one pupil is with one check.
#[derive(Clone, Debug)]
pub struct ListCheck {
    /// The check.
    pub check: CheckId,
    /// How far.
    pub standing: Standing,
    /// The sitting that goes on.
    pub sitting: Option<Sitting>,
    /// What exempts the pupil.
    pub exemption: Option<ExemptionRow>,
}

/// What is known of a round's pupils.
struct Facts {
    places: BTreeMap<PupilId, Places>,
    classes: BTreeMap<PupilId, String>,
    settled: BTreeMap<(PupilId, CheckId), usize>,
    sittings: Vec<Sitting>,
    exemptions: Vec<ExemptionRow>,
    not_accessible: BTreeSet<(PupilId, CheckId)>,
    absent: BTreeSet<PupilId>,
}

impl<'tx> Tx<'tx> {
    /// How far each pupil of a round is whom the actor may see.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round_list(&mut self, permit: &Permit<'tx, Read, Round>) -> Result<RoundList, Error> {
        let (school, id, today) = (self.school(), permit.resource().0, self.today());
        let round = self.round_row(id)?;
        let checks = self.checks_found(&round.checks)?;
        let day = today.clamp(round.opens_on, round.closes_on);
        let pupils: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(day)))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        let near = if reaches_all::<Read, PupilChecks>(&self.actor) {
            None
        } else {
            Some(self.pupils_near(self.actor.staff)?)
        };
        let ids: Vec<PupilId> = pupils.iter().map(|row| row.id).collect();
        let (places, classes) = (self.places_on(day)?, self.class_names(day)?);
        let facts = Facts {
            places,
            classes,
            settled: self.settled_in(id)?,
            sittings: self.sittings_in(id)?,
            exemptions: self.exemptions_in(id)?,
            not_accessible: self.not_accessible_on(&ids, &checks, day)?,
            absent: if day == today { self.absent_on(today)? } else { BTreeSet::new() },
        };
        let asked: BTreeSet<PupilId> = facts.settled.keys().map(|(pupil, _)| *pupil).collect();
        let begun: BTreeSet<PupilId> = facts.sittings.iter().map(|one| one.pupil).collect();
        let nowhere = Places::default();
        let is_in = |row: &PupilRow| {
            let at = facts.places.get(&row.id).unwrap_or(&nowhere);
            round.plan.is_for(row.id, at) || asked.contains(&row.id) || begun.contains(&row.id)
        };
        let seen = |row: &PupilRow| near.as_ref().is_none_or(|near| near.contains(&row.id));
        let lines: Vec<ListLine> = pupils
            .into_iter()
            .filter(|row| seen(row) && is_in(row))
            .map(|pupil| facts.line(&round, &checks, pupil))
            .collect();
        let checkers = lines.iter().flat_map(|line| line.checkers.iter().copied());
        let holders = lines.iter().flat_map(|line| &line.checks).filter_map(|one| one.sitting.as_ref());
        let adults: BTreeSet<StaffId> = checkers.chain(holders.map(|one| one.holder)).collect();
        let adults = self.names_of(&adults)?;
        Ok(RoundList { round, checks, lines, adults })
    }

    fn names_of(&mut self, adults: &BTreeSet<StaffId>) -> Result<BTreeMap<StaffId, String>, Error> {
        let school = self.school();
        let rows: Vec<(StaffId, String)> = db!(self.conn, c => staff::table
            .filter(staff::school_id.eq(school))
            .filter(staff::id.eq_any(adults))
            .select((staff::id, staff::name))
            .load(c))?;
        Ok(rows.into_iter().collect())
    }

    /// Where every pupil is on a day.
    fn places_on(&mut self, day: Date) -> Result<BTreeMap<PupilId, Places>, Error> {
        let school = self.school();
        let in_classes: Vec<(PupilId, ClassId)> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, day))
            .select((class_member::pupil_id, class_member::class_id))
            .load(c))?;
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

    /// How many items of each check were answered or left out, by pupil: an answer that was taken back is
    /// neither. The store counts, so that a round of thousands of answers is asked about as cheaply.
    fn settled_in(&mut self, round: RoundId) -> Result<BTreeMap<(PupilId, CheckId), usize>, Error> {
        let school = self.school();
        let later = diesel::alias!(response as later);
        let rows: Vec<(PupilId, CheckId, i64)> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::outcome.ne(Outcome::NotOffered).or(response::corrects.is_null()))
            .filter(not(exists(later
                .filter(later.field(response::school_id).eq(response::school_id))
                .filter(later.field(response::corrects).eq(response::id.nullable())))))
            .group_by((response::pupil_id, response::check_id))
            .select((response::pupil_id, response::check_id, count(response::item_id).aggregate_distinct()))
            .load(c))?;
        let count = |count: i64| usize::try_from(count).unwrap_or(0);
        Ok(rows.into_iter().map(|(pupil, check, items)| ((pupil, check), count(items))).collect())
    }

    /// Who is marked absent in every lesson of a day that marks the pupil.
    fn absent_on(&mut self, day: Date) -> Result<BTreeSet<PupilId>, Error> {
        let school = self.school();
        let marks: Vec<(PupilId, Mark)> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_record::school_id.eq(school))
            .filter(lesson_record::on_date.eq(day))
            .filter(lesson_record::deleted_at.is_null())
            .select((lesson_mark::pupil_id, lesson_mark::mark))
            .load(c))?;
        let of = |absent: bool| {
            let those = marks.iter().filter(move |(_, mark)| (*mark == Mark::Absent) == absent);
            those.map(|(pupil, _)| *pupil).collect::<BTreeSet<_>>()
        };
        Ok(&of(true) - &of(false))
    }
}

impl Facts {
    fn line(&self, round: &RoundRow, checks: &[CheckRow], pupil: PupilRow) -> ListLine {
        let nowhere = Places::default();
        let at = self.places.get(&pupil.id).unwrap_or(&nowhere);
        ListLine {
            class: self.classes.get(&pupil.id).cloned(),
            checkers: round.plan.checkers_of(pupil.id, at),
            checks: checks.iter().map(|check| self.check(pupil.id, check)).collect(),
            pupil,
        }
    }

    fn check(&self, pupil: PupilId, check: &CheckRow) -> ListCheck {
        let of_both = |one: &&Sitting| (one.pupil, one.check) == (pupil, check.id);
        let sittings = self.sittings.iter().filter(of_both);
        let (finished, open): (Vec<&Sitting>, Vec<&Sitting>) =
            sittings.partition(|one| one.finished_at.is_some());
        let said = self.exemptions.iter().rev().filter(|row| row.pupil_id == pupil);
        let exemption = said.clone().find(|row| row.check_id == Some(check.id));
        let exemption = exemption.or_else(|| said.clone().find(|row| row.check_id.is_none())).cloned();
        let known = Known {
            items: check.items.len(),
            settled: self.settled.get(&(pupil, check.id)).copied().unwrap_or(0),
            finished: !finished.is_empty(),
            begun: !open.is_empty(),
            exempt: exemption.is_some(),
            not_accessible: self.not_accessible.contains(&(pupil, check.id)),
            absent: self.absent.contains(&pupil),
        };
        let sitting = open.first().map(|one| (*one).clone());
        ListCheck { check: check.id, standing: known.standing(), sitting, exemption }
    }
}
