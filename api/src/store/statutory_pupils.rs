//! Who is to be checked in a window, with what is entered.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use diesel::prelude::*;
use plumbline_core::{
    access::{
        Facts,
        act::{Publish, Read, Record},
        resource::{StatutoryFigures, StatutoryResult, StatutoryWindow},
    },
    id::{ClassId, PupilId, StatutoryWindowId},
    roster::Upn,
    rules::RulePack,
    statutory::{CheckResult, Counted, EarlierResult, OfPupil, Reason, Standing, Stay, standing},
    time::Date,
};

use super::{
    Error, Permit, PupilRow, StatutoryResultRow, StatutoryWindowRow, Tx,
    conn::db,
    pupils::BATCH,
    schema::{class_member, pupil, pupil_year},
};

/// A pupil of a window.
#[derive(Clone, Debug)]
pub struct StatutoryPupil {
    /// The pupil.
    pub row: PupilRow,
    /// The class on the window's last day, or today where that comes first or none is on record of then.
    pub class: Option<String>,
    /// Code of the year group taught in that school year.
    pub year_group: Option<String>,
    /// Whether and why to be checked.
    pub reason: Reason,
    /// The first day in a class in that school year, where one is on record.
    pub first_day: Option<Date>,
    /// The entry in force.
    pub result: Option<StatutoryResultRow>,
}

/// A window with pupils.
#[derive(Clone, Debug)]
pub struct StatutoryView {
    /// The window.
    pub window: StatutoryWindowRow,
    /// Its pupils, by year group, class and name.
    pub pupils: Vec<StatutoryPupil>,
}

impl StatutoryPupil {
    /// The days on which the pupil is here, as far as they are known.
    pub fn stay(&self) -> Stay {
        Stay { from: self.first_day, until: self.row.left_on }
    }

    /// Whether the pupil belongs to the window's figures and its return.
    pub fn counts(&self) -> bool {
        self.result.is_some() || self.reason.standing() != Standing::NotToCheck
    }

    /// How the pupil counts in the whole year group, given the result; not at all where none was to be taken.
    pub fn counted<'r>(&self, result: Option<&'r CheckResult>) -> Option<Counted<'r>> {
        match (result, self.reason) {
            (None, Reason::ReachedBefore) => Some(Counted::ReachedBefore),
            (None, reason) if reason.standing() == Standing::NotToCheck => None,
            (result, _) => Some(Counted::Here(result)),
        }
    }

    /// Whether something is still to be entered.
    pub fn left(&self) -> bool {
        self.result.is_none() && self.counts()
    }
}

