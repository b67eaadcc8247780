//! PUT /sequences/{id}/draft

use actix_web::{put, web};
use plumbline_core::{id::SequenceId, sequence::Draft};

use super::{DraftBody, keep_draft};
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::EditProblems, reply::Reply};

/// Save the draft of a sequence whole
///
/// A draft may be incomplete; its analysis says what stands against publishing it. New
/// steps, lessons and items get ids; known ids stay with what they name, wherever it moves. A
/// GPC that English does not have is refused with what may have been meant.
#[utoipa::path(
    tag = "sequences", operation_id = "save_draft",
    request_body(content = Draft, example = json!({"steps": [{"title": "Step 1", "lessons": [{"title": "Lesson 1", "items": [
        {"kind": "gpc", "gpc": {"grapheme": "igh", "phoneme": "aɪ"}, "keyword": "light"},
        {"kind": "exception_word", "label": "said"}]}]}]})),
    params(("id" = SequenceId, Path, description = "The sequence"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = DraftBody), EditProblems)
)]
#[put("/sequences/{id}/draft")]
pub async fn save_draft(
    caller: Caller,
    id: web::Path<SequenceId>,
    body: Body<Draft>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let engine = caller.engine().await?;
    caller
        .write("sequence.save_draft", move |tx| keep_draft(tx, &engine, *id, body.value.clone(), base))
        .await
}
