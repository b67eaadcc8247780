//! PUT /sequences/{id}/draft

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::SequenceDraft},
    id::SequenceId,
    sequence::{Draft, settle},
};

use super::DraftBody;
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
    words::draft::known_gpcs,
};

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
    let base = caller.base_version()?;
    let engine = caller.engine().await?;
    caller
        .write("sequence.save_draft", move |tx| {
            let permit = tx.permit::<Manage, _>(SequenceDraft(*id))?;
            same_version(tx.draft(&permit)?.v, base)?;
            let known = tx.known_ids(&permit)?;
            let mut new_id = || tx.new_id::<plumbline_core::id::kind::Item>().uuid();
            let content = settle(body.value.clone(), &known, &mut new_id)?;
            known_gpcs(&engine, &content)?;
            let row = tx.save_draft(&permit, &content, base)?;
            let v = row.v;
            Ok(Reply::ok(&DraftBody::from(row))?.version(v))
        })
        .await
}
