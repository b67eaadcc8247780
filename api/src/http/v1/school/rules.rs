//! GET /rule-pack

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::SchoolProfile},
    check::{CorrectionReason, ResponseMode},
    rules::{Coded, RulePack},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// A code with what it means.
#[derive(Serialize, ToSchema)]
pub struct CodeBody {
    /// As sent.
    pub code: String,
    /// As shown.
    pub label: String,
}

/// Codes with the days, counted from today, by which what they were said of is looked at again.
#[derive(Serialize, ToSchema)]
pub struct ReviewedCodes {
    /// The codes.
    pub reasons: Vec<CodeBody>,
    /// Days, at most, until it is looked at again.
    pub review_days_most: u32,
}

/// Codes of the statutory check.
#[derive(Serialize, ToSchema)]
pub struct StatutoryCodes {
    /// Terms of a window.
    pub terms: Vec<CodeBody>,
    /// What may stand in place of a mark.
    pub results: Vec<CodeBody>,
    /// Why the check may be wrong for a pupil: the reason of a code that needs one.
    pub not_appropriate: Vec<CodeBody>,
    /// Why else a pupil may not take it.
    pub other_reasons: Vec<CodeBody>,
    /// Why a result that was submitted is changed.
    pub amendment_reasons: Vec<CodeBody>,
}

/// The codes that forms ask for, by the school's rule pack.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "england", "name": "England", "year_groups": [{"code": "reception", "label": "Reception"}],
    "not_taught_reasons": [{"code": "assembly_overran", "label": "Assembly or event overran"}],
    "closure_reasons": [{"code": "weather", "label": "Severe weather"}],
    "exemptions": {"reasons": [{"code": "newly_arrived", "label": "New here; checked once settled"}], "review_days_most": 92},
    "not_accessible": {"reasons": [{"code": "answers_another_way", "label": "The pupil answers in another way than this check takes"}], "review_days_most": 120},
    "response_modes": [{"code": "spoken", "label": "Said aloud"}],
    "correction_reasons": [{"code": "recorded_wrongly", "label": "It was recorded wrongly"}],
    "statutory_check": {"terms": [{"code": "summer", "label": "Summer term"}],
        "results": [{"code": "A", "label": "Absent for the whole window"}], "not_appropriate": [], "other_reasons": [],
        "amendment_reasons": [{"code": "typed_wrongly", "label": "Typed wrongly from the paper"}]}
}))]
pub struct RulePackBody {
    /// As the school's `rule_pack` names it.
    pub id: String,
    /// As shown.
    pub name: String,
    /// Year groups, youngest first.
    pub year_groups: Vec<CodeBody>,
    /// Why a lesson was not taught.
    pub not_taught_reasons: Vec<CodeBody>,
    /// Why a day is closed.
    pub closure_reasons: Vec<CodeBody>,
    /// Why a pupil is exempt in a round.
    pub exemptions: ReviewedCodes,
    /// Why checks are not accessible to a pupil.
    pub not_accessible: ReviewedCodes,
    /// How a pupil answers.
    pub response_modes: Vec<CodeBody>,
    /// Why an answer is corrected.
    pub correction_reasons: Vec<CodeBody>,
    /// Of the statutory check.
    pub statutory_check: StatutoryCodes,
}

fn code(code: &str, label: &str) -> CodeBody {
    CodeBody { code: code.to_owned(), label: label.to_owned() }
}

fn codes(list: &[Coded]) -> Vec<CodeBody> {
    list.iter().map(|one| code(&one.code, &one.label)).collect()
}

impl From<&RulePack> for RulePackBody {
    fn from(pack: &RulePack) -> Self {
        let (rounds, marking, check) = (&pack.rounds, &pack.marking.not_accessible, &pack.statutory_check);
        Self {
            id: pack.id.clone(),
            name: pack.name.clone(),
            year_groups: pack.year_groups.iter().map(|one| code(&one.code, &one.name)).collect(),
            not_taught_reasons: codes(&pack.not_taught_reasons),
            closure_reasons: codes(&pack.closure_reasons),
            exemptions: ReviewedCodes {
                reasons: codes(&rounds.exemption_reasons),
                review_days_most: rounds.exemption_review_days,
            },
            not_accessible: ReviewedCodes {
                reasons: codes(&marking.reasons),
                review_days_most: marking.review_days_most,
            },
            response_modes: ResponseMode::ALL.iter().map(|mode| code(mode.as_str(), mode.label())).collect(),
            correction_reasons: CorrectionReason::ALL
                .iter()
                .map(|reason| code(reason.as_str(), reason.label()))
                .collect(),
            statutory_check: StatutoryCodes {
                terms: codes(&check.terms),
                results: check.codes.iter().map(|one| code(&one.code, &one.label)).collect(),
                not_appropriate: codes(&check.not_appropriate),
                other_reasons: codes(&check.other_reasons),
                amendment_reasons: codes(&check.amendment_reasons),
            },
        }
    }
}

/// List the codes that forms ask for
///
/// Reasons, terms and the like as the school's rule pack has them, each with the words to show.
#[utoipa::path(
    tag = "school", operation_id = "get_rule_pack",
    responses((status = 200, description = "The codes", body = RulePackBody), ReadProblems)
)]
#[get("/rule-pack")]
pub async fn get_rule_pack(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            tx.permit::<Read, _>(SchoolProfile)?;
            Reply::ok(&RulePackBody::from(tx.rules()?))
        })
        .await
}
