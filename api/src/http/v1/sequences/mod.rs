//! Teaching sequences: drafts and published versions.

pub mod analysis;
pub mod changes;
pub mod create;
pub mod export_draft;
pub mod export_version;
pub mod fingerprints;
pub mod get;
pub mod get_draft;
pub mod get_version;
pub mod impact;
pub mod import_draft;
pub mod list;
pub mod publish;
pub mod restore;
pub mod save_draft;
pub mod versions;
pub mod withdraw;
pub mod withdraw_preview;

use std::sync::Arc;

use crate::{
    files::sequence_csv,
    http::{
        caller::{Base, same_version},
        problem::Problem,
        reply::Reply,
        words::draft::known_gpcs,
    },
};

use plumbline_core::{
    access::{
        act::Manage,
        resource::{Sequence, SequenceDraft},
    },
    id::{LessonId, SequenceId, StaffId, VersionId},
    phonics::Engine,
    sequence::{
        Content, Draft, InTheWay, Place,
        exchange::{Format, case},
        settle,
    },
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::store::{DraftRow, Permit, SequenceRow, Tx, VersionHead, VersionRow};

/// A sequence.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-00000000000a", "name": "Our sequence"}))]
pub struct SequenceBody {
    /// Its id.
    pub id: SequenceId,
    /// Its name.
    pub name: String,
}

impl From<SequenceRow> for SequenceBody {
    fn from(row: SequenceRow) -> Self {
        Self { id: row.id, name: row.name }
    }
}

/// A draft, every id settled. Send it back with changes; leave ids out for what is new.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"steps": [{"id": "0199f2c4-0000-7000-8000-00000000000b", "title": "Step 1", "lessons": [
    {"id": "0199f2c4-0000-7000-8000-00000000000c", "title": "Lesson 1", "items": [
        {"id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/",
         "gpc": {"grapheme": "igh", "phoneme": "aɪ"}, "keyword": "light"}]}]}]}))]
pub struct DraftBody {
    /// What it holds.
    #[serde(flatten)]
    pub content: Content,
}

impl From<DraftRow> for DraftBody {
    fn from(row: DraftRow) -> Self {
        Self { content: row.content }
    }
}

/// A published version.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000d", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "number": 1,
    "effective_on": "2026-09-01", "note": "First version", "published_by": "0199f2c4-0000-7000-8000-000000000002",
    "published_at": "2026-08-28T10:00:00.000000Z", "withdrawn_on": null, "withdrawn_note": null
}))]
pub struct VersionLine {
    /// Its id; lesson records name it.
    pub id: VersionId,
    /// Its sequence.
    pub sequence_id: SequenceId,
    /// 1, 2, 3 ...
    pub number: i32,
    /// First day it is taught from.
    pub effective_on: Date,
    /// What changed, in the lead's words.
    pub note: Option<String>,
    /// Who published it.
    pub published_by: StaffId,
    /// When.
    pub published_at: Instant,
    /// First day it is not taught from any more; none unless it was withdrawn.
    pub withdrawn_on: Option<Date>,
    /// Why it was withdrawn, in the lead's words.
    pub withdrawn_note: Option<String>,
}

impl From<VersionHead> for VersionLine {
    fn from(head: VersionHead) -> Self {
        Self {
            id: head.id,
            sequence_id: head.sequence_id,
            number: head.number,
            effective_on: head.effective_on,
            note: head.note,
            published_by: head.published_by,
            published_at: head.published_at,
            withdrawn_on: head.withdrawn_on,
            withdrawn_note: head.withdrawn_note,
        }
    }
}

/// A lesson and where it stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct LessonLine {
    /// The lesson.
    pub id: LessonId,
    /// As shown.
    pub title: String,
    /// Its step, as shown.
    pub step_title: String,
    /// Where it stands.
    pub place: Place,
}

impl LessonLine {
    fn of(content: &Content, id: LessonId) -> Option<Self> {
        let (place, step, lesson) = content.lesson(id)?;
        Some(Self { id, title: lesson.title.to_string(), step_title: step.title.to_string(), place })
    }
}

