//! GET /statutory-thresholds

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::StatutoryFigures},
    id::StaffId,
    rules::RulePack,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::StatutoryThresholdRow,
};

/// What has to be reached in a year, as it was said once.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"year": 2026, "threshold": 31, "published_on": null, "of_rule_pack": true, "in_force": true,
    "entered_by": null, "entered_at": null, "etag": null}))]
pub struct ThresholdLine {
    /// The calendar year.
    pub year: i32,
    /// The least mark that meets it.
    pub threshold: i16,
    /// Since when it is known, where that is on record.
    pub published_on: Option<Date>,
    /// Whether the rule pack says so; otherwise it was entered here.
    pub of_rule_pack: bool,
    /// Whether it counts: the last one of its year does.
    pub in_force: bool,
    /// Who entered it.
    pub entered_by: Option<StaffId>,
    /// When.
    pub entered_at: Option<Instant>,
    /// Its ETag, to enter another.
    pub etag: Option<String>,
}

impl ThresholdLine {
    pub(super) fn entered(row: &StatutoryThresholdRow, in_force: bool) -> Self {
        Self {
            year: row.year,
            threshold: row.threshold,
            published_on: Some(row.published_on),
            of_rule_pack: false,
            in_force,
            entered_by: Some(row.entered_by),
            entered_at: Some(row.at),
            etag: Some(crate::http::reply::etag(row.v)),
        }
    }
}

/// Thresholds by year.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"items": [], "every_year": null, "rule": "Published only after the check."}))]
pub struct ThresholdList {
    /// By year; of one year, in the order in which they were entered.
    pub items: Vec<ThresholdLine>,
    /// What counts in a year that is not listed, where that is known before the check.
    pub every_year: Option<u8>,
    /// How a threshold becomes known.
    pub rule: String,
}

/// List what has to be reached in the statutory check, by year
///
/// The rule pack's, and what was entered here once it was published; those that were changed stay listed.
#[utoipa::path(
    tag = "statutory check", operation_id = "list_statutory_thresholds",
    responses((status = 200, description = "The thresholds", body = ThresholdList), ReadProblems)
)]
#[get("/statutory-thresholds")]
pub async fn list_statutory_thresholds(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(StatutoryFigures)?;
            let rows = tx.statutory_thresholds(&permit)?;
            Reply::ok(&list(&rows, tx.rules()?))
        })
        .await
}

fn list(rows: &[StatutoryThresholdRow], rules: &RulePack) -> ThresholdList {
    let rule = &rules.statutory_check;
    let of_pack = rule.thresholds.iter().filter_map(|one| {
        Some(ThresholdLine {
            year: one.year,
            threshold: one.threshold?.into(),
            published_on: one.published_on,
            of_rule_pack: true,
            in_force: true,
            entered_by: None,
            entered_at: None,
            etag: None,
        })
    });
    let mut items: Vec<ThresholdLine> = of_pack.collect();
    let of_rule_pack = items.len();
    for (n, row) in rows.iter().enumerate() {
        let last = rows.get(n + 1).is_none_or(|next| next.year != row.year);
        let packs = items.iter().take(of_rule_pack).any(|one| one.year == row.year);
        items.push(ThresholdLine::entered(row, last && !packs));
    }
    items.sort_by_key(|line| line.year);
    ThresholdList { items, every_year: rule.threshold_default, rule: rule.threshold_rule.clone() }
}
