//! GET /statutory-windows/{id}/summary

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{StatutoryFigures, StatutoryWindow},
    },
    id::StatutoryWindowId,
    rules::RulePack,
    statutory::{CheckResult, Counted, EligibleRule, Figures, NationalSeries, figures},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{NamedYear, StatutoryWindowBody};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{StatutoryPupil, StatutoryView},
};

/// A published percentage.
#[derive(Serialize, ToSchema)]
pub struct PublishedPoint {
    /// The year.
    pub year: i32,
    /// Per cent.
    pub value: u8,
}

/// That published figures from a year on do not compare with earlier ones.
#[derive(Serialize, ToSchema)]
pub struct PublishedBreak {
    /// The first year.
    pub year: i32,
    /// What is to be said.
    pub text: String,
}

/// Published figures to look at beside the school's.
#[derive(Serialize, ToSchema)]
pub struct PublishedSeries {
    /// As shown.
    pub name: String,
    /// The values up to the window's year, by year, in per cent.
    pub points: Vec<PublishedPoint>,
    /// Years without a check.
    pub no_check: Vec<i32>,
    /// Where figures do not compare with those before.
    pub method_breaks: Vec<PublishedBreak>,
}

impl PublishedSeries {
    fn new(series: &NationalSeries, year: i32) -> Self {
        let points = series.points.iter().filter(|point| point.year <= year);
        let breaks = series.method_breaks.iter().filter(|one| one.year <= year);
        Self {
            name: series.name.clone(),
            points: points.map(|point| PublishedPoint { year: point.year, value: point.value }).collect(),
            no_check: series.no_check.clone(),
            method_breaks: breaks
                .map(|one| PublishedBreak { year: one.year, text: one.text.clone() })
                .collect(),
        }
    }
}

/// Figures of one year group.
#[derive(Serialize, ToSchema)]
pub struct YearSummary {
    /// The year group.
    pub year_group: NamedYear,
    /// Of those to be checked in this window.
    pub in_window: Figures,
    /// Of the whole year group, where those who reached it before are not checked again: by the end of this year.
    /// Null where everybody is checked, as there it is the same.
    pub whole_year_group: Option<Figures>,
    /// Published figures of the same.
    pub national: Option<PublishedSeries>,
}

/// How a window stands.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "window": {"id": "0199f2c4-0000-7000-8000-000000000041", "year": 2026, "term": "summer", "term_name": "Summer term",
        "opens_on": "2026-06-08", "closes_on": "2026-06-12", "absentees_until": "2026-06-19", "year_groups": [],
        "submitted_by": null, "submitted_at": null},
    "threshold": 31, "year_groups": [{"year_group": {"code": "year_1", "name": "Year 1"},
        "in_window": {"pupils": 30, "marks": 27, "codes": [{"code": "A", "pupils": 1}], "reached_before": 0, "missing": 2, "denominator": 28,
            "met": 22, "not_met": 5, "met_percent": 79,
            "caution": "Of 30 pupils 2 have nothing entered: the percentage is of 28, and says nothing of the others."},
        "whole_year_group": null, "national": null}],
    "of_other_year_groups": null, "year_group_not_recorded": 0, "denominator_rule": "Pupils with a mark or a code that counts.",
    "cautions": ["Contains personal data. Do not publish."]
}))]
pub struct StatutorySummary {
    /// The window.
    pub window: StatutoryWindowBody,
    /// What had to be reached; null while it is not known, and then there is no percentage.
    pub threshold: Option<u8>,
    /// By year group.
    pub year_groups: Vec<YearSummary>,
    /// Of pupils with a result whose year group is another by now, or not recorded: they are in none of the above. Null
    /// where there are none.
    pub of_other_year_groups: Option<Figures>,
    /// Pupils who were in a class then and whose year group is not recorded: in none of the figures of year groups.
    pub year_group_not_recorded: u64,
    /// Who is in the denominator.
    pub denominator_rule: Option<String>,
    /// To be shown with it.
    pub cautions: Vec<String>,
}

/// How the results of a window stand, by year group
///
/// For the lead and the head: exact, not for publication. Pupils with nothing entered are missing and in no
/// denominator.
#[utoipa::path(
    tag = "statutory check", operation_id = "get_statutory_summary",
    params(("id" = StatutoryWindowId, Path, description = "The window")),
    responses((status = 200, description = "The figures", body = StatutorySummary), ReadProblems)
)]
#[get("/statutory-windows/{id}/summary")]
pub async fn get_statutory_summary(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("statutory_window.read_summary", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            tx.permit::<Read, _>(StatutoryFigures)?;
            let (StatutoryView { window: row, pupils }, rules) = (tx.statutory_view(&permit)?, tx.rules()?);
            let (threshold, checked) = (tx.threshold_of(&permit, &row)?, row.checked()?);
            let of_year = |code: &String| year(code, &pupils, threshold, row.year, rules);
            let said = ["statutory_guidance_first", "not_for_publication", "small_numbers"];
            let cautions = rules.cautions.iter().filter(|one| said.contains(&one.code.as_str()));
            Reply::ok(&StatutorySummary {
                window: StatutoryWindowBody::new(&row, rules)?,
                threshold,
                year_groups: checked.iter().map(of_year).collect::<Result<_, _>>()?,
                of_other_year_groups: elsewhere(&checked, &pupils, threshold, rules)?,
                year_group_not_recorded: pupils.iter().filter(|one| one.year_group.is_none()).count() as u64,
                denominator_rule: rules.statutory_check.denominator_rule.clone(),
                cautions: cautions.map(|one| one.text.clone()).collect(),
            })
        })
        .await
}

/// Figures of those with a result who are of none of the window's year groups any more.
fn elsewhere(
    checked: &[String],
    pupils: &[StatutoryPupil],
    threshold: Option<u8>,
    rules: &RulePack,
) -> Result<Option<Figures>, Problem> {
    let mut results = Vec::new();
    for pupil in pupils {
        if !pupil.year_group.as_ref().is_some_and(|code| checked.contains(code)) {
            results.extend(pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten());
        }
    }
    let counted = results.iter().map(|result| Counted::Here(Some(result)));
    Ok((!results.is_empty()).then(|| figures(&rules.statutory_check, threshold, counted)))
}

fn year(
    code: &str,
    pupils: &[StatutoryPupil],
    threshold: Option<u8>,
    of: i32,
    rules: &RulePack,
) -> Result<YearSummary, Problem> {
    let rule = &rules.statutory_check;
    let mut here: Vec<(&StatutoryPupil, Option<CheckResult>)> = Vec::new();
    for pupil in pupils.iter().filter(|pupil| pupil.year_group.as_deref() == Some(code)) {
        here.push((pupil, pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten()));
    }
    let to_check = here.iter().filter(|(pupil, _)| pupil.counts());
    let in_window = figures(rule, threshold, to_check.map(|(_, result)| Counted::Here(result.as_ref())));
    let eligible = rule.year(code);
    let again = eligible.is_some_and(|year| year.rule == EligibleRule::NotMetOrNotChecked);
    let all = here.iter().filter_map(|(pupil, result)| pupil.counted(result.as_ref()));
    let whole_year_group = again.then(|| figures(rule, threshold, all));
    Ok(YearSummary {
        year_group: NamedYear::of(code, rules),
        in_window,
        whole_year_group,
        national: rule.series(code).map(|series| PublishedSeries::new(series, of)),
    })
}
