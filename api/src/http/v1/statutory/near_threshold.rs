//! GET /statutory-windows/{id}/near-threshold

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{StatutoryMarks, StatutoryWindow},
    },
    id::StatutoryWindowId,
    statutory::{NearThreshold, near_threshold},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::StatutoryView,
};

/// How marks lie about the threshold.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "near": {"threshold": 31, "marks": [{"mark": 30, "pupils": 1}, {"mark": 31, "pupils": 4}], "at_threshold": 4, "one_below": 1,
        "text": "Pupils at the threshold of 31: 4. Below it: 1 at 30. Above it: 2 at 32."},
    "caution": "Marks can pile up by chance."
}))]
pub struct NearThresholdBody {
    /// The counts; null while the threshold is not known.
    pub near: Option<NearThreshold>,
    /// To be shown with them.
    pub caution: String,
}

/// How the marks of a window lie about the threshold
///
/// For the lead only: counts of pupils by mark, those at the threshold beside their neighbours, no names and no
/// verdict. Where marks pile up at what has to be reached, how the check was given and moderated is worth a look.
#[utoipa::path(
    tag = "statutory check", operation_id = "get_statutory_near_threshold",
    params(("id" = StatutoryWindowId, Path, description = "The window")),
    responses((status = 200, description = "The counts", body = NearThresholdBody), ReadProblems)
)]
#[get("/statutory-windows/{id}/near-threshold")]
pub async fn get_statutory_near_threshold(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("statutory_window.read_near_threshold", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            tx.permit::<Read, _>(StatutoryMarks)?;
            let rule = &tx.rules()?.statutory_check;
            let mut marks = Vec::new();
            let StatutoryView { window, pupils } = tx.statutory_view(&permit)?;
            for pupil in pupils {
                let result = pupil.result.map(|row| row.result()).transpose()?.flatten();
                marks.extend(result.and_then(|result| result.mark()));
            }
            let threshold = tx.threshold_of(&permit, &window)?;
            Reply::ok(&NearThresholdBody {
                near: threshold.map(|threshold| near_threshold(rule, threshold, marks)),
                caution: rule.near_threshold.caution.clone(),
            })
        })
        .await
}
