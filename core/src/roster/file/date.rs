//! Days in files. The order of day and month is decided for a whole column, by a cell that fits
//! one order only or by a person, and never cell by cell.

use chrono::{Datelike as _, Days};

use super::Cell;
use crate::time::Date;

crate::vocabulary! {
    /// Which comes first where a day is written with slashes.
    pub enum DateOrder {
        /// 31/05/2019.
        DayFirst = "day_first",
        /// 05/31/2019.
        MonthFirst = "month_first",
    }
}

/// A day as a cell writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Written {
    /// Nothing.
    Nothing,
    /// One day only: 2019-05-31, 31 May 2019, a workbook's day.
    Plain(Date),
    /// Two numbers of which one is the day, and the year; `short` with two digits.
    Slashed {
        /// First number.
        first: u32,
        /// Second number.
        second: u32,
        /// The year as written.
        year: i32,
        /// Written with two digits.
        short: bool,
    },
    /// A bare whole number: a spreadsheet's count of days, which is no date until somebody says
    /// so. With the day it likely was.
    Serial(Option<Date>),
    /// No day of any calendar.
    Unreadable,
}

/// The day a spreadsheet counts from: its day 1 is 1900-01-01, and it believes in a 29 February
/// 1900, so that from March 1900 on the count is from 1899-12-30.
const SERIAL_START: (i32, u32, u32) = (1899, 12, 30);

impl Written {
    /// Reads a cell.
    #[must_use]
    pub fn read(cell: &Cell) -> Self {
        match cell {
            Cell::Day(day) => Self::Plain(*day),
            Cell::Number(number) => serial(&number.to_string()).unwrap_or(Self::Unreadable),
            Cell::Bad(_) => Self::Unreadable,
            Cell::Text(text) => Self::text(&Cell::cleaned(text)),
        }
    }

    fn text(text: &str) -> Self {
        if text.is_empty() {
            return Self::Nothing;
        }
        // A time of midnight that a spreadsheet put behind the day.
        let day = ["T00:00:00", " 00:00:00", " 00:00", " 0:00"].iter().find_map(|end| text.strip_suffix(end));
        let day = day.unwrap_or(text);
        if let Some(found) = serial(day) {
            return found;
        }
        let parts: Vec<&str> = day.split(['/', '-', '.', ' ']).collect();
        let [a, b, c] = parts.as_slice() else { return Self::Unreadable };
        let number = |part: &str| part.parse::<u32>().ok().filter(|_| part.len() <= 4);
        match (number(a), number(b), number(c)) {
            (Some(year), Some(month), Some(date)) if a.len() == 4 => {
                let year = i32::try_from(year).unwrap_or(0);
                Date::from_ymd_opt(year, month, date).map_or(Self::Unreadable, Self::Plain)
            }
            (Some(first), Some(second), Some(year)) if c.len() == 4 || c.len() == 2 => {
                let year = i32::try_from(year).unwrap_or(0);
                Self::Slashed { first, second, year, short: c.len() == 2 }
            }
            (Some(date), None, Some(year)) if c.len() == 4 => month(b)
                .and_then(|month| Date::from_ymd_opt(i32::try_from(year).unwrap_or(0), month, date))
                .map_or(Self::Unreadable, Self::Plain),
            _ => Self::Unreadable,
        }
    }
}

fn serial(text: &str) -> Option<Written> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let (y, m, d) = SERIAL_START;
    let likely = text.parse::<u64>().ok().filter(|days| (366..80_000).contains(days));
    let start = Date::from_ymd_opt(y, m, d);
    Some(Written::Serial(likely.and_then(|days| start?.checked_add_days(Days::new(days)))))
}

/// An English month by its first three letters or more.
fn month(text: &str) -> Option<u32> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let text = text.to_lowercase();
    let at = MONTHS.iter().position(|month| text.len() >= 3 && month.starts_with(&text))?;
    u32::try_from(at + 1).ok()
}

/// What the dates of a column say about their order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dates {
    /// A cell fits day first and not month first.
    pub day_first: bool,
    /// A cell fits month first and not day first.
    pub month_first: bool,
    /// A cell fits both, as two different days.
    pub unclear: bool,
}

impl Dates {
    /// Looks at a column.
    pub fn of(column: impl Iterator<Item = Written>) -> Self {
        let mut out = Self::default();
        for written in column {
            if let Written::Slashed { first, second, .. } = written {
                let (day_first, month_first) = (second <= 12, first <= 12);
                out.day_first |= day_first && !month_first;
                out.month_first |= month_first && !day_first;
                out.unclear |= day_first && month_first && first != second;
            }
        }
        out
    }