impl<'tx> Tx<'tx> {
    /// A window with its pupils the actor may see: all, or those near; by year group, class and name. With each,
    /// whether and why to be checked, and what is entered. The reading is of the window.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_view(
        &mut self,
        permit: &Permit<'tx, Read, StatutoryWindow>,
    ) -> Result<StatutoryView, Error> {
        let window = self.statutory_window(permit)?;
        let mut pupils = self.pupils_of_window(&window)?;
        let ids: Vec<PupilId> = pupils.iter().map(|pupil| pupil.row.id).collect();
        let of = |pupil| StatutoryResult { window: window.id, pupil };
        let seen = self.allowed_of::<Read, _>(&ids, of)?;
        pupils.retain(|pupil| seen.contains(&pupil.row.id));
        Ok(StatutoryView { window, pupils })
    }

    /// Permits to enter results of pupils in a window, in their order; asked at once, without statements a pupil.
    ///
    /// # Errors
    /// [`Error::Refused`] when the policy says no of one of them.
    pub fn permits_of_results(
        &mut self,
        window: &Permit<'tx, Read, StatutoryWindow>,
        pupils: &[PupilId],
    ) -> Result<Vec<Permit<'tx, Record, StatutoryResult>>, Error> {
        let school = self.school();
        let mut known = BTreeSet::new();
        for some in pupils.chunks(BATCH) {
            let found: Vec<PupilId> = db!(self.conn, c => pupil::table
                .filter(pupil::school_id.eq(school))
                .filter(pupil::id.eq_any(some))
                .select(pupil::id)
                .load(c))?;
            known.extend(found);
        }
        let near = self.near_if_it_counts::<Record, StatutoryResult>()?;
        let window = window.resource().0;
        let facts = |id: &PupilId| {
            let facts = Facts { exists: known.contains(id), assigned: near.contains(id) };
            (StatutoryResult { window, pupil: *id }, facts)
        };
        self.permits_by(pupils.iter().map(facts))
    }

    /// A window with all its pupils, for who submits it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_whole(
        &mut self,
        permit: &Permit<'tx, Publish, StatutoryWindow>,
    ) -> Result<StatutoryView, Error> {
        let window = self.statutory_window(permit)?;
        Ok(StatutoryView { pupils: self.pupils_of_window(&window)?, window })
    }

    /// The unique pupil numbers of the school, for its own return.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_upns(
        &mut self,
        _whole: &Permit<'tx, Read, StatutoryFigures>,
    ) -> Result<BTreeMap<PupilId, Upn>, Error> {
        self.upns()
    }

    /// Who of a window is of a class: was in it on the window's last day, or is today where that comes first, or where
    /// no class is on record of then.
    ///
    /// # Errors
    /// If the store fails.
    pub fn statutory_class(
        &mut self,
        _permit: &Permit<'tx, Read, StatutoryWindow>,
        window: &StatutoryWindowRow,
        class: ClassId,
    ) -> Result<BTreeSet<PupilId>, Error> {
        let (on, today) = (window.days().last().min(self.today()), self.today());
        let of_class = |places: Vec<(PupilId, ClassId)>| {
            places.into_iter().filter(|(_, of)| *of == class).map(|(pupil, _)| pupil).collect::<BTreeSet<_>>()
        };
        let then = self.class_places(on)?;
        let placed: BTreeSet<PupilId> = then.iter().map(|(pupil, _)| *pupil).collect();
        let mut now = self.class_places(today)?;
        now.retain(|(pupil, _)| !placed.contains(pupil));
        Ok(&of_class(then) | &of_class(now))
    }

    pub(super) fn pupils_of_window(
        &mut self,
        window: &StatutoryWindowRow,
    ) -> Result<Vec<StatutoryPupil>, Error> {
        let (school, rules, checked) = (self.school(), self.rules()?, window.checked()?);
        let (rule, days) = (&rules.statutory_check, window.days());
        let year = self.school_year_of(days.opens_on)?;
        let taught: BTreeMap<PupilId, String> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.eq(year))
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load::<(PupilId, String)>(c))?
        .into_iter()
        .collect();
        let first_days = self.first_class_days(rules, year)?;
        let mut results = self.results_in_force(&[window.id])?;
        let earlier = self.earlier_results_before(window)?;
        let thresholds = self.thresholds()?;
        let today = self.today();
        // The class of then; where none is on record of then, today's: a letter has to reach the child.
        let mut classes = self.class_names(today)?;
        classes.extend(self.class_names(days.last().min(today))?);
        let rows: Vec<PupilRow> = db!(self.conn, c => pupil::table
            .filter(pupil::school_id.eq(school))
            .order((pupil::search_key, pupil::id))
            .select(PupilRow::as_select())
            .load(c))?;
        let mut found = Vec::new();
        for row in rows {
            let (year_group, first_day) = (taught.get(&row.id), first_days.get(&row.id).copied());
            let of = OfPupil {
                year_group: year_group.map(String::as_str),
                first_day,
                left_on: row.left_on,
                earlier: earlier.get(&row.id).map_or(&[], Vec::as_slice),
            };
            let reason = standing(rule, &thresholds, &days, &checked, &of);
            let result = results.remove(&(window.id, row.id));
            // Of those whose year group nobody recorded, only who was in a class then may be of the window.
            let of_window = match year_group {
                Some(code) => checked.contains(code),
                None => first_day.is_some() && reason == Reason::YearGroupUnknown,
            };
            if of_window || result.is_some() {
                let class = classes.get(&row.id).cloned();
                let year_group = year_group.cloned();
                found.push(StatutoryPupil { row, class, year_group, reason, first_day, result });
            }
        }
        let place = |code: &Option<String>| {
            code.as_ref().and_then(|code| rules.year_groups.iter().position(|year| year.code == *code))
        };
        // Within a class they stay by name.
        found.sort_by(|a, b| (place(&a.year_group), &a.class).cmp(&(place(&b.year_group), &b.class)));
        Ok(found)
    }

    /// The first day of each pupil in a class within a school year.
    fn first_class_days(&mut self, rules: &RulePack, year: i32) -> Result<BTreeMap<PupilId, Date>, Error> {
        let (school, rule) = (self.school(), &rules.school_year);
        let begins = |year| NaiveDate::from_ymd_opt(year, rule.starts_month, rule.starts_day);
        let own = self.calendar()?.years.into_iter().find(|one| one.year == year);
        let (Some(first), Some(next)) =
            (own.as_ref().map(|own| own.starts_on).or_else(|| begins(year)), begins(year + 1))
        else {
            return Ok(BTreeMap::new());
        };
        let last = own.map_or_else(|| next.pred_opt().unwrap_or(next), |own| own.ends_on);
        let rows: Vec<(PupilId, Date)> = db!(self.conn, c => class_member::table
            .filter(class_member::school_id.eq(school))
            .filter(class_member::from_on.le(last))
            .filter(class_member::until_on.is_null().or(class_member::until_on.ge(first)))
            .order(class_member::from_on.desc())
            .select((class_member::pupil_id, class_member::from_on))
            .load(c))?;
        Ok(rows.into_iter().collect())
    }

    /// The results of every pupil in windows before one: taken here, and brought in.
    fn earlier_results_before(
        &mut self,
        window: &StatutoryWindowRow,
    ) -> Result<BTreeMap<PupilId, Vec<EarlierResult>>, Error> {
        let rule = &self.rules()?.statutory_check;
        let place = |year: i32, term: &str| (year, rule.term(term).unwrap_or(0));
        let this = place(window.year, &window.term);
        let mut out: BTreeMap<PupilId, Vec<EarlierResult>> = BTreeMap::new();
        let mut before = self.windows_of_school()?;
        before.retain(|other| place(other.year, &other.term) < this);
        let years: BTreeMap<StatutoryWindowId, i32> = before.iter().map(|row| (row.id, row.year)).collect();
        let windows: Vec<StatutoryWindowId> = years.keys().copied().collect();
        for ((window, pupil), row) in self.results_in_force(&windows)? {
            if let Some((year, result)) = years.get(&window).copied().zip(row.result()?) {
                out.entry(pupil).or_default().push(EarlierResult { year, result });
            }
        }
        for row in self.brought_in(None)? {
            if place(row.year, &row.term) < this {
                let (year, result) = (row.year, row.result()?);
                out.entry(row.pupil_id).or_default().push(EarlierResult { year, result });
            }
        }
        Ok(out)
    }
}
