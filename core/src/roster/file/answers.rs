//! What only a person can say about a file.

use serde::{Deserialize, Serialize};

use super::date::DateOrder;
use crate::{id::PupilId, roster::Field};

crate::vocabulary! {
    /// What becomes of the rows and columns a workbook hides.
    pub enum Hidden {
        /// They are read like the others.
        Include = "include",
        /// They are not read.
        LeaveOut = "leave_out",
    }
}

/// Who a row is about, where the file does not tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Whose {
    /// A pupil of the school.
    Pupil(PupilId),
    /// Somebody new.
    Somebody,
    /// Nobody: the row is left out.
    Nobody,
}

/// What a column is read as.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ColumnAnswer {
    /// Its letters.
    pub column: String,
    /// The field; null for not at all.
    pub field: Option<Field>,
}

/// Whom a row is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RowAnswer {
    /// Its line.
    pub line: u64,
    /// Whom.
    pub whose: Whose,
}

impl Answers {
    /// What was said of a column, by its letters: a field, or that it is not read.
    #[must_use]
    pub fn column(&self, letters: &str) -> Option<Option<Field>> {
        self.columns.iter().find(|answer| answer.column.eq_ignore_ascii_case(letters)).map(|a| a.field)
    }

    /// Whom a row is about.
    #[must_use]
    pub fn whose(&self, line: u64) -> Option<Whose> {
        self.whose.iter().find(|answer| answer.line == line).map(|answer| answer.whose)
    }
}

/// What a person has answered so far.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ImportAnswers, example = json!({
    "columns": [{"column": "A", "field": "given_name"}, {"column": "F", "field": null}], "date_order": "day_first",
    "whose": [{"line": 7, "whose": "somebody"}]
})))]
pub struct Answers {
    /// The school year the file is for, by the calendar year it starts in; today's unless told.
    /// Year groups are worked out, compared and saved for it, and its classes begin in it.
    pub year: Option<i32>,
    /// What columns are read as.
    pub columns: Vec<ColumnAnswer>,
    /// The line of the header.
    pub header_line: Option<u64>,
    /// Which comes first in a day.
    pub date_order: Option<DateOrder>,
    /// What becomes of hidden rows and columns.
    pub hidden: Option<Hidden>,
    /// Whom rows are about.
    pub whose: Vec<RowAnswer>,
    /// How many pupils that are missing from the file, or that a file of changes says are gone, have
    /// left; all of them or none.
    pub leavers: Option<usize>,
}

/// What a file cannot be read without.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ImportQuestion))]
pub enum Question {
    /// No line is a header, or two columns claim one field: say which columns to read.
    Columns {
        /// What is wrong.
        why: String,
    },
    /// Days fit both orders: say which comes first.
    DateOrder {
        /// What the school usually writes.
        usual: DateOrder,
        /// A cell that fits both.
        cell: String,
        /// The day it is with the day first.
        day_first: String,
        /// The day it is with the month first.
        month_first: String,
    },
    /// The grades of a file put most pupils outside their year of birth: say whether the column
    /// counts, as `year_group`, or not at all, so that the date of birth does.
    YearGroups {
        /// The column's letters.
        column: String,
        /// How many pupils the grades put outside their year of birth.
        outside: usize,
        /// Of how many that have both.
        of: usize,
    },
    /// The workbook hides rows or columns: say whether they count.
    Hidden {
        /// Rows, by number.
        rows: Vec<u64>,
        /// Columns, by letters.
        columns: Vec<String>,
    },
}
