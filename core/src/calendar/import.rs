//! What a calendar file would change: school years, half terms, closures. What an event is comes from its
//! categories or from what the user says; nothing is guessed.

use std::collections::BTreeMap;

use chrono::Datelike as _;

use super::{
    Calendar, CalendarError, ClosedFor, ClosureError, ClosureKind, ClosurePlan, HalfTermPlan, Year, YearPlan,
    check_closure, check_year,
};
use crate::{
    sequence::Fault,
    text::{Title, one_name},
    time::Date,
};

mod words;

use unicode_normalization::UnicodeNormalization;
use words::Read;
pub use words::{MeaningError, Meanings, Said, Words};

crate::vocabulary! {
    /// What an event of a calendar file is.
    pub enum Meaning {
        /// A school year, from its first day to its last.
        SchoolYear = "school_year",
        /// A half term.
        HalfTerm = "half_term",
        /// Staff training without pupils.
        Inset = "inset",
        /// Shut.
        Closure = "closure",
        /// Away together, without lessons.
        Trip = "trip",
        /// Nothing of the teaching year.
        LeftOut = "left_out",
    }
}

/// The category of a closure that is for single classes: it is written, and not read.
pub const FOR_CLASSES: &str = "CLASS";

/// Words as they are compared: case, spaces and hyphens make no difference.
fn plain(words: &str) -> String {
    let one: String = words.nfkc().collect();
    one.to_lowercase().split_whitespace().collect::<Vec<_>>().join("_").replace('-', "_")
}

/// An event of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileEvent {
    /// The line it begins in.
    pub line: u64,
    /// What it is called.
    pub summary: String,
    /// Its categories.
    pub categories: Vec<String>,
    /// Whether it was called off.
    pub cancelled: bool,
    /// Its first and last day; none where it has a time of day.
    pub days: Option<(Date, Date)>,
}

