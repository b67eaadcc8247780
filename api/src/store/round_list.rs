//! How far each pupil of a round is: in a bounded number of statements, and without a mark in it.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{
    dsl::{count, exists, not},
    prelude::*,
};
use plumbline_core::{
    access::{act::Read, resource::Round},
    check::{Known, Outcome, Places, Standing},
    id::{CheckId, PupilId, RoundId, StaffId},
    lesson::Mark,
    time::Date,
};

use super::{
    CheckRow, Error, ExemptionRow, Permit, PupilRow, RoundRow, Sitting, Tx,
    conn::db,
    exemption::exempting,
    round_whom::Whom,
    schema::{lesson_mark, lesson_record, response, staff},
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
    whom: Whom,
    classes: BTreeMap<PupilId, String>,
    /// Items that were answered or left out, and those answered.
    items: BTreeMap<(PupilId, CheckId), (usize, usize)>,
    sittings: Vec<Sitting>,
    exemptions: Vec<ExemptionRow>,
    not_accessible: BTreeSet<(PupilId, CheckId)>,
    absent: BTreeSet<PupilId>,
}

/// By pupil and check: items answered or left out, and of these the answered.
type Progress = BTreeMap<(PupilId, CheckId), (usize, usize)>;

impl<'tx> Tx<'tx> {
    /// How far each pupil of a round is whom the actor may see.
    ///
    /// # Errors
    /// If the store fails.
    pub fn round_list(&mut self, permit: &Permit<'tx, Read, Round>) -> Result<RoundList, Error> {
        let (id, today) = (permit.resource().0, self.today());
        let round = self.round_row(id)?;
        let checks = self.checks_found(&round.checks)?;
        let day = round.day_near(today);
        let whom = self.whom_on(&round, day)?;
        let pupils = self.pupils_of_round(&round, &whom, day)?;
        let ids: Vec<PupilId> = pupils.iter().map(|row| row.id).collect();
        let facts = Facts {
            whom,
            classes: self.class_names(day)?,
            items: self.items_in(id)?,
            sittings: self.sittings_in(id)?,
            exemptions: self.exemptions_in(id)?,
            not_accessible: self.not_accessible_on(&ids, &checks, day)?,
            absent: if day == today { self.absent_on(today)? } else { BTreeSet::new() },
        };
        let lines: Vec<ListLine> =
            pupils.into_iter().map(|pupil| facts.line(&round, &checks, pupil)).collect();
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

    /// How many items of each check were answered or left out, by pupil, and how many answered: an answer that was taken
    /// back is neither. The store counts, so that a round of thousands of answers is asked about as cheaply.
    fn items_in(&mut self, round: RoundId) -> Result<Progress, Error> {
        let school = self.school();
        let later = diesel::alias!(response as later);
        let rows: Vec<(PupilId, CheckId, i64, i64)> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::round_id.eq(round))
            .filter(response::outcome.ne(Outcome::NotOffered).or(response::corrects.is_null()))
            .filter(not(exists(later
                .filter(later.field(response::school_id).eq(response::school_id))
                .filter(later.field(response::corrects).eq(response::id.nullable())))))
            .group_by((response::pupil_id, response::check_id))
            .select((
                response::pupil_id,
                response::check_id,
                count(response::item_id).aggregate_distinct(),
                count(response::item_id)
                    .aggregate_distinct()
                    .aggregate_filter(response::outcome.ne(Outcome::NotOffered)),
            ))
            .load(c))?;
        let count = |count: i64| usize::try_from(count).unwrap_or(0);
        let line = |(pupil, check, items, answered)| ((pupil, check), (count(items), count(answered)));
        Ok(rows.into_iter().map(line).collect())
    }

    /// The same for who enters answers of a round.
    ///
    /// # Errors
    /// If the store fails.
    pub fn absent_then(
        &mut self,
        _permit: &Permit<'tx, Read, Round>,
        day: Date,
    ) -> Result<BTreeSet<PupilId>, Error> {
        self.absent_on(day)
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
        let at = self.whom.places.get(&pupil.id).unwrap_or(&nowhere);
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
        let exemption = exempting(&self.exemptions, pupil, check.id).cloned();
        let (settled, answered) = self.items.get(&(pupil, check.id)).copied().unwrap_or_default();
        let known = Known {
            items: check.items.len(),
            settled,
            answered,
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
