//! What a calendar file would change: school years, half terms, closures. What an event is comes from its
//! categories or from what the user says; nothing is guessed.

use std::collections::{BTreeMap, BTreeSet};

use chrono::Datelike as _;
use uuid::Uuid;

use super::{
    Calendar, ClosedFor, Closure, ClosureKind, ClosurePlan, DayPart, HalfTerm, HalfTermPlan, Year, YearPlan,
    check_closure, check_year,
};
use crate::{
    id::{ClosureId, HalfTermId},
    sequence::Fault,
    text::Title,
    time::Date,
};

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
    words.trim().to_lowercase().replace([' ', '-'], "_")
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

/// What the user says that events are, by what they are called or by a category.
#[derive(Clone, Debug, Default)]
pub struct Meanings(BTreeMap<String, Meaning>);

/// What cannot be said of words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MeaningError {
    /// There are none.
    #[error("holds an empty word")]
    Empty,
    /// They were said to mean something else.
    #[error("holds a word that is said to be {0} too")]
    Twice(Meaning),
}

impl Meanings {
    /// Adds what some words mean.
    ///
    /// # Errors
    /// If there are no words, or they mean something else already.
    pub fn say(&mut self, words: &str, meaning: Meaning) -> Result<(), MeaningError> {
        let words = plain(words);
        if words.is_empty() {
            return Err(MeaningError::Empty);
        }
        match self.0.insert(words, meaning) {
            Some(other) if other != meaning => Err(MeaningError::Twice(other)),
            _ => Ok(()),
        }
    }

    fn said(&self, words: &str) -> Option<Meaning> {
        self.0.get(&plain(words)).copied()
    }

    /// What an event is: what is said of its name, else of its categories, else its categories if they are
    /// words of ours; of each where they agree.
    ///
    /// # Errors
    /// Why it has to be asked though something is said; nothing where nothing is.
    fn of(&self, event: &FileEvent, year_groups: &[&str]) -> Result<Meaning, Option<&'static str>> {
        let agreed = |found: BTreeSet<Meaning>| found.first().copied().filter(|_| found.len() == 1);
        let by = |meaning: &dyn Fn(&str) -> Option<Meaning>| -> BTreeSet<Meaning> {
            event.categories.iter().filter_map(|category| meaning(category)).collect()
        };
        let of_categories = by(&|category| self.said(category));
        let said = match self.said(&event.summary) {
            None if of_categories.len() > 1 => return Err(Some("its categories are said to be two things")),
            None => agreed(of_categories),
            named => named,
        };
        let Some(said) = said else {
            return agreed(by(&|category| Meaning::parse(&plain(category)))).ok_or(None);
        };
        // Of what is said nothing tells whom an unknown category is about, so the whole school is a guess.
        let known = |category: &String| {
            let word = plain(category);
            self.said(category).is_some()
                || Meaning::parse(&word).is_some()
                || DayPart::parse(&word).is_some()
                || category.eq_ignore_ascii_case(FOR_CLASSES)
                || year_groups.contains(&word.as_str())
        };
        let closes = matches!(said, Meaning::Inset | Meaning::Closure | Meaning::Trip);
        if closes && !event.categories.iter().all(known) {
            return Err(Some("a category of it names no year group: say of that too what it is"));
        }
        Ok(said)
    }
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
    /// Events of which the user has to say what they are, with why where something was said.
    pub questions: Vec<(FileEvent, Option<&'static str>)>,
}

fn fault(line: u64, message: impl ToString) -> Fault {
    Fault { field: format!("line {line}"), message: message.to_string() }
}