/// What a file would change.
#[derive(Clone, Debug, Default)]
pub struct CalendarImport {
    /// School years as they would be, new or with other days or half terms than now.
    pub years: Vec<(i32, YearPlan)>,
    /// Days that would be closed, with the line.
    pub closures: Vec<(u64, ClosurePlan)>,
    /// Events that say what stands already.
    pub unchanged: usize,
    /// Events that are not read, and why.
    pub left_out: Vec<(FileEvent, &'static str)>,
    /// Events of which the user has to say what they are, and why.
    pub questions: Vec<(FileEvent, String)>,
    /// Lines that cannot be as things stand; only while there are questions, whose answers may mend them.
    pub faults: Vec<Fault>,
    /// The calendar as it would be.
    pub after: Calendar,
}

fn fault(line: u64, message: impl ToString) -> Fault {
    Fault { field: format!("line {line}"), message: message.to_string() }
}

/// Works out what a file would change.
///
/// What a file closes is looked at beside what is closed already, not beside the rest of the file: in which order
/// things were closed where it was written, it does not say.
///
/// # Errors
/// Every line that cannot be, once there are no questions: what a half term or a school year says of the days of
/// other lines is not known before.
pub fn plan_import(
    calendar: &Calendar,
    events: Vec<FileEvent>,
    words: Words<'_>,
) -> Result<CalendarImport, Vec<Fault>> {
    let mut plan = CalendarImport::default();
    let (mut faults, mut years, mut terms, mut closures) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for event in events {
        if event.cancelled {
            plan.left_out.push((event, "is cancelled"));
            continue;
        }
        let Read { meaning, part, whom } = match words.read(&event) {
            Ok(read) => read,
            Err(why) => {
                plan.questions.push((event, why));
                continue;
            }
        };
        let Some((from, until)) = event.days else {
            plan.left_out.push((event, "has a time of day"));
            continue;
        };
        let kind = match meaning {
            Meaning::Inset => ClosureKind::Inset,
            Meaning::Closure => ClosureKind::Closure,
            Meaning::Trip => ClosureKind::Trip,
            Meaning::SchoolYear => {
                years.push((event.line, (from, until)));
                continue;
            }
            Meaning::HalfTerm => {
                match Title::new(&event.summary) {
                    Ok(name) => terms.push((event.line, name, (from, until))),
                    Err(error) => faults.push(fault(event.line, format!("the name {error}"))),
                }
                continue;
            }
            Meaning::LeftOut => {
                plan.left_out.push((event, "as you said"));
                continue;
            }
        };
        closures.push((event, ClosurePlan { from, until, kind, part, whom }));
    }
    plan.after = calendar.clone();
    plan.unchanged += plan_years(&mut plan.after, &mut plan.years, years, terms, &mut faults);
    plan_closures(&mut plan, closures, &mut faults);
    if faults.is_empty() || !plan.questions.is_empty() {
        plan.faults = faults;
        return Ok(plan);
    }
    Err(faults)
}

/// Puts what a file closes into the calendar.
fn plan_closures(
    plan: &mut CalendarImport,
    closures: Vec<(FileEvent, ClosurePlan)>,
    faults: &mut Vec<Fault>,
) {
    let standing = plan.after.clone();
    let first = closures.first().map(|(event, _)| event.line);
    for (event, closing) in closures {
        if matches!(&closing.whom, ClosedFor::Classes(ids) if ids.is_empty()) {
            plan.left_out.push((event, "is for single classes, which are closed by name"));
            continue;
        }
        if plan.after.closures.iter().any(|known| known.plan == closing) {
            plan.unchanged += 1;
            continue;
        }
        match check_closure(&standing, &closing) {
            Ok(_) => {
                plan.after.close(&closing);
                plan.closures.push((event.line, closing));
            }
            Err(ClosureError::Closed { .. }) => {
                plan.left_out.push((event, "all its days are closed already"))
            }
            Err(error) => faults.push(fault(event.line, error)),
        }
    }
    let emptied = plan.after.all_closed().difference(&standing.all_closed()).next().copied();
    if let Some((line, year)) = first.filter(|_| faults.is_empty()).zip(emptied) {
        faults.push(fault(line, ClosureError::WholeYear(year)));
    }
}

/// Puts the years and half terms of a file into the calendar; answers how many of them stood already.
fn plan_years(
    after: &mut Calendar,
    changed: &mut Vec<(i32, YearPlan)>,
    years: Vec<(u64, (Date, Date))>,
    terms: Vec<(u64, Title, (Date, Date))>,
    faults: &mut Vec<Fault>,
) -> usize {
    let mut unchanged = 0;
    // A year with the lines that speak of it, and of which half term.
    let mut plans: BTreeMap<i32, (Vec<(u64, String)>, YearPlan)> = BTreeMap::new();
    let known = |year: &Year| {
        let half_terms = year.half_terms.iter().map(|term| HalfTermPlan {
            name: term.name.clone(),
            starts_on: term.starts_on,
            ends_on: term.ends_on,
        });
        YearPlan { starts_on: year.starts_on, ends_on: year.ends_on, half_terms: half_terms.collect() }
    };
    for year in &after.years {
        plans.insert(year.year, (Vec::new(), known(year)));
    }
    for (line, (starts_on, ends_on)) in years {
        if plans.get(&starts_on.year()).is_some_and(|(lines, _)| !lines.is_empty()) {
            faults.push(fault(line, format!("the school year {} stands twice", starts_on.year())));
            continue;
        }
        let empty = YearPlan { starts_on, ends_on, half_terms: Vec::new() };
        let (lines, plan) = plans.entry(starts_on.year()).or_insert((Vec::new(), empty));
        lines.push((line, String::new()));
        (plan.starts_on, plan.ends_on) = (starts_on, ends_on);
    }
    let mut named = Vec::new();
    for (line, name, (starts_on, ends_on)) in terms {
        let holds = |plan: &YearPlan| plan.starts_on <= starts_on && starts_on <= plan.ends_on;
        let Some((year, (lines, plan))) = plans.iter_mut().find(|(_, (_, plan))| holds(plan)) else {
            let message = format!("{name} begins in no school year of the calendar or the file");
            faults.push(fault(line, message));
            continue;
        };
        if named.iter().any(|(other, known): &(i32, String)| other == year && one_name(known, name.as_str()))
        {
            faults.push(fault(line, format!("{name} stands twice in one school year")));
            continue;
        }
        named.push((*year, name.to_string()));
        lines.push((line, name.to_string()));
        plan.half_terms.retain(|term| !one_name(term.name.as_str(), name.as_str()));
        plan.half_terms.push(HalfTermPlan { name, starts_on, ends_on });
    }
    // Each year is looked at beside the others as the file would have them, so that the order of years decides nothing.
    let spans = plans.iter().map(|(year, (_, plan))| Year {
        year: *year,
        starts_on: plan.starts_on,
        ends_on: plan.ends_on,
        half_terms: Vec::new(),
    });
    let spans: Vec<Year> = spans.collect();
    for (year, (lines, mut plan)) in plans {
        let Some((first, _)) = lines.first() else { continue };
        plan.half_terms.sort_by_key(|term| term.starts_on);
        if after.years.iter().any(|other| other.year == year && known(other) == plan) {
            unchanged += lines.len();
            continue;
        }
        if let Err(error) = check_year(&plan, year, &spans) {
            let at_fault = lines.iter().find(|(_, name)| error.half_term() == Some(name));
            faults.push(fault(at_fault.map_or(*first, |(line, _)| *line), error));
            continue;
        }
        let with_year = after.with_year(year, &plan);
        if with_year.all_closed().contains(&year) {
            faults.push(fault(*first, CalendarError::AllClosed));
            continue;
        }
        *after = with_year;
        changed.push((year, plan));
    }
    unchanged
}

#[cfg(test)]
mod tests;
