//! What a report is frozen with beside those on roll: the pupils of statutory checks, and what the sequence expects.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    id::{GroupId, ItemId, PupilId},
    report::{Line, OfCheck},
    statutory,
    time::Date,
};

use super::{
    Error, StatutoryWindowRow, Tx,
    conn::{db, held_on},
    lesson::SavedRecord,
    report_snapshot::pseudonym,
    schema::group_member,
};

impl Tx<'_> {
    /// The statutory checks held by a day: of each year group of the rule pack's measures the latest of each calendar year, as
    /// many years as may be taken together. `born` are terms of birth.
    pub(super) fn checks_held(
        &mut self,
        as_of: Date,
        born: &BTreeMap<PupilId, String>,
    ) -> Result<Vec<OfCheck>, Error> {
        let reports = &self.rules()?.reports;
        let mut windows = self.windows_of_school()?;
        windows.retain(|window| window.days().last() <= as_of);
        let mut checks = Vec::new();
        for measure in &reports.measures {
            let Some(year_group) = &measure.year_group else { continue };
            let mut of_it: Vec<&StatutoryWindowRow> = Vec::new();
            for window in &windows {
                let is_new = of_it.iter().all(|one| one.year != window.year);
                if is_new && window.checked()?.contains(year_group) {
                    of_it.push(window);
                }
            }
            for window in of_it.into_iter().take(reports.pooling.most) {
                checks.push(self.check_held(window, (&measure.code, year_group), born)?);
            }
        }
        Ok(checks)
    }

    /// Who was due for one of them and counts, as they were on its last day.
    fn check_held(
        &mut self,
        window: &StatutoryWindowRow,
        (measure, year_group): (&str, &str),
        born: &BTreeMap<PupilId, String>,
    ) -> Result<OfCheck, Error> {
        let (rules, school) = (self.rules()?, self.school());
        let said = self.fields_told(window.days().last())?;
        // What is not submitted may still be changed by any adult who enters results.
        let threshold = self.thresholds()?.of(window.year).filter(|_| window.submitted_at.is_some());
        let name = rules.year_group(year_group).map_or(year_group, |year| &year.name).to_owned();
        let mut lines = Vec::new();
        for pupil in self.pupils_of_window(window)? {
            let result = pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten();
            let counts = |one| statutory::is_in_denominator(&rules.statutory_check, one);
            let is_of_it =
                pupil.year_group.as_deref() == Some(year_group) && result.as_ref().is_none_or(counts);
            let Some(counted) = pupil.counted(result.as_ref()).filter(|_| is_of_it) else { continue };
            let met = statutory::met(&rules.statutory_check, threshold, counted);
            lines.push(Line {
                pupil: pseudonym(school, pupil.row.id),
                year_group: Some(name.clone()),
                class: pupil.class.clone(),
                term_of_birth: born.get(&pupil.row.id).cloned(),
                fields: said.get(&pupil.row.id).cloned().unwrap_or_default(),
                met: met.map(|met| (measure.to_owned(), met)).into_iter().collect(),
                secure: None,
            });
        }
        lines.sort_by_key(|line| line.pupil);
        Ok(OfCheck { measure: measure.to_owned(), year_group: name, year: window.year, lines })
    }

    /// By pupil who is in a group on a day, the GPCs that the sequence of any of these groups expects to be taught by then.
    pub(super) fn gpcs_expected(
        &mut self,
        on: Date,
        records: Vec<SavedRecord>,
    ) -> Result<BTreeMap<PupilId, BTreeSet<ItemId>>, Error> {
        let (school, rule) = (self.school(), &self.rules()?.pace);
        let groups: Vec<GroupId> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .select(group_member::group_id)
            .distinct()
            .load(c))?;
        let mut expects: BTreeMap<PupilId, BTreeSet<ItemId>> = BTreeMap::new();
        for facts in self.all_pace_facts(on, &groups.into_iter().collect(), records)? {
            let Some(gpcs) = facts.gpcs_expected(rule) else { continue };
            for pupil in facts.members() {
                expects.entry(pupil).or_default().extend(&gpcs);
            }
        }
        Ok(expects)
    }
}
