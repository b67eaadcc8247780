//! POST /sequences/{id}/draft/import

use actix_web::{post, web};
use plumbline_core::{
    id::SequenceId,
    sequence::{
        Draft, DraftStep, Fault, UNKNOWN_ID,
        exchange::{
            case::{self, CasePackage},
            csv::ReadDraft,
        },
    },
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{DraftBody, case_example, keep_draft};
use crate::{
    files::sequence_csv,
    http::{
        body::{LargeRaw, Raw, parse},
        caller::{Caller, blocking},
        problem::{Code, Problem},
        problems::EditProblems,
        query::Query,
        reply::Reply,
    },
};

plumbline_core::vocabulary! {
    /// What becomes of the ids in a file.
    pub enum Ids as "ImportIds" {
        /// They stay; each must be one of this sequence.
        Keep = "keep",
        /// Everything is new: for a file of another sequence.
        New = "new",
    }
}

/// How to import a file.
#[derive(Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ImportQuery {
    /// What becomes of the ids in the file; kept unless told.
    #[serde(default)]
    #[param(inline)]
    pub ids: Option<Ids>,
}

/// Import a file over the draft of a sequence
///
/// CASE 1.1 JSON, as exported, or CSV with the columns `step`, `step_title`, `step_id`,
/// `lesson`, `lesson_title`, `lesson_id`, `kind`, `grapheme`, `phoneme`, `label`, `keyword`,
/// `item_id` in any order. The numbers of steps and lessons group the rows. An apostrophe
/// before a sign that spreadsheets take for a formula is taken off again. The draft is
/// checked as one that is saved; what a file says and a draft cannot hold is refused.
#[utoipa::path(
    tag = "sequences", operation_id = "import_draft",
    request_body(description = "The file", content(
        (CasePackage = "application/json", example = json!(case_example())),
        (String = "text/csv", example = "step,step_title,lesson,lesson_title,kind,label\n1,Step 1,1,Lesson 1,exception_word,said\n")
    )),
    params(("id" = SequenceId, Path, description = "The sequence"), ImportQuery,
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = DraftBody), EditProblems)
)]
#[post("/sequences/{id}/draft/import")]
pub async fn import_draft(
    caller: Caller,
    id: web::Path<SequenceId>,
    query: Query<ImportQuery>,
    file: LargeRaw,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let ReadDraft { draft, lines } = blocking(move || read(&file.0)).await?;
    let draft = if query.ids == Some(Ids::New) { draft.without_ids() } else { draft };
    let engine = caller.engine().await?;
    caller
        .write("sequence.import_draft", move |tx| {
            let kept = keep_draft(tx, &engine, *id, draft.clone(), base);
            kept.map_err(|problem| {
                let unknown = problem.errors().iter().filter(|error| error.message == UNKNOWN_ID).count();
                // One may be mistyped; where most are unknown it is another's file.
                let problem = match unknown * 2 > ids_given(&draft) {
                    true => {
                        problem.explained("the file is of another sequence: to start from it, add ids=new")
                    }
                    false => problem,
                };
                problem.map_fields(|error| {
                    let fault = Fault { field: error.field, message: error.message };
                    ReadDraft::located(&lines, fault).into()
                })
            })
        })
        .await
}

/// How many ids of steps and lessons a draft gives; those of GPCs are the same in every sequence.
fn ids_given(draft: &Draft) -> usize {
    let of_step = |step: &DraftStep| {
        let lessons = step.lessons.iter().filter(|lesson| lesson.id.is_some()).count();
        usize::from(step.id.is_some()) + lessons
    };
    draft.steps.iter().map(of_step).sum()
}

fn read(file: &Raw) -> Result<ReadDraft, Problem> {
    match file.media_type.as_str() {
        "application/json" => {
            let draft: Draft = case::read(&parse::<CasePackage>(&file.bytes)?)?;
            Ok(ReadDraft { draft, lines: Vec::new() })
        }
        "text/csv" => Ok(sequence_csv::read(&file.bytes)?),
        _ => Err(Problem::saying(Code::UnsupportedMediaType, "send application/json or text/csv")),
    }
}
