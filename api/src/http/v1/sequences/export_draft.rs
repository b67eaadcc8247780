//! GET /sequences/{id}/draft/export

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Sequence, SequenceDraft},
    },
    id::SequenceId,
    sequence::exchange::{Format, case::CasePackage},
};

use super::{ExportQuery, case_example, export};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Export the draft of a sequence
///
/// As CASE 1.1 JSON or CSV. Either file holds every id, and importing it gives the same
/// draft. The ETag is the draft's: an import may be based on it.
#[utoipa::path(
    tag = "sequences", operation_id = "export_draft",
    params(("id" = SequenceId, Path, description = "The sequence"), ExportQuery),
    responses((status = 200, description = "The file; ETag", content(
        (CasePackage = "application/json", example = json!(case_example())),
        (String = "text/csv", example = "step,step_title,lesson,lesson_title,kind,label\n1,Step 1,1,Lesson 1,exception_word,said\n")
    )), ReadProblems)
)]
#[get("/sequences/{id}/draft/export")]
pub async fn export_draft(
    caller: Caller,
    id: web::Path<SequenceId>,
    query: Query<ExportQuery>,
) -> Result<Reply, Problem> {
    let format = query.format.unwrap_or(Format::Case);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceDraft(*id))?;
            let sequence = tx.permit::<Read, _>(Sequence(*id))?;
            let name = tx.sequence(&sequence)?.name;
            let row = tx.draft(&permit)?;
            Ok(export(&row.content, format, id.uuid(), &name, tx.now())?.version(row.v))
        })
        .await
}
