//! POST /sequences/{id}/versions

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::{Sequence, SequenceDraft},
    },
    id::SequenceId,
    sequence::{Severity, analyse},
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::VersionLine;
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{Code, FieldError, Problem},
    problems::CreateProblems,
    reply::Reply,
};

/// How to publish the draft.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"effective_on": "2026-09-01", "note": "First version"}))]
pub struct NewVersion {
    /// First day it is taught from. Records of earlier days keep the version they were made under.
    pub effective_on: Date,
    /// What changed, for colleagues.
    #[serde(default)]
    pub note: Option<Title>,
}

/// Publish the draft of a sequence as its next version
///
/// A version never changes. A draft with faults is refused with all of them. A version
/// cannot take effect on a day before one that was published earlier does, because records
/// of those days already name that one.
#[utoipa::path(
    tag = "sequences", operation_id = "publish_version", request_body = NewVersion,
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Published", body = VersionLine), CreateProblems)
)]
#[post("/sequences/{id}/versions")]
pub async fn publish_version(
    caller: Caller,
    id: web::Path<SequenceId>,
    body: Body<NewVersion>,
) -> Result<Reply, Problem> {
    let new = body.value;
    let id = *id;
    caller
        .create("sequence.publish", body.hash, move |tx| {
            let permit = tx.permit::<Publish, _>(Sequence(id))?;
            let draft = tx.permit::<Read, _>(SequenceDraft(id))?;
            let content = tx.draft(&draft)?.content;
            let faults: Vec<FieldError> = analyse(&content, tx.rules()?.lesson.new_items_max)
                .findings
                .into_iter()
                .filter(|finding| finding.severity == Severity::Fault)
                .map(|finding| FieldError { field: finding.field, message: finding.message })
                .collect();
            if !faults.is_empty() {
                return Err(Problem::fields(faults).with_code(Code::NotPublishable));
            }
            let latest = tx.versions(&permit)?.into_iter().map(|version| version.effective_on).max();
            if latest.is_some_and(|latest| new.effective_on < latest) {
                let message = "lies before the day an earlier published version takes effect";
                return Err(Problem::field("effective_on", message));
            }
            let head =
                tx.publish(&permit, &content, new.effective_on, new.note.as_ref().map(Title::as_str))?;
            Reply::created(format!("/api/v1/sequences/{id}/versions/{}", head.id), &VersionLine::from(head))
        })
        .await
}
