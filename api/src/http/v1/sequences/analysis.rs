//! GET /sequences/{id}/draft/analysis

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::SequenceDraft},
    id::SequenceId,
    sequence::{Analysis, analyse},
};

use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    reply::Reply,
    words::draft::{PhonicsAnalysis, phonics_analysis},
};

/// An analysed draft.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "steps": 1, "lessons": 1, "items": [{"kind": "gpc", "count": 1}], "publishable": false,
    "findings": [{"severity": "fault", "field": "steps[0].lessons[1].items", "message": "lesson \"Lesson 2\" teaches nothing"}],
    "phonics": {"steps": [{"step": 1, "gpcs": ["igh:aɪ"], "new_words": 0, "total_words": 0, "examples": [], "thin": true}],
                "too_close": [], "never_taught": [], "exception_words": [], "letters_never_taught": [], "child_words_percent": 0.0}
}))]
pub struct AnalysisBody {
    /// What it holds and what stands against publishing it.
    #[serde(flatten)]
    pub analysis: Analysis,
    /// What it does for words; none where a correspondence is taught twice.
    pub phonics: Option<PhonicsAnalysis>,
}

/// Analyse the draft of a sequence
///
/// What it holds, what stands against publishing it, and what is worth a look.
#[utoipa::path(
    tag = "sequences", operation_id = "analyse_draft", params(("id" = SequenceId, Path, description = "The sequence")),
    responses((status = 200, description = "The analysis", body = AnalysisBody), ReadProblems)
)]
#[get("/sequences/{id}/draft/analysis")]
pub async fn analyse_draft(caller: Caller, id: web::Path<SequenceId>) -> Result<Reply, Problem> {
    let words = caller.words().await?;
    let (content, new_items_max) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceDraft(*id))?;
            Ok((tx.draft(&permit)?.content, tx.rules()?.lesson.new_items_max))
        })
        .await?;
    caller
        .compute(move || {
            Reply::ok(&AnalysisBody {
                analysis: analyse(&content, new_items_max),
                phonics: phonics_analysis(&words, &content),
            })
        })
        .await
}
