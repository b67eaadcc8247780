//! GET /sequences/{id}/versions/{version_id}/export

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::{SequenceId, VersionId},
    sequence::exchange::{Format, case::CasePackage},
};

use super::{ExportQuery, case_example, export};
use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply};

/// Export a published version
///
/// As CASE 1.1 JSON or CSV, every id kept. The same version gives the same file.
#[utoipa::path(
    tag = "sequences", operation_id = "export_version",
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("version_id" = VersionId, Path, description = "The version"), ExportQuery),
    responses((status = 200, description = "The file", content(
        (CasePackage = "application/json", example = json!(case_example())),
        (String = "text/csv", example = "step,step_title,lesson,lesson_title,kind,label\n1,Step 1,1,Lesson 1,exception_word,said\n")
    )), ReadProblems)
)]
#[get("/sequences/{id}/versions/{version_id}/export")]
pub async fn export_version(
    caller: Caller,
    path: web::Path<(SequenceId, VersionId)>,
    query: Query<ExportQuery>,
) -> Result<Reply, Problem> {
    let (id, version) = path.into_inner();
    let format = query.format.unwrap_or(Format::Case);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Sequence(id))?;
            let name = tx.sequence(&permit)?.name;
            let row = tx.version_of(&permit, version)?;
            export(&row.content, format, version.uuid(), &name, row.head.published_at)
        })
        .await
}
