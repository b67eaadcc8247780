//! Teaching sequences: drafts and published versions.

pub mod analysis;
pub mod create;
pub mod get;
pub mod get_draft;
pub mod get_version;
pub mod list;
pub mod publish;
pub mod save_draft;
pub mod versions;

use std::sync::Arc;

use plumbline_core::{
    id::{SequenceId, StaffId, VersionId},
    sequence::Content,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::{DraftRow, SequenceRow, VersionHead, VersionRow};

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
    "published_at": "2026-08-28T10:00:00.000000Z"
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
        }
    }
}

/// A published version with its content, which never changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000d", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "number": 1,
    "effective_on": "2026-09-01", "note": null, "published_by": "0199f2c4-0000-7000-8000-000000000002",
    "published_at": "2026-08-28T10:00:00.000000Z", "steps": []
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
