//! What pupil files say of optional fields: written down, and taken out of files that are kept.

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{PupilId, RosterImportId},
    roster::{
        Plan,
        file::{Answers, Sheet, headings, withhold},
    },
    time::Date,
};
use serde_json::Value;

use super::{Error, ImportRow, Permit, Tx, conn::db, pupil_field::Word, schema::roster_import};

impl<'tx> Tx<'tx> {
    /// Keeps a file without what was taken out of it since it was sent.
    ///
    /// # Errors
    /// If the store fails.
    pub fn keep_sheet(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        import: &ImportRow,
    ) -> Result<(), Error> {
        let (school, sheet) = (self.school(), serde_json::to_value(&import.sheet)?);
        db!(self.conn, c => diesel::update(roster_import::table.find((school, import.id)))
            .set(roster_import::readings.eq(&sheet))
            .execute(c))?;
        Ok(())
    }

    /// Says of pupils what a plan does, from a day on; those it created in its order.
    pub(super) fn say_of_plan(&mut self, plan: &Plan, created: &[PupilId], from: Date) -> Result<(), Error> {
        let mut words: Vec<Word<'_>> = Vec::new();
        for (row, pupil) in plan.created.iter().zip(created) {
            let said = row.optional.iter();
            words.extend(said.map(|(field, value)| (*pupil, field.as_str(), from, Some(value.as_str()))));
        }
        for change in plan.updated.iter().chain(&plan.completed) {
            let said = change.optional.iter().map(|field| (field, change.row.optional.get(field)));
            words.extend(
                said.map(|(field, value)| (change.pupil, field.as_str(), from, value.map(String::as_str))),
            );
        }
        self.say(&words)
    }

    /// Takes what is said of a field that is off by now out of every file that is still kept. Answers
    /// remembered for a repeat tell only where an import stands.
    pub(super) fn remove_said_of_files(&mut self, field: &str) -> Result<(), Error> {
        let (school, rules, on) = (self.school(), self.rules()?, self.keys_on()?);
        let headings = headings(rules, &self.chosen_headings()?);
        let files: Vec<(RosterImportId, Value, Value, Value)> = db!(self.conn, c => roster_import::table
            .filter(roster_import::school_id.eq(school))
            .filter(roster_import::kept_until.is_not_null())
            .select((roster_import::id, roster_import::readings, roster_import::answers, roster_import::plan))
            .load(c))?;
        for (id, sheet, answers, plan) in files {
            let (mut sheet, answers): (Sheet, Answers) =
                (serde_json::from_value(sheet)?, serde_json::from_value(answers)?);
            let mut plan: Plan = serde_json::from_value(plan)?;
            plan.without_field(field);
            let plan = serde_json::to_value(&plan)?;
            db!(self.conn, c => diesel::update(roster_import::table.find((school, id)))
                .set(roster_import::plan.eq(&plan))
                .execute(c))?;
            if withhold(&mut sheet, &answers, &headings, rules, &on) {
                let sheet = serde_json::to_value(&sheet)?;
                db!(self.conn, c => diesel::update(roster_import::table.find((school, id)))
                    .set(roster_import::readings.eq(&sheet))
                    .execute(c))?;
            }
        }
        Ok(())
    }
}
