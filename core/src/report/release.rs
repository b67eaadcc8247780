//! A release: tables of a cohort for readers who may not see single pupils.

use serde::{Deserialize, Serialize};

use super::{
    cohort::{Basis, Cohort},
    figures::Figures,
    groups::{Group, Groups},
    judged::{Together, together},
    ledger::PastTable,
    national::Published,
    whom::{CheckTold, Whom},
};
use crate::{
    disclosure::{Audience, Cell, Fate, Percent, Released, Unreleased, percent, pupils_told, told, wilson},
    rules::{MeasureRule, ReleaseRule, RulePack, SymbolLabel},
    time::Date,
};

/// By what pupils are told apart: one thing at a time. As text its word, or the code of the field.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum By {
    /// The year group.
    YearGroup,
    /// The class. Not for everybody.
    Class,
    /// The term of birth.
    TermOfBirth,
    /// An optional field, by its code.
    Field(String),
}

impl From<String> for By {
    fn from(word: String) -> Self {
        match word.as_str() {
            "year_group" => Self::YearGroup,
            "class" => Self::Class,
            "term_of_birth" => Self::TermOfBirth,
            _ => Self::Field(word),
        }
    }
}

impl By {
    /// Within a sentence.
    fn within(&self, rules: &RulePack) -> String {
        let field = |code: &str| {
            let known = rules.optional_fields.fields.iter().find(|field| field.field == code);
            known.map(|field| field.name.clone())
        };
        let heading = self.heading(field);
        format!("by {}", if matches!(self, Self::Field(_)) { heading } else { heading.to_lowercase() })
    }
}

impl From<By> for String {
    fn from(by: By) -> Self {
        match by {
            By::YearGroup => "year_group".to_owned(),
            By::Class => "class".to_owned(),
            By::TermOfBirth => "term_of_birth".to_owned(),
            By::Field(code) => code,
        }
    }
}

/// What is asked of a release.
#[derive(Clone, Debug)]
pub struct Choice<'a> {
    /// The measures, in the order asked.
    pub measures: Vec<&'a MeasureRule>,
    /// The breakdowns, in the order asked.
    pub by: Vec<By>,
    /// To everybody, or to a closed circle.
    pub published: bool,
    /// Whether the smaller of the rule's two smallest groups was chosen.
    pub smaller_groups: bool,
    /// How many years' statutory checks are taken together; one unless told.
    pub pooled_years: Option<usize>,
}

impl Choice<'_> {
    pub(super) fn rule<'r>(&self, rules: &'r RulePack) -> &'r ReleaseRule {
        if self.published { &rules.disclosure.published } else { &rules.disclosure.closed }
    }
}

/// A release, as its readers get it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(example = json!({
        "audience": "closed", "as_of": "2026-12-18", "school": "Farholt Infant School", "half_term": "Autumn 2",
        "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
        "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Our sequence", "number": 1}],
        "cautions": [],
        "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.",
            "check": null, "notes": [], "published": null, "rows": [
            {"by": null, "name": null, "symbol": null, "pupils": 50, "not_known": null, "met": 35,
             "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]},
            {"by": "class", "name": "Elm", "symbol": "c", "pupils": null, "not_known": null, "met": null,
             "percent": null, "interval": null}]}],
        "symbols": [{"code": "c", "label": "left out: it would say too much about too few pupils"}]
    })))]
pub struct Release {
    /// Whom it is for.
    pub audience: Audience,
    /// As of which day.
    pub as_of: Date,
    /// What the figures rest on.
    #[serde(flatten)]
    pub basis: Basis,
    /// One for each measure.
    pub tables: Vec<Table>,
    /// What stands in the place of figures here, in words.
    pub symbols: Vec<SymbolLabel>,
}