    /// The order the column itself decides; `None` when a person must: nothing decides and a cell
    /// is unclear, or cells contradict each other. Where no cell depends on it, either will do.
    #[must_use]
    pub fn order(self) -> Option<DateOrder> {
        match (self.day_first, self.month_first, self.unclear) {
            (true, true, _) | (false, false, true) => None,
            (_, true, _) => Some(DateOrder::MonthFirst),
            _ => Some(DateOrder::DayFirst),
        }
    }
}

/// Two numbers and a year as a day in an order. With two digits the year is the latest that does
/// not lie after `today`.
#[must_use]
pub fn in_order(written: Written, order: DateOrder, today: Date) -> Option<Date> {
    let (first, second, year, short) = match written {
        Written::Plain(day) => return Some(day),
        Written::Slashed { first, second, year, short } => (first, second, year, short),
        _ => return None,
    };
    let (day, month) = match order {
        DateOrder::DayFirst => (first, second),
        DateOrder::MonthFirst => (second, first),
    };
    if !short {
        return Date::from_ymd_opt(year, month, day);
    }
    let century = today.year() - today.year() % 100;
    let this = Date::from_ymd_opt(century + year, month, day);
    this.filter(|day| *day <= today).or_else(|| Date::from_ymd_opt(century - 100 + year, month, day))
}

/// Completed years on a day. Somebody born on 29 February completes a year on 1 March where the
/// year has no such day, as English law counts.
#[must_use]
pub fn age_on(born: Date, on: Date) -> i32 {
    let before = (on.month(), on.day()) < (born.month(), born.day());
    on.year() - born.year() - i32::from(before)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn read(text: &str) -> Written {
        Written::read(&Cell::Text(text.to_owned()))
    }

    #[test]
    fn a_cell_is_read_as_what_it_is() {
        for text in ["2019-05-31", "2019/5/31", "31 May 2019", "31-may-2019", "2019-05-31 00:00:00"] {
            assert_eq!(read(text), Written::Plain(day("2019-05-31")), "{text}");
        }
        for text in
            ["2019-02-29", "31 Ma 2019", "next week", "5/2019", "1/2/3/2019", "31/05/019", "2019-13-01"]
        {
            assert_eq!(read(text), Written::Unreadable, "{text}");
        }
        assert_eq!(read(" "), Written::Nothing);
        let short = Written::Slashed { first: 3, second: 2, year: 19, short: true };
        assert_eq!(read("03/02/19"), short);
        assert_eq!(read("3.2.19"), short);
    }

    #[test]
    fn a_bare_number_is_no_date_but_a_likely_one() {
        // 43,499 days after 1899-12-30.
        assert_eq!(read("43499"), Written::Serial(Some(day("2019-02-03"))));
        assert_eq!(Written::read(&Cell::Number(43635.0)), Written::Serial(Some(day("2019-06-19"))));
        assert_eq!(read("20190531"), Written::Serial(None));
        assert_eq!(read("7"), Written::Serial(None));
    }

    #[test]
    fn a_column_decides_its_order_or_nobody_does() {
        let order = |cells: &[&str]| Dates::of(cells.iter().map(|cell| read(cell))).order();
        assert_eq!(order(&["03/02/2019", "04/07/2019", "11/12/2018"]), None);
        assert_eq!(order(&["2019-02-03", "25/12/2018", "04/05/2019"]), Some(DateOrder::DayFirst));
        assert_eq!(order(&["12/25/2018", "04/05/2019"]), Some(DateOrder::MonthFirst));
        assert_eq!(order(&["25/12/2018", "12/25/2018"]), None);
        assert_eq!(order(&["05/05/2019", "2019-01-01", ""]), Some(DateOrder::DayFirst));
    }

    #[test]
    fn two_digits_are_a_year_that_has_been() {
        let today = day("2025-03-10");
        let at = |text: &str| in_order(read(text), DateOrder::DayFirst, today);
        assert_eq!(at("03/02/19"), Some(day("2019-02-03")));
        assert_eq!(at("03/02/71"), Some(day("1971-02-03")));
        assert_eq!(at("11/03/25"), Some(day("1925-03-11")));
        assert_eq!(at("29/02/2021"), None);
        assert_eq!(in_order(read("02/03/2019"), DateOrder::MonthFirst, today), Some(day("2019-02-03")));
    }

    #[test]
    fn a_leap_day_child_is_a_year_older_on_the_first_of_march() {
        let born = day("2020-02-29");
        assert_eq!((age_on(born, day("2025-02-28")), age_on(born, day("2025-03-01"))), (4, 5));
        assert_eq!((age_on(born, day("2024-02-28")), age_on(born, day("2024-02-29"))), (3, 4));
    }
}
