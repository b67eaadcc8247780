//! Two releases side by side. Nothing is told but what the two say.

use std::collections::BTreeMap;

use serde::Serialize;

use super::release::{By, Figure, Release, Row, Table};
use crate::{disclosure::PercentIs, time::Date};

/// One measure in both.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComparedTable {
    /// Its code.
    pub measure: String,
    /// As told in the later one.
    pub name: String,
    /// What it means in the later one.
    pub means: String,
    /// Why no differences are told, where none are.
    pub differs: Option<Differs>,
    /// The later one's rows, then those the earlier one alone has.
    pub rows: Vec<ComparedRow>,
}

crate::vocabulary! {
    /// Why figures of two releases are not compared.
    pub enum Differs {
        /// One of the two does not have the measure.
        Missing = "missing",
        /// It means another thing.
        Meaning = "meaning",
        /// What counts as secure is another rule.
        Secure = "secure",
    }
}

/// A group of pupils in both.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComparedRow {
    /// By what they are told apart; none for the whole school.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group, class, term or value; of all pupils of a statutory check, which check the later one is of.
    pub name: Option<String>,
    /// What the earlier one says; none where it does not have the group.
    pub earlier: Option<Figure>,
    /// What the later one says.
    pub later: Option<Figure>,
    /// By how much the part who meet it is larger in the later one.
    pub difference: Option<Points>,
}

/// A difference of two parts, in percentage points.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PercentagePoints))]
pub struct Points {
    /// Tenths of a percentage point, half away from zero; of whole per cent where no counts are told.
    pub tenths: i32,
    /// Whether it is of the counts, and not of percentages that were rounded: then it may be out by up to one point.
    pub of_counts: bool,
}

/// Why two releases cannot stand side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CompareError {
    /// They are for different readers, who may not all see both.
    #[error("is for other readers")]
    Audience,
    /// It is not the earlier one.
    #[error("is of {0}: the release in the address has to be of a later day")]
    Order(Date),
}

/// Puts two releases side by side, by the code of each measure and the name of each group. A group that has another
/// name by now is another group here. `of_secure` says of which measures, by their codes, "secure" is a part.
///
/// # Errors
/// If they are for different readers or not in order of their days.
pub fn compare(
    earlier: &Release,
    later: &Release,
    of_secure: impl Fn(&str) -> bool,
) -> Result<Vec<ComparedTable>, CompareError> {
    if earlier.audience != later.audience {
        return Err(CompareError::Audience);
    }
    if earlier.as_of >= later.as_of {
        return Err(CompareError::Order(earlier.as_of));
    }
    let secure = earlier.basis.secure_means == later.basis.secure_means;
    let before: BTreeMap<&str, &Table> =
        earlier.tables.iter().map(|table| (table.measure.as_str(), table)).collect();
    let shared = later.tables.iter().map(|table| (table, before.get(table.measure.as_str()).copied()));
    let mut out: Vec<ComparedTable> = shared
        .map(|(table, old)| {
            let differs = match old {
                None => Some(Differs::Missing),
                Some(old) if old.means != table.means || kind(old) != kind(table) => Some(Differs::Meaning),
                Some(_) => (!secure && of_secure(&table.measure)).then_some(Differs::Secure),
            };
            compared(old, Some(table), table, differs)
        })
        .collect();
    let gone = earlier.tables.iter().filter(|old| !later.tables.iter().any(|one| one.measure == old.measure));
    out.extend(gone.map(|old| compared(Some(old), None, old, Some(Differs::Missing))));
    Ok(out)
}

/// Of checks, of which year group they are and how many years' are taken together.
fn kind(table: &Table) -> Option<(&str, usize)> {
    table.check.as_ref().map(|check| (check.year_group.as_str(), check.years.len()))
}