/// What is told of one measure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseTable))]
pub struct Table {
    /// Its code.
    pub measure: String,
    /// As told.
    pub name: String,
    /// What it means.
    pub means: String,
    /// Of which statutory check it is; none of all other measures.
    #[serde(default)]
    pub check: Option<CheckTold>,
    /// Whether the check was of other children than those who are in its year group on the release's day.
    #[serde(default)]
    pub others_now: bool,
    /// What else is to be said of it.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Published figures to look at beside it.
    #[serde(default)]
    pub published: Option<Published>,
    /// All pupils it tells of first, then each breakdown.
    pub rows: Vec<Row>,
}

/// A group of pupils.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseRow))]
pub struct Row {
    /// By what they are told apart; none for all pupils the table tells of.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, example = "year_group"))]
    pub by: Option<By>,
    /// The year group, class, term or value; none for the whole school, and for pupils without one. Of all pupils of a
    /// statutory check, which check it was.
    pub name: Option<String>,
    /// What is told of them.
    #[serde(flatten)]
    pub figure: Figure,
}

/// What is told of a group: a figure, or a symbol in its place and then no number at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReleaseFigure))]
pub struct Figure {
    /// In the place of a figure.
    pub symbol: Option<Symbol>,
    /// Pupils the measure says something of; rounded for everybody.
    pub pupils: Option<u32>,
    /// Pupils of the group it says nothing of: not checked, or not enough. Only for those who answer for them.
    pub not_known: Option<u32>,
    /// Of those it says something of, how many meet it. Not for everybody.
    pub met: Option<u32>,
    /// The part who meet it.
    pub percent: Option<Percent>,
    /// The 95 % interval, in tenths of a per cent. Not for everybody.
    pub interval: Option<(u16, u16)>,
}

crate::vocabulary! {
    /// What stands in the place of a figure.
    pub enum Symbol as "FigureSymbol" {
        /// It would say too much of too few.
        Confidential = "c",
        /// There are pupils whom it is about, and nothing is known of them.
        NotAvailable = "x",
        /// There are no pupils whom it is about: none at all, or none who were due for the check.
        NotApplicable = "z",
    }
}

/// A release and what the ledger keeps of it.
#[derive(Debug)]
pub struct Made {
    /// For its readers.
    pub release: Released<Release>,
    /// For the ledger.
    pub ledger: Vec<PastTable>,
}

/// The same tables for those who answer for the pupils: every figure there is, however small.
#[must_use]
pub fn exact(cohort: &Cohort, choice: &Choice<'_>, rules: &RulePack) -> Unreleased<Release> {
    let table = |measure: &&MeasureRule| {
        let whom = Whom::of(cohort, measure, 1);
        let groups = Groups::of(cohort, &whom, true);
        let mut figures = Figures::default();
        figures.add(&groups, &measure.code, &whom.years, 0);
        let row = |place: usize| {
            let (group, cell) = (&groups.groups[place], figures.cell(0, place));
            let not_known = group.pupils() - cell.pupils;
            let figure = figure(group, cell, Fate::Told, choice, &rules.disclosure.closed, 0);
            group.row(Figure { not_known: figure.pupils.map(|_| not_known), ..figure })
        };
        let rows = groups.rows(&choice.by).into_iter().map(row).collect();
        Table::of(measure, whom.check, rows, cohort, rules)
    };
    let tables = choice.measures.iter().map(table).collect();
    Unreleased::new(Release::of(cohort, Audience::Internal, tables, rules))
}

/// Makes a release. `past` is what is out already, to the same readers or to more.
#[must_use]
pub fn release(cohort: &Cohort, choice: &Choice<'_>, rules: &RulePack, past: &[PastTable]) -> Made {
    let rule = choice.rule(rules);
    let minimum = match rule.minimum_group_option {
        Some(smaller) if choice.smaller_groups => smaller,
        _ => rule.minimum_group,
    };
    let made = (together(cohort, &choice.measures).into_iter())
        .flat_map(|measures| Together { cohort, choice, rules, minimum, measures }.judge(past));
    let mut made: Vec<(Table, PastTable)> = made.collect();
    made.sort_by_key(|(table, _)| choice.measures.iter().position(|one| one.code == table.measure));
    let (tables, ledger) = made.into_iter().unzip();
    let audience = if choice.published { Audience::Published } else { Audience::Closed };
    Made { release: Released::new(Release::of(cohort, audience, tables, rules)), ledger }
}