/// A published version with its content, which never changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000d", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "number": 1,
    "effective_on": "2026-09-01", "note": null, "published_by": "0199f2c4-0000-7000-8000-000000000002",
    "published_at": "2026-08-28T10:00:00.000000Z", "withdrawn_on": null, "withdrawn_note": null, "steps": []
}))]
pub struct VersionBody {
    /// All but the content.
    #[serde(flatten)]
    pub head: VersionLine,
    /// The content.
    #[serde(flatten)]
    pub content: Content,
}

impl From<VersionRow> for VersionBody {
    fn from(row: VersionRow) -> Self {
        Self { head: row.head.into(), content: Arc::unwrap_or_clone(row.content) }
    }
}

/// The form of an exported file.
#[derive(Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ExportQuery {
    /// CASE 1.1 JSON unless told, or CSV with one row an item.
    #[serde(default)]
    #[param(inline)]
    pub format: Option<Format>,
}

/// Refuses a day for the draft before one on which a version takes effect that is taught from: records of
/// those days already name that one.
fn not_before_another<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, Sequence>,
    effective_on: Date,
) -> Result<(), Problem> {
    let taught = tx.versions(permit)?.into_iter().filter(|version| version.withdrawn_on.is_none());
    if taught.map(|version| version.effective_on).max().is_some_and(|latest| effective_on < latest) {
        let message = "lies before the day an earlier published version takes effect";
        return Err(Problem::field("effective_on", message));
    }
    Ok(())
}

/// What is said of records that stand in the way of another version.
pub(super) fn told_of(group: &str, way: InTheWay) -> String {
    let InTheWay { records, latest } = way;
    let records = if records == 1 { "1 record".to_owned() } else { format!("{records} records") };
    format!("{group} has {records} of another version from that day on, the latest of {latest}")
}

/// An example of a CASE file.
fn case_example() -> serde_json::Value {
    let step = "0199f2c4-0000-7000-8000-00000000000b";
    let root = "0199f2c4-0000-7000-8000-00000000000a";
    let at = "2026-11-25T10:00:00.000000Z";
    serde_json::json!({
        "CFDocument": {"identifier": root, "uri": format!("urn:uuid:{root}"), "creator": "Plumbline",
                       "title": "Our sequence", "lastChangeDateTime": at, "caseVersion": "1.1"},
        "CFItems": [{"identifier": step, "uri": format!("urn:uuid:{step}"), "fullStatement": "Step 1",
                     "CFItemType": "step", "lastChangeDateTime": at}],
        "CFAssociations": [{"identifier": "a9e4dc3a-5f2e-5c11-9d1f-1c9f3f6c2f61",
            "uri": "urn:uuid:a9e4dc3a-5f2e-5c11-9d1f-1c9f3f6c2f61", "associationType": "isChildOf", "sequenceNumber": 1,
            "originNodeURI": {"title": "Step 1", "identifier": step, "uri": format!("urn:uuid:{step}")},
            "destinationNodeURI": {"title": "Our sequence", "identifier": root, "uri": format!("urn:uuid:{root}")},
            "lastChangeDateTime": at}]
    })
}

/// Content as a file.
fn export(
    content: &Content,
    format: Format,
    id: uuid::Uuid,
    name: &str,
    at: Instant,
) -> Result<Reply, Problem> {
    match format {
        Format::Case => Reply::ok(&case::write(content, id, name, &at.to_string())),
        Format::Csv => Reply::csv(sequence_csv::write(&Draft::from(content.clone()))),
    }
}

/// Settles a draft, checks it and saves it over the one read at `base`.
fn keep_draft(
    tx: &mut Tx<'_>,
    engine: &Engine,
    id: SequenceId,
    draft: Draft,
    base: Base,
) -> Result<Reply, Problem> {
    let permit = tx.permit::<Manage, _>(SequenceDraft(id))?;
    let v = tx.draft(&permit)?.v;
    same_version(v, base)?;
    let known = tx.known_of_sequence(&permit)?;
    let mut new_id = || tx.new_id::<plumbline_core::id::kind::Item>().uuid();
    let content = settle(draft, &known, &mut new_id)?;
    known_gpcs(engine, &content)?;
    let row = tx.save_draft(&permit, &content, v)?;
    let v = row.v;
    Ok(Reply::ok(&DraftBody::from(row))?.version(v))
}