fn compared(
    earlier: Option<&Table>,
    later: Option<&Table>,
    named: &Table,
    differs: Option<Differs>,
) -> ComparedTable {
    let rows = |table: Option<&Table>| table.map(|table| table.rows.clone()).unwrap_or_default();
    let mut before: Vec<_> = rows(earlier);
    let mut out = Vec::new();
    for row in rows(later) {
        let is_it = |old: &Row| old.by == row.by && (row.by.is_none() || old.name == row.name);
        let same = before.iter().position(is_it);
        let old = same.map(|at| before.remove(at).figure);
        let difference = old.filter(|_| differs.is_none()).and_then(|old| difference(old, row.figure));
        out.push(ComparedRow {
            by: row.by,
            name: row.name,
            earlier: old,
            later: Some(row.figure),
            difference,
        });
    }
    out.extend(before.into_iter().map(|old| ComparedRow {
        by: old.by,
        name: old.name,
        earlier: Some(old.figure),
        later: None,
        difference: None,
    }));
    let Table { measure, name, means, .. } = named.clone();
    ComparedTable { measure, name, means, differs, rows: out }
}

/// From the counts where both are told: those who are told them are told how many pupils there are, unrounded.
fn difference(earlier: Figure, later: Figure) -> Option<Points> {
    let counts =
        |figure: Figure| Some((i64::from(figure.met?), i64::from(figure.pupils.filter(|n| *n > 0)?)));
    if let Some(((m0, n0), (m1, n1))) = counts(earlier).zip(counts(later)) {
        let tenths = rounded(1000 * (m1 * n0 - m0 * n1), n0 * n1);
        return Some(Points { tenths: i32::try_from(tenths).ok()?, of_counts: true });
    }
    let about = |figure: Figure| figure.percent.filter(|part| part.is == PercentIs::About);
    let (before, after) = about(earlier).zip(about(later))?;
    Some(Points { tenths: 10 * (i32::from(after.percent) - i32::from(before.percent)), of_counts: false })
}

