//! Schools of a trust side by side.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::{
    fingerprint::Fingerprint,
    shared::{MapsOn, Shared},
};
use crate::{
    attainment::SecureBasis,
    disclosure::Audience,
    id::SchoolId,
    report::{By, CheckTold, Figure, Row, Table},
    rules::{RulePack, SymbolLabel},
    text::{one_name, search_key},
    time::Date,
};

/// A school as the trust lists it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its id.
    pub school_id: SchoolId,
    /// Its name.
    pub name: String,
}

/// One half term of a trust.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = TrustComparison))]
#[cfg_attr(feature = "schema", schema(example = json!({
        "school_year": 2026, "half_term": "Autumn 2", "cautions": ["This is no order of schools."],
        "sequences": [{
            "fingerprint": "0f6a1d1c4f2b8f0e9d3c5b7a6978695a4b3c2d1e0f1a2b3c4d5e6f708192a3b4", "names": ["Our sequence"],
            "schools": [
                {"school_id": "0199f2c4-0000-7000-8000-000000000001", "school": "Farholt Infant School", "as_of": "2026-12-18",
                 "audience": "closed", "maps_on": null},
                {"school_id": "0199f2c4-0000-7000-8000-000000000002", "school": "Millbrook School", "as_of": "2026-12-17",
                 "audience": "closed", "maps_on": null}],
            "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.",
                "secure_means": null, "not_compared": [], "rows": [{"by": null, "name": null, "lines": [
                    {"school_id": "0199f2c4-0000-7000-8000-000000000001", "school": "Farholt Infant School", "as_of": "2026-12-18",
                     "coverage": {"known": 50, "of_at_least": 54}, "symbol": null, "pupils": 50, "not_known": null, "met": 35,
                     "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]},
                    {"school_id": "0199f2c4-0000-7000-8000-000000000002", "school": "Millbrook School", "as_of": "2026-12-17",
                     "coverage": null, "symbol": "c", "pupils": null, "not_known": null, "met": null, "percent": null,
                     "interval": null}]}]}]}],
        "not_compared": [{"school_id": "0199f2c4-0000-7000-8000-000000000003", "school": "Hythe School", "why": "nothing_shared",
            "says": "The school has shared nothing of this half term."}],
        "symbols": [{"code": "c", "label": "confidential: it would say too much of too few"}]
    })))]
pub struct Comparison {
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The half term's name.
    pub half_term: String,
    /// To be shown with the figures.
    pub cautions: Vec<String>,
    /// Schools that can stand side by side, one list for each sequence.
    pub sequences: Vec<Alike>,
    /// Schools that stand beside none, by name.
    pub not_compared: Vec<NotCompared>,
    /// What stands in the place of figures, in words.
    pub symbols: Vec<SymbolLabel>,
}

/// Schools that share a sequence, or have mapped theirs on to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = TrustSequence))]
pub struct Alike {
    /// The sequence.
    pub fingerprint: Fingerprint,
    /// What the schools that share it call it.
    pub names: Vec<String>,
    /// The schools, by name.
    pub schools: Vec<TrustSchool>,
    /// One for each measure, and one more where some of the schools mean another thing by it.
    pub tables: Vec<TrustTable>,
}

/// A school in a comparison.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TrustSchool {
    /// Its id.
    pub school_id: SchoolId,
    /// Its name.
    pub school: String,
    /// As of which day its figures are.
    pub as_of: Date,
    /// For whom they were released.
    pub audience: Audience,
    /// What the school said of its sequence, where it is another.
    pub maps_on: Option<MapsOn>,
}

/// One measure at schools that mean the same by it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TrustTable {
    /// Its code.
    pub measure: String,
    /// As told.
    pub name: String,
    /// What it means.
    pub means: String,
    /// Of which statutory check; none of all other measures.
    pub check: Option<CheckTold>,
    /// What "secure" means in it, where that is a part of it.
    pub secure_means: Option<SecureBasis>,
    /// The whole schools first, then year groups, the youngest first.
    pub rows: Vec<TrustRow>,
    /// Schools of the list that it does not stand for, by name.
    pub not_compared: Vec<NotCompared>,
}

/// The same part of several schools.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TrustRow {
    /// By what it is a part; none for whole schools.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group; none for whole schools, and for pupils without one.
    pub name: Option<String>,
    /// One for each school, by its name.
    pub lines: Vec<TrustLine>,
}

/// A school's figure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TrustLine {
    /// The school's id.
    pub school_id: SchoolId,
    /// Its name.
    pub school: String,
    /// As of which day.
    pub as_of: Date,
    /// Of how many pupils the measure is known; none where the release does not tell.
    pub coverage: Option<Coverage>,
    /// What the release tells.
    #[serde(flatten)]
    pub figure: Figure,
}

/// How many of the pupils are known of, as far as the release tells: how many are unknown it never says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = TrustCoverage))]
pub struct Coverage {
    /// Pupils the measure says something of.
    pub known: u32,
    /// There are at least so many: of so many the release says something by one of its measures.
    pub of_at_least: u32,
}

