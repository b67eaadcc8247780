//! GET /sequences/{id}/draft/analysis

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SequenceDraft},
    id::SequenceId,
    sequence::{Analysis, analyse},
};

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// Analyse the draft of a sequence
///
/// What it holds, what stands against publishing it, and what is worth a look.
#[utoipa::path(
    tag = "sequences", operation_id = "analyse_draft", params(("id" = SequenceId, Path, description = "The sequence")),
    responses((status = 200, description = "The analysis", body = Analysis, example = json!({
        "steps": 1, "lessons": 1, "items": [{"kind": "gpc", "count": 1}], "publishable": false,
        "findings": [{"severity": "fault", "field": "steps[0].lessons[1].items", "message": "lesson \"Lesson 2\" teaches nothing"}]
    })), ReadProblems)
)]
#[get("/sequences/{id}/draft/analysis")]
pub async fn analyse_draft(caller: Caller, id: web::Path<SequenceId>) -> Result<Reply, Problem> {
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceDraft(*id))?;
            Reply::ok(&analyse(&tx.draft(&permit)?.content))
        })
        .await
}
