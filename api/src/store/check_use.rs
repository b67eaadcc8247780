//! The answers checks were given, whoever gave them, for figures of the checks themselves.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    check::{Response, in_force},
    id::CheckId,
};

use super::{
    Error, Permit, Tx,
    conn::db,
    response::{ResponseRow, response_of},
    schema::{response, round_check},
};

impl<'tx> Tx<'tx> {
    /// The responses to some checks that count, in order of entry.
    ///
    /// # Errors
    /// If the store fails.
    pub fn responses_to(
        &mut self,
        _permit: &Permit<'tx, Read, SchoolReport>,
        checks: &[CheckId],
    ) -> Result<Vec<Response>, Error> {
        let school = self.school();
        let mut rows: Vec<ResponseRow> = Vec::new();
        for check in checks {
            self.about("check", check.uuid());
            let more: Vec<ResponseRow> = db!(self.conn, c => response::table
                .inner_join(round_check::table.on(round_check::school_id.eq(response::school_id)
                    .and(round_check::round_id.eq(response::round_id))
                    .and(round_check::check_id.eq(response::check_id))))
                .filter(round_check::school_id.eq(school))
                .filter(round_check::check_id.eq(check))
                .order((response::v, response::id))
                .select(ResponseRow::as_select())
                .load(c))?;
            rows.extend(more);
        }
        Ok(in_force(rows.into_iter().map(response_of).collect()))
    }
}
