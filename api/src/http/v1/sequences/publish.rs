//! POST /sequences/{id}/versions

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Publish, Read},
        resource::{Sequence, SequenceDraft},
    },
    id::{GroupId, SequenceId},
    sequence::{Content, Course, Severity, analyse},
    text::Title,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{VersionLine, not_before_another, told_of};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, FieldError, Problem},
        problems::{CreateProblems, StaleProblems},
        reply::Reply,
    },
    store::{DraftRow, GroupCourse, GroupRow, Permit, Tx},
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
    /// Groups that keep the version they have, until told otherwise. One that keeps a version by itself on that
    /// day stays as it is, until the last day that was said of it.
    #[serde(default)]
    pub stay: Vec<GroupId>,
}

/// Publish the draft of a sequence as its next version
///
/// A version never changes. A draft with faults is refused with all of them, and one that is word for word the latest
/// version that is not withdrawn, as there is nothing new in it. A version
/// cannot take effect on a day before one that was published earlier does, nor on one from which a
/// group that would change over has records of another version: let that group stay, or choose a later day.
#[utoipa::path(
    tag = "sequences", operation_id = "publish_version", request_body = NewVersion,
    params(("id" = SequenceId, Path, description = "The sequence"),
           ("If-Match" = Option<String>, Header, description = "The draft's ETag: to publish what was looked at and nothing else"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Published", body = VersionLine), CreateProblems, StaleProblems)
)]
#[post("/sequences/{id}/versions")]
pub async fn publish_version(
    caller: Caller,
    id: web::Path<SequenceId>,
    body: Body<NewVersion>,
) -> Result<Reply, Problem> {
    let base = caller.base_version_if_told();
    let new = body.value;
    let id = *id;
    caller
        .create("sequence.publish", body.hash, move |tx| {
            let permit = tx.permit::<Publish, _>(Sequence(id))?;
            let draft = tx.permit::<Read, _>(SequenceDraft(id))?;
            let DraftRow { content, v } = tx.draft(&draft)?;
            if let Some(base) = base {
                same_version(v, base)?;
            }
            let faults: Vec<FieldError> = analyse(&content, tx.rules()?.lesson.new_items_max)
                .findings
                .into_iter()
                .filter(|finding| finding.severity == Severity::Fault)
                .map(|finding| FieldError { field: finding.field, message: finding.message })
                .collect();
            if !faults.is_empty() {
                return Err(Problem::fields(faults).with_code(Code::NotPublishable));
            }
            let on = new.effective_on;
            not_before_another(tx, &permit, on)?;
            something_new(tx, &permit, &content)?;
            let groups = tx.sequence_courses(&permit, on)?;
            let staying = stay(&groups, &new.stay, on)?;
            free(&groups, &staying, on)?;
            let head = tx.publish(&permit, &content, on, new.note.as_ref().map(Title::as_str))?;
            for (group, course) in &staying {
                tx.keep_version_as_published(&permit, group, course)?;
            }
            Reply::created(format!("/api/v1/sequences/{id}/versions/{}", head.id), &VersionLine::from(head))
        })
        .await
}

/// Refuses what is the latest version already, word for word: two clicks are not two versions.
fn something_new<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Publish, Sequence>,
    content: &Content,
) -> Result<(), Problem> {
    let standing = tx.versions(permit)?.into_iter().filter(|version| version.withdrawn_on.is_none());
    let Some(latest) = standing.max_by_key(|version| version.number) else { return Ok(()) };
    if *tx.version_of(permit, latest.id)?.content != *content {
        return Ok(());
    }
    let (number, on) = (latest.number, latest.effective_on);
    let detail = format!(
        "the draft is what version {number} says, which takes effect on {on}: there is nothing new to publish"
    );
    Err(Problem::saying(Code::Conflict, detail))
}

/// The groups that are to stay and would not by themselves, each with the version it has from that day on.
fn stay<'a>(
    groups: &'a [GroupCourse],
    named: &[GroupId],
    on: Date,
) -> Result<Vec<(&'a GroupRow, Course)>, Problem> {
    let one = |(n, id): (usize, &GroupId)| {
        let wrong = |message| Problem::field(format!("stay[{n}]"), message);
        let found = groups.iter().find(|one| one.group.id == *id);
        let one = found.ok_or_else(|| wrong("is not a group of this sequence"))?;
        let has = one.course.in_force(on).ok_or_else(|| wrong("has no version to keep on that day"))?;
        let changes_over = one.course.clone().revised(on).is_revised(on);
        Ok(changes_over.then(|| (&one.group, one.course.clone().keeping(Some(has), on))))
    };
    named.iter().enumerate().filter_map(|line| one(line).transpose()).collect()
}

/// Refuses a day from which a group that would change over has records of another version.
fn free(groups: &[GroupCourse], staying: &[(&GroupRow, Course)], on: Date) -> Result<(), Problem> {
    let wrong = |one: &GroupCourse| {
        let stays = staying.iter().find(|(group, _)| group.id == one.group.id);
        let after = stays.map_or(&one.course, |(_, course)| course).clone().revised(on);
        let way = one.course.in_the_way(&after, &one.records)?;
        Some(FieldError { field: "effective_on".into(), message: told_of(&one.group.name, way) })
    };
    let wrong: Vec<FieldError> = groups.iter().filter_map(wrong).collect();
    if wrong.is_empty() { Ok(()) } else { Err(Problem::fields(wrong)) }
}
