//! How pupils moved between two snapshots. For those who answer for them alone: nothing here was decided by disclosure
//! control, which judges figures of who meets a measure, and not of who came to.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{
    cohort::{Cohort, Line},
    compare::{Differs, rounded},
    groups::{Group, Groups},
    release::By,
    whom::Whom,
};
use crate::{
    disclosure::Unreleased,
    rules::{MeasureOf, MeasureRule},
    time::Date,
};

/// How the pupils who are in both of two snapshots moved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SnapshotProgress))]
pub struct Progress {
    /// Pupils in both. Who came or left in between is in no figure here.
    pub pupils: u32,
    /// GPCs secure, all of these pupils first, then by everything the school records, as of the later snapshot.
    pub secure: Vec<SecureChange>,
    /// One for each measure of the later snapshot but the statutory check, which is of other pupils.
    pub tables: Vec<ProgressTable>,
}

/// How many more GPCs are secure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SecureChange {
    /// By what pupils are told apart; none for all of them.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group, class, term or value.
    pub name: Option<String>,
    /// Pupils of whom both snapshots have counted them.
    pub pupils: u32,
    /// By how many GPCs more are secure in the later one, on the average of these pupils, in tenths, half away from zero;
    /// none of nobody.
    pub mean_tenths: Option<i32>,
}

/// One measure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ProgressTable {
    /// Its code.
    pub measure: String,
    /// As told in the later one.
    pub name: String,
    /// What it means in the later one.
    pub means: String,
    /// Why nothing is counted, where nothing is.
    pub differs: Option<Differs>,
    /// All of these pupils first, then by everything the school records, as of the later snapshot.
    pub rows: Vec<ProgressRow>,
}

/// A group of pupils.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ProgressRow {
    /// By what pupils are told apart; none for all of them.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group, class, term or value.
    pub name: Option<String>,
    /// How they moved.
    #[serde(flatten)]
    pub moved: Moved,
}

/// How pupils moved by one measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PupilsMoved))]
pub struct Moved {
    /// Met in both.
    pub met_in_both: u32,
    /// Not met in the earlier one, and met in the later one.
    pub met_since: u32,
    /// Met in the earlier one, and not in the later one.
    pub met_no_more: u32,
    /// Met in neither.
    pub met_in_neither: u32,
    /// Pupils of whom one of the two tells nothing: in none of the others.
    pub not_known: u32,
}

/// Why two snapshots say nothing of progress.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ProgressError {
    /// It is not the earlier one.
    #[error("is of {0}: the snapshot in the address has to be of a later day")]
    Order(Date),
}

/// Counts how pupils moved from one snapshot to a later one.
///
/// # Errors
/// If they are not in order of their days.
pub fn progress(earlier: &Cohort, later: &Cohort) -> Result<Unreleased<Progress>, ProgressError> {
    if earlier.as_of >= later.as_of {
        return Err(ProgressError::Order(earlier.as_of));
    }
    let before: BTreeMap<u64, &Line> = earlier.lines.iter().map(|line| (line.pupil, line)).collect();
    let is_in_both = |line: &&Line| before.contains_key(&line.pupil);
    let both = Cohort { lines: later.lines.iter().filter(is_in_both).cloned().collect(), ..later.clone() };
    let whom = Whom { lines: both.lines.iter().collect(), check: None, years: BTreeMap::new() };
    let groups = Groups::of(&both, &whom, true);
    let by = [By::YearGroup, By::Class, By::TermOfBirth].into_iter().chain(both.fields().map(By::Field));
    let places = groups.rows(&by.collect::<Vec<_>>());
    let rows = || places.iter().map(|place| &groups.groups[*place]);
    let secure = rows().map(|group| secure_change(group, &before)).collect();
    let measures = later.definitions.measures.iter().filter(|one| one.of != MeasureOf::Statutory);
    let tables = measures.map(|measure| {
        let differs = differs(earlier, later, measure);
        let row = |group: &Group<'_>| ProgressRow {
            by: group.by.clone(),
            name: group.name.clone(),
            moved: moved(group, &before, &measure.code),
        };
        let MeasureRule { code, name, means, .. } = measure.clone();
        let rows = if differs.is_none() { rows().map(row).collect() } else { Vec::new() };
        ProgressTable { measure: code, name, means, differs, rows }
    });
    let tables = tables.collect();
    let pupils = u32::try_from(both.lines.len()).unwrap_or(u32::MAX);
    Ok(Unreleased::new(Progress { pupils, secure, tables }))
}

fn differs(earlier: &Cohort, later: &Cohort, measure: &MeasureRule) -> Option<Differs> {
    match earlier.definitions.measure(&measure.code) {
        None => Some(Differs::Missing),
        Some(old) if old != measure => Some(Differs::Meaning),
        Some(_) => {
            let same = earlier.basis.secure_means == later.basis.secure_means;
            (!same && measure.of.is_of_secure()).then_some(Differs::Secure)
        }
    }
}

fn moved(group: &Group<'_>, before: &BTreeMap<u64, &Line>, measure: &str) -> Moved {
    let mut moved = Moved::default();
    for line in &group.lines {
        let old = before.get(&line.pupil).and_then(|old| old.met.get(measure));
        let count = match (old, line.met.get(measure)) {
            (Some(true), Some(true)) => &mut moved.met_in_both,
            (Some(false), Some(true)) => &mut moved.met_since,
            (Some(true), Some(false)) => &mut moved.met_no_more,
            (Some(false), Some(false)) => &mut moved.met_in_neither,
            _ => &mut moved.not_known,
        };
        *count += 1;
    }
    moved
}

fn secure_change(group: &Group<'_>, before: &BTreeMap<u64, &Line>) -> SecureChange {
    let change = |line: &&Line| {
        let old = before.get(&line.pupil)?.secure?;
        Some(i64::from(line.secure?) - i64::from(old))
    };
    let changes: Vec<i64> = group.lines.iter().filter_map(change).collect();
    let sum: i64 = changes.iter().sum();
    let count = i64::try_from(changes.len()).unwrap_or(i64::MAX);
    SecureChange {
        by: group.by.clone(),
        name: group.name.clone(),
        pupils: u32::try_from(changes.len()).unwrap_or(u32::MAX),
        mean_tenths: (count > 0).then(|| i32::try_from(rounded(10 * sum, count)).unwrap_or(i32::MAX)),
    }
}