/// A school that is not compared.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = TrustSchoolNotCompared))]
pub struct NotCompared {
    /// Its id.
    pub school_id: SchoolId,
    /// Its name.
    pub school: String,
    /// Why.
    pub why: Apart,
    /// The same in words.
    pub says: String,
}

crate::vocabulary! {
    /// Why a school is not compared.
    pub enum Apart as "WhyNotCompared" {
        /// It shows nothing of the half term.
        NothingShared = "nothing_shared",
        /// Its figures rest on no sequence.
        NoSequence = "no_sequence",
        /// Its groups were taught from several versions that differ, and it did not say what they map on to.
        SeveralSequences = "several_sequences",
        /// No other school shares its sequence or has mapped on to it.
        NoOther = "no_other",
        /// Its release does not have the measure.
        MeasureMissing = "measure_missing",
        /// It means another thing by the measure, or counts as secure by another rule.
        OtherMeaning = "other_meaning",
    }
}

/// A school that showed something.
#[derive(Clone, Copy)]
struct Shows<'a> {
    member: &'a Member,
    shared: &'a Shared,
}

impl<'a> Shows<'a> {
    fn table(&self, measure: &str) -> Option<&'a Table> {
        self.shared.figures.release.tables.iter().find(|table| table.measure == measure)
    }
}

/// Puts what the schools of a trust showed of a half term side by side. Of several of one school the last counts; what is
/// of no member is left out.
#[must_use]
pub fn compare(
    (school_year, half_term): (i32, &str),
    members: &[Member],
    shared: &[Shared],
    rules: &RulePack,
) -> Comparison {
    let of_then =
        |one: &&Shared| one.figures.school_year == school_year && one_name(one.half_term(), half_term);
    let shown: BTreeMap<SchoolId, &Shared> =
        shared.iter().filter(of_then).map(|one| (one.figures.school_id, one)).collect();
    let mut members: Vec<&Member> = members.iter().collect();
    members.sort_by_cached_key(|member| (search_key(&member.name), member.school_id));
    let mut apart = Vec::new();
    let mut lists: BTreeMap<&Fingerprint, Vec<Shows<'_>>> = BTreeMap::new();
    for member in &members {
        let reads = shown.get(&member.school_id).map(|shared| (shared, shared.reads_under()));
        match reads {
            None => apart.push((*member, Apart::NothingShared)),
            Some((shared, Some(under))) => lists.entry(under).or_default().push(Shows { member, shared }),
            Some((shared, None)) if shared.figures.sequences.is_empty() => {
                apart.push((*member, Apart::NoSequence));
            }
            Some(_) => apart.push((*member, Apart::SeveralSequences)),
        }
    }
    for list in lists.values().filter(|list| list.len() == 1) {
        apart.extend(list.iter().map(|one| (one.member, Apart::NoOther)));
    }
    apart.sort_by_cached_key(|(member, _)| (search_key(&member.name), member.school_id));
    lists.retain(|_, list| list.len() > 1);
    let compared = || lists.values().flatten().map(|one| &one.shared.figures.release);
    let mut cautions = vec![rules.trust.caution.clone()];
    for caution in compared().flat_map(|release| &release.basis.cautions) {
        if !cautions.contains(caution) {
            cautions.push(caution.clone());
        }
    }
    let symbols: BTreeMap<&str, &SymbolLabel> =
        compared().flat_map(|release| &release.symbols).map(|label| (label.code.as_str(), label)).collect();
    Comparison {
        school_year,
        half_term: half_term.to_owned(),
        cautions,
        symbols: symbols.into_values().cloned().collect(),
        not_compared: apart.into_iter().map(|(member, why)| not_compared(member, why, rules)).collect(),
        sequences: lists.into_iter().map(|(fingerprint, list)| alike(fingerprint, &list, rules)).collect(),
    }
}

fn not_compared(member: &Member, why: Apart, rules: &RulePack) -> NotCompared {
    let Member { school_id, name } = member.clone();
    NotCompared { school_id, school: name, why, says: rules.trust.says(why.as_str()) }
}

fn alike(fingerprint: &Fingerprint, list: &[Shows<'_>], rules: &RulePack) -> Alike {
    let own = list.iter().filter(|one| one.shared.figures.sequences.contains(fingerprint));
    let names: BTreeSet<String> = own
        .flat_map(|one| &one.shared.figures.release.basis.versions)
        .filter(|used| used.this_year)
        .map(|used| used.sequence.clone())
        .collect();
    let school = |one: &Shows<'_>| TrustSchool {
        school_id: one.member.school_id,
        school: one.member.name.clone(),
        as_of: one.shared.figures.release.as_of,
        audience: one.shared.figures.release.audience,
        maps_on: one.shared.maps_on.clone(),
    };
    let mut measures: Vec<&str> = Vec::new();
    for table in list.iter().flat_map(|one| &one.shared.figures.release.tables) {
        if !measures.contains(&table.measure.as_str()) {
            measures.push(&table.measure);
        }
    }
    Alike {
        fingerprint: fingerprint.clone(),
        names: names.into_iter().collect(),
        schools: list.iter().map(school).collect(),
        tables: measures.into_iter().flat_map(|measure| tables(measure, list, rules)).collect(),
    }
}

