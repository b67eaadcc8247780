//! GET /check-rounds/{id}/progress

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Round},
    id::{CheckId, PupilId, RoundId},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{
    caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply, v1::pupils::lines,
};

/// Items a pupil was asked, of one check.
#[derive(Serialize, ToSchema)]
pub struct CheckProgress {
    /// The check.
    pub check_id: CheckId,
    /// Items asked. Not how many were right.
    pub asked: usize,
    /// Of these, items answered by choosing one of several, which is another task than reading aloud.
    pub chosen: usize,
}

/// How far one pupil is within a round.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
    "checks": [{"check_id": "0199f2c4-0000-7000-8000-00000000000e", "asked": 12, "chosen": 0}], "not_accessible": [], "exempt": []
}))]
pub struct PupilProgress {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Checks begun; one left out has not been.
    pub checks: Vec<CheckProgress>,
    /// Checks of the round that are not accessible to the pupil this way today: not counted as left to do.
    pub not_accessible: Vec<CheckId>,
    /// Checks of the round the pupil is exempt from: not left to do either.
    pub exempt: Vec<CheckId>,
}

/// Who is left to check?
///
/// The pupils of the round whom one may see, with how many items each was asked. No marks and no totals.
#[utoipa::path(
    tag = "checks", operation_id = "get_round_progress", params(("id" = RoundId, Path, description = "The round")),
    responses((status = 200, description = "Pupils by name", body = Page<PupilProgress>), ReadProblems)
)]
#[get("/check-rounds/{id}/progress")]
pub async fn get_round_progress(caller: Caller, id: web::Path<RoundId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Round(*id))?;
            let rows = tx.round_progress(&permit)?;
            let shown = lines(rows.iter().map(|row| (row.pupil.clone(), row.class.clone())).collect());
            let list: Vec<PupilProgress> = shown
                .into_iter()
                .zip(rows)
                .map(|(line, row)| PupilProgress {
                    pupil_id: line.id,
                    name: line.name,
                    apart: line.apart,
                    checks: row
                        .answered
                        .into_iter()
                        .map(|(check_id, of)| CheckProgress { check_id, asked: of.asked, chosen: of.chosen })
                        .collect(),
                    not_accessible: row.not_accessible,
                    exempt: row.exempt,
                })
                .collect();
            Reply::ok(&Page::whole(list))
        })
        .await
}