impl Release {
    fn of(cohort: &Cohort, audience: Audience, tables: Vec<Table>, rules: &RulePack) -> Self {
        let rows = || tables.iter().flat_map(|table| &table.rows);
        let stands = |label: &&SymbolLabel| {
            rows().any(|row| row.figure.symbol.is_some_and(|symbol| symbol.as_str() == label.code))
        };
        let symbols = rules.disclosure.symbols.iter().filter(stands).cloned().collect();
        Self { audience, as_of: cohort.as_of, basis: cohort.basis.clone(), tables, symbols }
    }
}

pub(super) fn figure(
    group: &Group<'_>,
    cell: Cell,
    fate: Fate,
    choice: &Choice<'_>,
    rule: &ReleaseRule,
    minimum: usize,
) -> Figure {
    let instead = |symbol| Figure { symbol: Some(symbol), ..Figure::default() };
    match (group.lines.len(), cell.pupils, fate) {
        (0, ..) => instead(Symbol::NotApplicable),
        // Of very few pupils, that nothing is known of them says something of each.
        (pupils, 0, _) if pupils < minimum => instead(Symbol::Confidential),
        (_, 0, _) => instead(Symbol::NotAvailable),
        (_, _, Fate::LeftOut(_)) => instead(Symbol::Confidential),
        (_, pupils, Fate::Told) => Figure {
            symbol: None,
            pupils: Some(pupils_told(pupils, rule)),
            not_known: None,
            met: (!choice.published).then_some(cell.met),
            percent: percent(cell.met, pupils).map(|part| told(part, rule)),
            interval: if choice.published { None } else { wilson(cell.met, pupils) },
        },
    }
}

impl Table {
    pub(super) fn of(
        measure: &MeasureRule,
        check: Option<CheckTold>,
        rows: Vec<Row>,
        cohort: &Cohort,
        rules: &RulePack,
    ) -> Self {
        let MeasureRule { code, name, means, .. } = measure.clone();
        let mut table = Self {
            measure: code,
            name,
            means,
            check: None,
            others_now: false,
            notes: Vec::new(),
            published: None,
            rows,
        };
        if let Some(check) = check {
            let is_told = table.rows.first().is_some_and(|row| row.figure.percent.is_some());
            let until = check.years.last().copied().filter(|_| is_told);
            table.published = until.and_then(|year| Published::of(measure, year, rules));
            table.notes = table.of_checks(check.years.len(), cohort.checks_of(&measure.code).count(), rules);
            table.others_now = cohort.has_others_now(measure, &check.year_group);
            table.check = Some(check);
        }
        table
    }

    /// What is to be said of figures of the checks of so many years, of so many there are: from what is told alone.
    fn of_checks(&self, years: usize, there_are: usize, rules: &RulePack) -> Vec<String> {
        let (reports, pooling) = (&rules.reports, &rules.reports.pooling);
        let mut notes = vec![reports.as_at_check.clone()];
        if years > 1 {
            notes.push(pooling.means.clone());
        }
        let mut is_withheld = false;
        for rows in self.rows.chunk_by(|a, b| a.by == b.by) {
            let mut due =
                rows.iter().filter(|row| row.figure.symbol != Some(Symbol::NotApplicable)).peekable();
            if due.peek().is_some() && due.all(|row| row.figure.symbol == Some(Symbol::Confidential)) {
                let of = rows[0].by.as_ref().map_or("of all of them".to_owned(), |by| by.within(rules));
                notes.push(pooling.nothing_told.replace("{of}", &of));
                is_withheld = true;
            }
        }
        let offered = pooling.offered.min(there_are);
        if is_withheld && years == 1 && offered >= pooling.least {
            notes.push(pooling.offer.replace("{years}", &offered.to_string()));
        }
        notes.extend(rules.statutory_check.no_national.clone());
        notes
    }
}
