//! How fast groups go.

pub mod get;
pub mod get_plan;
pub mod proposals;
pub mod remove_plan;
pub mod save_plan;

use plumbline_core::{pace::Plan, rules::PaceRule, time::Date};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, Problem},
    store::SavedPlan,
};

/// How many lessons a group is to be taught in how many of its teaching days.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"from": "2026-11-30", "lessons": 4, "days": 5, "chosen": true}))]
pub struct PlanBody {
    /// First day.
    pub from: Option<Date>,
    /// Lessons.
    pub lessons: u32,
    /// In so many teaching days of the group.
    pub days: u32,
    /// Whether somebody chose it; otherwise it is the rule pack's.
    pub chosen: bool,
}

impl PlanBody {
    fn of(saved: Option<SavedPlan>, rule: &PaceRule) -> Self {
        match saved {
            Some(SavedPlan { plan: Plan { from, lessons, days }, .. }) => {
                Self { from: Some(from), lessons, days, chosen: true }
            }
            None => {
                Self { from: None, lessons: rule.planned_lessons, days: rule.planned_days, chosen: false }
            }
        }
    }
}

/// The complaint about a group without anything to teach.
fn no_version() -> Problem {
    Problem::saying(Code::NotFound, "the group's sequence has no published version in force on that day")
}
