//! Published figures beside the school's own, to look at: no target and no rank.

use serde::{Deserialize, Serialize};

use crate::{
    rules::{MeasureRule, RulePack},
    statutory::NationalSeries,
};

/// Published figures of the same check, up to the latest year the school's figures are of. They stand only where the
/// school's figure of all its pupils does: beside one that is left out there is nothing to compare.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Published {
    /// As published.
    pub name: String,
    /// By year, the latest last.
    pub figures: Vec<PublishedFigure>,
    /// From which years on figures do not compare with earlier ones, and why.
    pub breaks: Vec<PublishedFrom>,
    /// Who published them.
    pub source: String,
    /// To be shown with them.
    pub caution: String,
}

/// A published figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PublishedFigure {
    /// The calendar year of the check.
    pub year: i32,
    /// Whole per cent.
    pub percent: u8,
}

/// That figures from a year on are counted in another way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PublishedFrom {
    /// The first year.
    pub year: i32,
    /// What is to be said.
    pub text: String,
}

impl Published {
    /// What the rule pack has for a measure, up to a year.
    pub(super) fn of(measure: &MeasureRule, until: i32, rules: &RulePack) -> Option<Self> {
        let series: &NationalSeries = rules.statutory_check.series(measure.year_group.as_deref()?)?;
        let points = series.points.iter().filter(|point| point.year <= until);
        let figures: Vec<PublishedFigure> =
            points.map(|point| PublishedFigure { year: point.year, percent: point.value }).collect();
        let breaks = series.method_breaks.iter().filter(|one| one.year <= until);
        let breaks = breaks.map(|one| PublishedFrom { year: one.year, text: one.text.clone() }).collect();
        (!figures.is_empty()).then(|| Self {
            name: series.name.clone(),
            figures,
            breaks,
            source: series.source.clone(),
            caution: rules.reports.national_caution.clone(),
        })
    }

    /// The latest.
    #[must_use]
    pub fn latest(&self) -> Option<PublishedFigure> {
        self.figures.last().copied()
    }

    /// As it is read.
    pub(super) fn in_words(&self) -> Vec<String> {
        let figures: Vec<String> =
            self.figures.iter().map(|one| format!("{} {}%", one.year, one.percent)).collect();
        let said = format!(
            "Published, \u{201c}{}\u{201d}: {}. Source: {}.",
            self.name,
            figures.join(", "),
            self.source
        );
        let breaks = self.breaks.iter().map(|one| one.text.clone());
        std::iter::once(said).chain(breaks).chain([self.caution.clone()]).collect()
    }
}
