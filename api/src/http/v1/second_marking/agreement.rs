//! GET /check-rounds/{id}/agreement

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::RoundAgreement},
    check::{
        CheckItem, Outcome,
        second::{Agreement, agreement},
    },
    id::{CheckId, CheckItemId, PupilId, RoundId, StaffId},
    rules::SecondMarkingRule,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::get_marks::CheckQuery;
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::{CheckRow, Error, MarkedTwice},
};

/// Agreement about one item.
#[derive(Serialize, ToSchema)]
pub struct ItemAgreement {
    /// The item.
    pub item_id: CheckItemId,
    /// What the pupil is shown.
    pub prompt: String,
    /// The figures.
    pub agreement: Agreement,
}

/// An item that two adults marked otherwise, for the two to talk about.
#[derive(Serialize, ToSchema)]
pub struct MarkDifference {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The item.
    pub item_id: CheckItemId,
    /// The first mark.
    pub first: Outcome,
    /// Who asked first.
    pub first_by: StaffId,
    /// The second mark.
    pub second: Outcome,
    /// Who marked a second time.
    pub second_by: StaffId,
    /// Whether it was talked about and corrected.
    pub settled: bool,
}

/// A caution.
#[derive(Serialize, ToSchema)]
pub struct AgreementCaution {
    /// Its code.
    pub code: String,
    /// As shown.
    pub text: String,
}

/// How far markers agree about a check.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "pupils": 3, "pupils_marked": 2,
    "agreement": {"marked": 50, "agreed": 35, "percent": 70.0, "kappa": 0.4, "no_kappa": null, "kappa_from": 0.151,
                  "kappa_to": 0.649, "no_interval": null},
    "items": [], "differences": [], "method": "Cohen 1960", "cautions": []
}))]
pub struct AgreementBody {
    /// The check.
    pub check_id: CheckId,
    /// Pupils in the sample.
    pub pupils: usize,
    /// Of these, pupils whose second marks are given.
    pub pupils_marked: usize,
    /// Of all items and pupils.
    pub agreement: Agreement,
    /// By item, in the check's order.
    pub items: Vec<ItemAgreement>,
    /// Where two marks differ. Adults are named here alone, because the two have to talk.
    pub differences: Vec<MarkDifference>,
    /// How the figures are worked out.
    pub method: &'static str,
    /// To be shown with them.
    pub cautions: Vec<AgreementCaution>,
}

/// How the figures are worked out.
const METHOD: &str = "Kappa: Cohen, J. (1960), A coefficient of agreement for nominal scales, over the outcomes right, \
    wrong and no_response. Interval: 95 per cent, by the large-sample standard error of Fleiss, J. L., Cohen, J. and \
    Everitt, B. S. (1969).";

/// That nothing was asked to be marked twice.
const NO_SAMPLE: &str = "no sample of this check of the round was asked to be marked a second time: ask for one with \
    POST /check-rounds/{id}/second-markings";

/// Get how far markers agree about a check of a round
///
/// Of the check and its items, never of an adult: there is no figure for any person. First marks are taken as they
/// stood when the second were given, so that settling a difference changes no figure. The reading is written to the
/// audit log before the answer is sent.
#[utoipa::path(
    tag = "second marking", operation_id = "get_agreement",
    params(("id" = RoundId, Path, description = "The round"), CheckQuery),
    responses((status = 200, description = "Agreement", body = AgreementBody), ReadProblems)
)]
#[get("/check-rounds/{id}/agreement")]
pub async fn get_agreement(
    caller: Caller,
    id: web::Path<RoundId>,
    query: Query<CheckQuery>,
) -> Result<Reply, Problem> {
    let (round, check) = (*id, query.check_id);
    caller
        .read_logged("second_marking.agreement", move |tx| {
            let permit = tx.permit::<Read, _>(RoundAgreement(round))?;
            let (row, drawn, given) = tx.all_marked_twice(&permit, check).map_err(|error| match error {
                Error::Missing => Problem::saying(Code::NotFound, NO_SAMPLE),
                other => other.into(),
            })?;
            Reply::ok(&body(&row, drawn, &given, &tx.rules()?.marking.second))
        })
        .await
}

fn body(check: &CheckRow, drawn: usize, given: &[MarkedTwice], rule: &SecondMarkingRule) -> AgreementBody {
    let pairs_of = |item: &CheckItem| -> Vec<MarkDifference> {
        let pair = |twice: &MarkedTwice| {
            let first = twice.first_mark(item.id)?;
            let second = twice.second.iter().find(|mark| mark.item_id == item.id)?;
            Some(MarkDifference {
                pupil_id: twice.row.pupil_id,
                item_id: item.id,
                first: first.outcome,
                first_by: first.taken_by,
                second: second.outcome,
                second_by: twice.row.staff_id,
                settled: twice.is_settled(item.id),
            })
        };
        given.iter().filter_map(pair).collect()
    };
    let outcomes = |pairs: &[MarkDifference]| pairs.iter().map(|p| (p.first, p.second)).collect::<Vec<_>>();
    let by_item: Vec<(&CheckItem, Vec<MarkDifference>)> =
        check.items.iter().map(|item| (item, pairs_of(item))).collect();
    let all: Vec<_> = by_item.iter().flat_map(|(_, pairs)| outcomes(pairs)).collect();
    let items = by_item.iter().map(|(item, pairs)| ItemAgreement {
        item_id: item.id,
        prompt: item.prompt.to_string(),
        agreement: agreement(&outcomes(pairs), rule),
    });
    let items = items.collect();
    let differ = |pair: &MarkDifference| {
        pair.first != pair.second && ![pair.first, pair.second].contains(&Outcome::NotOffered)
    };
    AgreementBody {
        check_id: check.id,
        pupils: drawn,
        pupils_marked: given.len(),
        agreement: agreement(&all, rule),
        items,
        differences: by_item.into_iter().flat_map(|(_, pairs)| pairs).filter(differ).collect(),
        method: METHOD,
        cautions: rule
            .cautions
            .iter()
            .map(|one| AgreementCaution { code: one.code.clone(), text: one.text.clone() })
            .collect(),
    }
}
