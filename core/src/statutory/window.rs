//! A window: when a school takes the check, and which year groups do.

use chrono::Datelike as _;

use super::StatutoryRule;
use crate::time::Date;

/// The days of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WindowDays {
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
    /// Last day for those who were away.
    pub absentees_until: Option<Date>,
}

impl WindowDays {
    /// The last day on which anybody can be checked.
    pub fn last(&self) -> Date {
        self.absentees_until.unwrap_or(self.closes_on)
    }

    /// Refuses days of more than one school year; `year_of` tells the school year of a day.
    ///
    /// # Errors
    /// [`WindowError::SchoolYear`], or what `year_of` answers.
    pub fn of_one_year<E>(&self, mut year_of: impl FnMut(Date) -> Result<i32, E>) -> Result<(), E>
    where
        E: From<WindowError>,
    {
        let year = year_of(self.opens_on)?;
        let days = [("closes_on", Some(self.closes_on)), ("absentees_until", self.absentees_until)];
        for (field, day) in days {
            if day.map(&mut year_of).transpose()?.is_some_and(|of| of != year) {
                return Err(WindowError::SchoolYear(field).into());
            }
        }
        Ok(())
    }

    /// Whether a pupil can be checked on a day.
    pub fn hold(&self, day: Date) -> bool {
        self.opens_on <= day && day <= self.last()
    }
}

/// Why a window cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WindowError {
    /// Not one of the pack's.
    #[error("must be one of: {0}")]
    Term(String),
    /// The pack has the days.
    #[error("the days of this window are set: leave them out ({0} to {1})")]
    DaysAreSet(Date, Date),
    /// The pack has none.
    #[error("is needed: no days are set for this window")]
    NoDays(&'static str),
    /// Before the one before.
    #[error("lies before the day before it")]
    Order(&'static str),
    /// In another year.
    #[error("must lie in {0}")]
    Year(i32),
    /// Over the end of a school year, after which pupils are in other year groups.
    #[error("must lie in the school year of opens_on")]
    SchoolYear(&'static str),
}

impl WindowError {
    /// The field it is about.
    pub const fn field(&self) -> &'static str {
        match self {
            Self::Term(_) => "term",
            Self::DaysAreSet(..) | Self::Year(_) => "opens_on",
            Self::NoDays(field) | Self::Order(field) | Self::SchoolYear(field) => field,
        }
    }
}

/// The days and year groups of a window: the pack's where it has them, else the school's own days.
///
/// # Errors
/// [`WindowError`].
pub fn open_window(
    rule: &StatutoryRule,
    year: i32,
    term: &str,
    own: (Option<Date>, Option<Date>, Option<Date>),
) -> Result<(WindowDays, Vec<String>), WindowError> {
    if rule.term(term).is_none() {
        let known: Vec<&str> = rule.terms.iter().map(|term| term.code.as_str()).collect();
        return Err(WindowError::Term(known.join(", ")));
    }
    let set = rule.windows.iter().find(|one| one.year == year && one.term == term);
    let year_groups = match set {
        Some(set) => set.year_groups.clone(),
        None => rule.eligible.iter().map(|one| one.year_group.clone()).collect(),
    };
    if let Some((opens_on, closes_on)) = set.and_then(|set| set.opens_on.zip(set.closes_on)) {
        if own != (None, None, None) {
            return Err(WindowError::DaysAreSet(opens_on, closes_on));
        }
        let absentees_until = set.and_then(|set| set.absentees_until);
        return Ok((WindowDays { opens_on, closes_on, absentees_until }, year_groups));
    }
    let opens_on = own.0.ok_or(WindowError::NoDays("opens_on"))?;
    let closes_on = own.1.ok_or(WindowError::NoDays("closes_on"))?;
    if opens_on.year() != year {
        return Err(WindowError::Year(year));
    }
    if closes_on < opens_on {
        return Err(WindowError::Order("closes_on"));
    }
    if own.2.is_some_and(|until| until <= closes_on) {
        return Err(WindowError::Order("absentees_until"));
    }
    Ok((WindowDays { opens_on, closes_on, absentees_until: own.2 }, year_groups))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::pack;

    #[test]
    fn a_window_lies_in_one_school_year() {
        let day = |text: &str| text.parse::<Date>().unwrap();
        // School years begin in September here.
        let year_of = |on: Date| Ok::<_, WindowError>(if on.month() < 9 { on.year() - 1 } else { on.year() });
        let of = |closes: &str, until: Option<&str>| {
            let days = WindowDays {
                opens_on: day("2027-06-14"),
                closes_on: day(closes),
                absentees_until: until.map(day),
            };
            days.of_one_year(year_of).map_err(|error| error.field())
        };
        assert_eq!(of("2027-06-18", Some("2027-08-31")), Ok(()));
        assert_eq!(of("2027-09-01", None), Err("closes_on"));
        assert_eq!(of("2027-06-18", Some("2027-09-01")), Err("absentees_until"));
    }

    #[test]
    fn the_packs_days_come_first_and_the_schools_own_where_it_has_none() {
        let rule = &pack("england").unwrap().statutory_check;
        let day = |text: &str| Some(text.parse::<Date>().unwrap());
        let none = (None, None, None);
        let (days, years) = open_window(rule, 2026, "summer", none).unwrap();
        assert_eq!(Some(days.opens_on), day("2026-06-08"));
        assert_eq!((Some(days.closes_on), Some(days.last())), (day("2026-06-12"), day("2026-06-19")));
        assert_eq!(years, ["year_1", "year_2"]);
        assert!(days.hold(day("2026-06-19").unwrap()) && !days.hold(day("2026-06-20").unwrap()));
        let field = |year, term, own| open_window(rule, year, term, own).unwrap_err().field();
        assert_eq!(field(2026, "summer", (day("2026-06-09"), None, None)), "opens_on");
        assert_eq!(field(2026, "spring", none), "term");
        assert_eq!(field(2027, "summer", none), "opens_on");
        assert_eq!(field(2027, "summer", (day("2027-06-14"), None, None)), "closes_on");
        assert_eq!(field(2027, "summer", (day("2026-06-14"), day("2027-06-18"), None)), "opens_on");
        assert_eq!(field(2027, "summer", (day("2027-06-14"), day("2027-06-11"), None)), "closes_on");
        let own = (day("2027-06-14"), day("2027-06-18"), day("2027-06-18"));
        assert_eq!(field(2027, "summer", own), "absentees_until");
        let (days, years) =
            open_window(rule, 2027, "summer", (day("2027-06-14"), day("2027-06-18"), None)).unwrap();
        assert_eq!((Some(days.last()), years.len()), (day("2027-06-18"), 2));
        // The autumn windows were of Year 2 alone, each school on days of its own.
        let (_, years) =
            open_window(rule, 2020, "autumn", (day("2020-11-30"), day("2020-12-11"), None)).unwrap();
        assert_eq!(years, ["year_2"]);
        let other = &pack("south-australia").unwrap().statutory_check;
        let (_, years) =
            open_window(other, 2027, "term_3", (day("2027-08-02"), day("2027-08-13"), None)).unwrap();
        assert_eq!(years, ["year_1"]);
    }
}
