//! Pupil files, from cells to rows. A file is read into a [`Sheet`] by whoever knows its format;
//! here the header is found, columns get their meaning, dates their order, and what nobody can
//! know is asked. Nothing is guessed in silence.

mod answers;
mod cell;
mod columns;
mod date;
mod export;
mod feed;
mod identifier;
mod read;
mod withheld;

pub use answers::{Answers, ColumnAnswer, Hidden, Question, RowAnswer, Whose};
pub use cell::{Cell, Line, Sheet, column_letters};
pub use columns::{Column, Columns, HeaderFault, Headings, find_header, heading_key};
pub use date::{DateOrder, Dates, Written, age_on, in_order};
pub use export::{GUARDED, export};
pub use feed::{Beside, Format, Note};
pub use identifier::{Damage, identifier};
pub use read::{Context, Reading, headings, read};
pub use withheld::{Withheld, forget_unread, withhold};