/// Works out what a file would change. `year_groups` are the codes of the rule pack.
///
/// # Errors
/// Every line that cannot be.
pub fn plan_import(
    calendar: &Calendar,
    events: Vec<FileEvent>,
    meanings: &Meanings,
    year_groups: &[&str],
) -> Result<CalendarImport, Vec<Fault>> {
    let mut plan = CalendarImport::default();
    let (mut faults, mut years, mut terms, mut closures) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for event in events {
        if event.cancelled {
            plan.left_out.push((event, "is cancelled"));
            continue;
        }
        let meaning = match meanings.of(&event, year_groups) {
            Ok(meaning) => meaning,
            Err(why) => {
                plan.questions.push((event, why));
                continue;
            }
        };
        let Some(days) = event.days else {
            plan.left_out.push((event, "has a time of day"));
            continue;
        };
        match meaning {
            Meaning::SchoolYear => years.push((event.line, days)),
            Meaning::HalfTerm => match Title::new(&event.summary) {
                Ok(name) => terms.push((event.line, name, days)),
                Err(error) => faults.push(fault(event.line, format!("the name {error}"))),
            },
            Meaning::LeftOut => plan.left_out.push((event, "as you said")),
            Meaning::Inset => closures.push((event, days, ClosureKind::Inset)),
            Meaning::Closure => closures.push((event, days, ClosureKind::Closure)),
            Meaning::Trip => closures.push((event, days, ClosureKind::Trip)),
        }
    }
    let mut after = calendar.clone();
    plan.unchanged += plan_years(&mut after, &mut plan.years, years, terms, &mut faults);
    for (event, (from, until), kind) in closures {
        if event.categories.iter().any(|category| category.eq_ignore_ascii_case(FOR_CLASSES)) {
            plan.left_out.push((event, "is for single classes, which are closed by name"));
            continue;
        }
        let words: BTreeSet<String> = event.categories.iter().map(|category| plain(category)).collect();
        let half = |part: DayPart| words.contains(part.as_str());
        let part = match (half(DayPart::Morning), half(DayPart::Afternoon)) {
            (true, false) => DayPart::Morning,
            (false, true) => DayPart::Afternoon,
            _ => DayPart::Whole,
        };
        let codes: BTreeSet<String> =
            year_groups.iter().filter(|code| words.contains(**code)).map(|code| (*code).to_owned()).collect();
        let whom = if codes.is_empty() { ClosedFor::School } else { ClosedFor::YearGroups(codes) };
        let closing = ClosurePlan { from, until, kind, part, whom };
        if after.closures.iter().any(|known| known.plan == closing) {
            plan.unchanged += 1;
            continue;
        }
        match check_closure(&after, &closing) {
            Ok(()) => {
                after.closures.push(Closure { id: ClosureId::from_uuid(Uuid::nil()), plan: closing.clone() });
                plan.closures.push((event.line, closing));
            }
            Err(error) => faults.push(fault(event.line, error)),
        }
    }
    if faults.is_empty() { Ok(plan) } else { Err(faults) }
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
    let mut named = BTreeSet::new();
    for (line, name, (starts_on, ends_on)) in terms {
        let holds = |plan: &YearPlan| plan.starts_on <= starts_on && starts_on <= plan.ends_on;
        let Some((year, (lines, plan))) = plans.iter_mut().find(|(_, (_, plan))| holds(plan)) else {
            let message = format!("{name} begins in no school year of the calendar or the file");
            faults.push(fault(line, message));
            continue;
        };
        if !named.insert((*year, name.to_string())) {
            faults.push(fault(line, format!("{name} stands twice in one school year")));
            continue;
        }
        lines.push((line, name.to_string()));
        plan.half_terms.retain(|term| term.name != name);
        plan.half_terms.push(HalfTermPlan { name, starts_on, ends_on });
    }
    for (year, (lines, mut plan)) in plans {
        let Some((first, _)) = lines.first() else { continue };
        plan.half_terms.sort_by_key(|term| term.starts_on);
        if after.years.iter().any(|other| other.year == year && known(other) == plan) {
            unchanged += lines.len();
            continue;
        }
        if let Err(error) = check_year(&plan, year, &after.years) {
            let at_fault = lines.iter().find(|(_, name)| error.half_term() == Some(name));
            faults.push(fault(at_fault.map_or(*first, |(line, _)| *line), error));
            continue;
        }
        after.years.retain(|other| other.year != year);
        let half_terms = plan.half_terms.iter().map(|term| HalfTerm {
            id: HalfTermId::from_uuid(Uuid::nil()),
            name: term.name.clone(),
            starts_on: term.starts_on,
            ends_on: term.ends_on,
        });
        after.years.push(Year {
            year,
            starts_on: plan.starts_on,
            ends_on: plan.ends_on,
            half_terms: half_terms.collect(),
        });
        changed.push((year, plan));
    }
    unchanged
}

#[cfg(test)]
mod tests;