/// The tables of one measure: one for each meaning that two schools share, the first with the schools that stand in none.
fn tables(measure: &str, list: &[Shows<'_>], rules: &RulePack) -> Vec<TrustTable> {
    let of_secure = rules.reports.measure(measure).is_some_and(|one| one.of.is_of_secure());
    type Kind<'a> = (&'a Table, Option<SecureBasis>, Vec<(Shows<'a>, &'a Table)>);
    let (mut kinds, mut apart): (Vec<Kind<'_>>, Vec<(&Member, Apart)>) = (Vec::new(), Vec::new());
    for one in list {
        let Some(table) = one.table(measure) else {
            apart.push((one.member, Apart::MeasureMissing));
            continue;
        };
        let secure = of_secure.then_some(one.shared.figures.release.basis.secure_means);
        let same = |kind: &&mut Kind<'_>| {
            kind.0.means == table.means && kind.0.check == table.check && kind.1 == secure
        };
        match kinds.iter_mut().find(same) {
            Some(kind) => kind.2.push((*one, table)),
            None => kinds.push((table, secure, vec![(*one, table)])),
        }
    }
    let some = list.iter().filter(|one| one.table(measure).is_some()).count();
    let why = if some > 1 { Apart::OtherMeaning } else { Apart::NoOther };
    apart.extend(kinds.iter().filter(|kind| kind.2.len() == 1).map(|kind| (kind.2[0].0.member, why)));
    apart.sort_by_cached_key(|(member, _)| (search_key(&member.name), member.school_id));
    let mut made: Vec<TrustTable> = Vec::new();
    for (named, secure_means, shows) in &kinds {
        let rows = if shows.len() > 1 { rows(shows, rules) } else { Vec::new() };
        let Table { measure, name, means, check, .. } = (*named).clone();
        made.push(TrustTable {
            measure,
            name,
            means,
            check,
            secure_means: *secure_means,
            rows,
            not_compared: Vec::new(),
        });
    }
    // A meaning that one school has alone is no table, unless there is no other to say so in.
    let any = made.iter().any(|table| !table.rows.is_empty());
    let mut first = true;
    made.retain(|table| !table.rows.is_empty() || (!any && std::mem::take(&mut first)));
    if let Some(first) = made.first_mut() {
        first.not_compared =
            apart.into_iter().map(|(member, why)| not_compared(member, why, rules)).collect();
    }
    made
}

/// The rows that any of the schools has, year groups in the order of the rule pack.
fn rows(shows: &[(Shows<'_>, &Table)], rules: &RulePack) -> Vec<TrustRow> {
    type Key<'a> = (usize, Option<&'a str>);
    let key = |row: &'_ Row| -> usize {
        match (&row.by, row.name.as_deref()) {
            (None, _) => 0,
            (Some(_), Some(name)) => {
                let place = rules.year_groups.iter().position(|year| year.name == name);
                1 + place.unwrap_or(rules.year_groups.len())
            }
            (Some(_), None) => usize::MAX,
        }
    };
    let mut found: BTreeMap<Key<'_>, TrustRow> = BTreeMap::new();
    for (one, table) in shows {
        for row in &table.rows {
            let (by, name) = (row.by.clone(), row.name.clone());
            let known = found.entry((key(row), row.name.as_deref()));
            let known = known.or_insert_with(|| TrustRow { by, name, lines: Vec::new() });
            known.lines.push(TrustLine {
                school_id: one.member.school_id,
                school: one.member.name.clone(),
                as_of: one.shared.figures.release.as_of,
                coverage: coverage(one.shared, table, row, rules),
                figure: row.figure,
            });
        }
    }
    found.into_values().collect()
}

/// Of a release for everybody nothing, as its numbers of pupils are rounded, and of a statutory check nothing, as its pupils
/// are others; nor where it would tell that one or two are not known of.
fn coverage(shared: &Shared, table: &Table, row: &Row, rules: &RulePack) -> Option<Coverage> {
    let release = &shared.figures.release;
    let told = release.audience == Audience::Closed && table.check.is_none();
    let known = row.figure.pupils.filter(|_| told)?;
    let rows = release.tables.iter().filter(|table| table.check.is_none()).flat_map(|table| &table.rows);
    let same = rows.filter(|other| (&other.by, &other.name) == (&row.by, &row.name));
    let of_at_least = same.filter_map(|other| other.figure.pupils).max().unwrap_or(known);
    let unknown = of_at_least.saturating_sub(known);
    let safe = unknown == 0 || unknown >= rules.disclosure.closed.minimum_not_met;
    safe.then_some(Coverage { known, of_at_least })
}
