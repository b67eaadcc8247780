//! School years and half terms, and the calendar as a whole.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource,
    },
    calendar::{Calendar, HalfTerm, Year, YearPlan},
    id::{HalfTermId, SchoolId},
    text::{Title, one_name},
    time::Date,
};

use super::{
    Error, Permit, Tx,
    change::Scope,
    conn::db,
    schema::{half_term, school_year},
};

/// A saved school year.
#[derive(Clone, Debug)]
pub struct YearSaved {
    /// The id of its record, which follows from school and year.
    pub id: uuid::Uuid,
    /// The year.
    pub year: Year,
    /// Its version.
    pub v: i64,
}

type TermRow = (HalfTermId, i32, String, Date, Date);

impl<'tx> Tx<'tx> {
    /// The whole calendar.
    ///
    /// # Errors
    /// If the store fails.
    pub fn calendar(&mut self) -> Result<Calendar, Error> {
        let years = self.years()?.into_iter().map(|saved| saved.year).collect();
        let closures = self.standing_closures()?;
        Ok(Calendar { years, closures })
    }

    /// The school year of a day, by the calendar year it starts in: the calendar's, or the rule
    /// pack's where the calendar holds no such day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn school_year_of(&mut self, on: Date) -> Result<i32, Error> {
        let rules = self.rules()?;
        Ok(self.calendar()?.year_of(on).map_or_else(|| rules.school_year_of(on), |year| year.year))
    }

    /// Today where it lies in a school year, otherwise the first day of that year; today too
    /// where the calendar has no such year.
    ///
    /// # Errors
    /// If the store fails.
    pub fn day_in_year(&mut self, year: i32) -> Result<Date, Error> {
        let today = self.today();
        if self.school_year_of(today)? == year {
            return Ok(today);
        }
        let calendar = self.calendar()?;
        Ok(calendar.years.iter().find(|known| known.year == year).map_or(today, |known| known.starts_on))
    }

    /// The school years, latest last.
    ///
    /// # Errors
    /// If the store fails.
    pub fn school_years(
        &mut self,
        _permit: &Permit<'tx, Read, resource::Calendar>,
    ) -> Result<Vec<YearSaved>, Error> {
        self.years()
    }

    pub(super) fn years(&mut self) -> Result<Vec<YearSaved>, Error> {
        let school = self.school();
        let rows: Vec<(i32, Date, Date, i64)> = db!(self.conn, c => school_year::table
            .filter(school_year::school_id.eq(school))
            .order(school_year::year)
            .select((school_year::year, school_year::starts_on, school_year::ends_on, school_year::v))
            .load(c))?;
        let terms: Vec<TermRow> = db!(self.conn, c => half_term::table
            .filter(half_term::school_id.eq(school))
            .order(half_term::starts_on)
            .select((half_term::id, half_term::year, half_term::name, half_term::starts_on, half_term::ends_on))
            .load(c))?;
        let half_terms = |year: i32| -> Result<Vec<HalfTerm>, Error> {
            terms
                .iter()
                .filter(|term| term.1 == year)
                .map(|(id, _, name, starts_on, ends_on)| {
                    let name = Title::new(name).map_err(|error| Error::Damaged(error.to_string()))?;
                    Ok(HalfTerm { id: *id, name, starts_on: *starts_on, ends_on: *ends_on })
                })
                .collect()
        };
        rows.into_iter()
            .map(|(year, starts_on, ends_on, v)| {
                let whole = Year { year, starts_on, ends_on, half_terms: half_terms(year)? };
                Ok(YearSaved { id: year_id(school, year), year: whole, v })
            })
            .collect()
    }

    /// Saves a school year whole. A half term that keeps its name keeps its id.
    ///
    /// # Errors
    /// If the store fails.
    pub fn save_year(
        &mut self,
        _permit: &Permit<'tx, Manage, resource::Calendar>,
        year: i32,
        plan: &YearPlan,
    ) -> Result<YearSaved, Error> {
        let (school, version) = (self.school(), self.version);
        let known = self.years()?.into_iter().find(|saved| saved.year.year == year);
        let known_id = |name: &Title| {
            let terms = &known.as_ref()?.year.half_terms;
            terms.iter().find(|term| one_name(term.name.as_str(), name.as_str())).map(|term| term.id)
        };
        let half_terms: Vec<HalfTerm> = plan
            .half_terms
            .iter()
            .map(|term| HalfTerm {
                id: known_id(&term.name).unwrap_or_else(|| self.new_id()),
                name: term.name.clone(),
                starts_on: term.starts_on,
                ends_on: term.ends_on,
            })
            .collect();
        db!(self.conn, c => diesel::delete(half_term::table
            .filter(half_term::school_id.eq(school))
            .filter(half_term::year.eq(year)))
            .execute(c))?;
        let values = (
            school_year::school_id.eq(school),
            school_year::year.eq(year),
            school_year::starts_on.eq(plan.starts_on),
            school_year::ends_on.eq(plan.ends_on),
            school_year::v.eq(version),
        );
        db!(self.conn, c => diesel::insert_into(school_year::table)
            .values(values)
            .on_conflict((school_year::school_id, school_year::year))
            .do_update()
            .set((
                school_year::starts_on.eq(plan.starts_on),
                school_year::ends_on.eq(plan.ends_on),
                school_year::v.eq(version),
            ))
            .execute(c))?;
        for term in &half_terms {
            db!(self.conn, c => diesel::insert_into(half_term::table)
                .values((
                    half_term::school_id.eq(school),
                    half_term::id.eq(term.id),
                    half_term::year.eq(year),
                    half_term::name.eq(term.name.as_str()),
                    half_term::starts_on.eq(term.starts_on),
                    half_term::ends_on.eq(term.ends_on),
                ))
                .execute(c))?;
        }
        let year = Year { year, starts_on: plan.starts_on, ends_on: plan.ends_on, half_terms };
        let id = year_id(school, year.year);
        self.save("school_year", id, &[Scope::School], &year)?;
        Ok(YearSaved { id, year, v: version })
    }
}

/// The record id of a school year: it follows from school and year.
fn year_id(school: SchoolId, year: i32) -> uuid::Uuid {
    uuid::Uuid::new_v5(&school.uuid(), format!("school_year {year}").as_bytes())
}