/// A quotient as a whole number, half away from zero; `under` is above 0.
pub(super) const fn rounded(over: i64, under: i64) -> i64 {
    (2 * over.abs() + under) / (2 * under) * over.signum()
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn figure(met: Option<u32>, pupils: u32, percent: u8, is: &str) -> Value {
        json!({"symbol": null, "pupils": pupils, "not_known": null, "met": met,
               "percent": {"percent": percent, "is": is}, "interval": null})
    }

    fn row(name: Option<&str>, figure: &Value) -> Value {
        let mut row = figure.clone();
        row["by"] = json!(name.map(|_| "year_group"));
        row["name"] = json!(name);
        row
    }

    /// A release of one measure.
    fn release(as_of: &str, audience: &str, means: &str, rows: &[Value]) -> Release {
        let table = json!({"measure": "words", "name": "Words are read", "means": means, "rows": rows});
        serde_json::from_value(json!({
            "audience": audience, "as_of": as_of, "school": "Farholt Infant School", "half_term": "Autumn 1",
            "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
            "versions": [], "cautions": [], "tables": [table], "symbols": []
        }))
        .unwrap()
    }

    fn hidden() -> Value {
        json!({"symbol": "c", "pupils": null, "not_known": null, "met": null, "percent": null, "interval": null})
    }

    fn compare(earlier: &Release, later: &Release) -> Result<Vec<ComparedTable>, CompareError> {
        super::compare(earlier, later, |code| code == "gpcs")
    }

    fn differences(earlier: &Release, later: &Release) -> Vec<Option<(i32, bool)>> {
        let tables = compare(earlier, later).unwrap();
        tables[0].rows.iter().map(|row| row.difference.map(|one| (one.tenths, one.of_counts))).collect()
    }

    #[test]
    fn differences_are_of_counts_where_they_are_told() {
        // 30 of 48 is 62.5 %, 35 of 50 is 70 %: 7.5 points, where the percentages told say 63 and 70.
        let earlier = [
            row(None, &figure(Some(30), 48, 63, "about")),
            row(Some("Reception"), &figure(Some(20), 30, 67, "about")),
            row(Some("Year 1"), &hidden()),
            row(Some("Nursery"), &figure(Some(6), 12, 50, "about")),
        ];
        let later = [
            row(None, &figure(Some(35), 50, 70, "about")),
            row(Some("Reception"), &figure(Some(19), 30, 63, "about")),
            row(Some("Year 1"), &figure(Some(12), 20, 60, "about")),
            row(Some("Year 2"), &hidden()),
        ];
        let (earlier, later) =
            (release("2026-10-23", "closed", "M", &earlier), release("2026-12-18", "closed", "M", &later));
        // 19 of 30 is 3.33 points less than 20 of 30. What one of them left out has no difference.
        assert_eq!(differences(&earlier, &later), [Some((75, true)), Some((-33, true)), None, None, None]);
        let rows = compare(&earlier, &later).unwrap().remove(0).rows;
        assert_eq!((rows[3].earlier, rows[4].later), (None, None));
        assert_eq!(rows[4].name.as_deref(), Some("Nursery"));
    }

    #[test]
    fn without_counts_they_are_of_whole_per_cent_and_of_no_bound() {
        let earlier = [
            row(None, &figure(None, 50, 63, "about")),
            row(Some("Reception"), &figure(None, 25, 95, "above")),
        ];
        let later = [
            row(None, &figure(None, 50, 60, "about")),
            row(Some("Reception"), &figure(None, 25, 90, "about")),
        ];
        let of = |rows: &[Value], on| release(on, "published", "M", rows);
        let (earlier, later) = (of(&earlier, "2026-10-23"), of(&later, "2026-12-18"));
        assert_eq!(differences(&earlier, &later), [Some((-30, false)), None]);
        assert_eq!(compare(&later, &earlier), Err(CompareError::Order(later.as_of)));
        let closed = Release { audience: crate::disclosure::Audience::Closed, ..earlier };
        assert_eq!(compare(&closed, &later), Err(CompareError::Audience));
    }

    #[test]
    fn what_means_another_thing_has_no_difference() {
        let rows = [row(None, &figure(Some(30), 48, 63, "about"))];
        let earlier = release("2026-10-23", "closed", "80 in 100", &rows);
        let later = release("2026-12-18", "closed", "90 in 100", &rows);
        let table = compare(&earlier, &later).unwrap().remove(0);
        assert_eq!((table.differs, table.rows[0].difference), (Some(Differs::Meaning), None));
        assert_eq!(table.means, "90 in 100");
        let mut other = release("2026-12-18", "closed", "80 in 100", &rows);
        other.basis.secure_means.right_on_days = 2;
        assert_eq!(compare(&earlier, &other).unwrap()[0].differs, None, "words rest on no such rule");
        let of_gpcs = |release: &Release| {
            let mut release = release.clone();
            release.tables[0].measure = "gpcs".to_owned();
            release
        };
        let table = compare(&of_gpcs(&earlier), &of_gpcs(&other)).unwrap().remove(0);
        assert_eq!((table.differs, table.rows[0].difference), (Some(Differs::Secure), None));
        let same = compare(&earlier, &release("2026-12-18", "closed", "80 in 100", &rows)).unwrap();
        assert_eq!(same[0].rows[0].difference, Some(Points { tenths: 0, of_counts: true }));
        // A measure of one alone stands there without differences, the earlier one's last.
        let mut renamed = release("2026-12-18", "closed", "80 in 100", &rows);
        renamed.tables[0].measure = "gpcs".to_owned();
        let told: Vec<_> =
            compare(&earlier, &renamed).unwrap().into_iter().map(|one| (one.measure, one.differs)).collect();
        let missing = Some(Differs::Missing);
        assert_eq!(told, [("gpcs".to_owned(), missing), ("words".to_owned(), missing)]);
    }

    /// Of Year 1, so many years' checks until one.
    fn of_checks(release: &Release, years: &[i32]) -> Release {
        let mut release = release.clone();
        let check = crate::report::CheckTold { year_group: "Year 1".into(), years: years.to_vec() };
        release.tables[0].rows[0].name = Some(check.called());
        release.tables[0].check = Some(check);
        release
    }

    #[test]
    fn checks_of_two_years_are_compared_and_one_is_not_with_several() {
        let rows = |met, percent| [row(None, &figure(Some(met), 50, percent, "about"))];
        let earlier = release("2026-07-10", "closed", "M", &rows(30, 60));
        let later = release("2027-07-09", "closed", "M", &rows(35, 70));
        let compared = |before: &[i32], after: &[i32]| {
            let table = compare(&of_checks(&earlier, before), &of_checks(&later, after)).unwrap().remove(0);
            (table.differs, table.rows[0].difference.map(|one| one.tenths), table.rows.len())
        };
        assert_eq!(compared(&[2026], &[2027]), (None, Some(100), 1));
        assert_eq!(compared(&[2024, 2025, 2026], &[2025, 2026, 2027]), (None, Some(100), 1));
        assert_eq!(compared(&[2026], &[2025, 2026, 2027]), (Some(Differs::Meaning), None, 1));
    }
}
