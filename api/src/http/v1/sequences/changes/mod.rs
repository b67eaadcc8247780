//! What differs between two contents of a sequence, item by item.

pub mod draft;
pub mod version;

use std::sync::Arc;

use plumbline_core::{
    access::{act::Read, resource::Sequence},
    id::{LessonId, VersionId},
    sequence::{Content, MovedItem, Place, PlacedItem, Relabelled, compare},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{LessonLine, VersionLine};
use crate::{
    http::problem::Problem,
    store::{Error, Permit, Tx, VersionHead, VersionRow},
};

/// Compared with what.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SinceQuery {
    /// A version of the sequence.
    #[serde(default)]
    pub since: Option<VersionId>,
}

/// What differs, each list in teaching order. An item is the same item wherever it stands, a GPC by its
/// pair. Of the steps that both have, the fewest that explain their new order are said to have moved, with all they teach;
/// of the lessons of the others the fewest, and of the items left the fewest.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "since": {"id": "0199f2c4-0000-7000-8000-00000000000d", "sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "number": 1,
              "effective_on": "2026-09-01", "note": null, "published_by": "0199f2c4-0000-7000-8000-000000000002",
              "published_at": "2026-08-28T10:00:00.000000Z", "withdrawn_on": null, "withdrawn_note": null},
    "added": [], "withdrawn": [],
    "moved": [{"item": {"id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/",
                        "gpc": {"grapheme": "igh", "phoneme": "aɪ"}},
               "from": {"step": 4, "lesson": 2}, "to": {"step": 3, "lesson": 1}}],
    "relabelled": [],
    "lessons_added": [{"id": "0199f2c4-0000-7000-8000-00000000000c", "title": "Lesson 1", "step_title": "Step 1",
                       "place": {"step": 1, "lesson": 1}}],
    "lessons_withdrawn": [], "lessons_moved": [], "lessons_retitled": []
}))]
pub struct ChangesBody {
    /// The version compared with; none where there is none earlier: then all is added.
    pub since: Option<VersionLine>,
    /// Items only the later one has, where it teaches them.
    pub added: Vec<PlacedItem>,
    /// Items only the earlier one has, where it taught them. What was recorded of them stays.
    pub withdrawn: Vec<PlacedItem>,
    /// Items that stand elsewhere.
    pub moved: Vec<MovedItem>,
    /// Items whose label or word to remember them by is another.
    pub relabelled: Vec<Relabelled>,
    /// Lessons only the later one has.
    pub lessons_added: Vec<LessonLine>,
    /// Lessons only the earlier one has.
    pub lessons_withdrawn: Vec<LessonLine>,
    /// Lessons that stand elsewhere, those that only go back over things too.
    pub lessons_moved: Vec<LessonMoved>,
    /// Lessons that are called otherwise, or whose step is.
    pub lessons_retitled: Vec<LessonRetitled>,
}

/// A lesson that stands elsewhere.
#[derive(Serialize, ToSchema)]
pub struct LessonMoved {
    /// The lesson, as it is now.
    pub lesson: LessonLine,
    /// Its place before.
    pub from: Place,
}

/// A lesson under another title.
#[derive(Serialize, ToSchema)]
pub struct LessonRetitled {
    /// The lesson, as it is now.
    pub lesson: LessonLine,
    /// Its title before.
    pub title_before: String,
    /// The title of the step it was in.
    pub step_title_before: String,
}

/// The version to compare with: the one told, else the last of those told of.
fn earlier<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Read, Sequence>,
    told: Option<VersionId>,
    counts: impl Fn(&VersionHead) -> bool,
) -> Result<Option<VersionRow>, Problem> {
    let last = tx.versions(permit)?.into_iter().find(counts).map(|head| head.id);
    let Some(id) = told.or(last) else { return Ok(None) };
    match tx.version_of(permit, id) {
        Ok(row) => Ok(Some(row)),
        Err(Error::Missing) => Err(Problem::field("since", "is not a version of this sequence")),
        Err(error) => Err(error.into()),
    }
}

fn changes(since: Option<VersionRow>, later: &Content) -> ChangesBody {
    let (since, earlier) = match since {
        Some(row) => (Some(row.head.into()), row.content),
        None => (None, Arc::default()),
    };
    let found = compare(&earlier, later);
    let lines = |content: &Content, ids: &[LessonId]| -> Vec<LessonLine> {
        ids.iter().filter_map(|id| LessonLine::of(content, *id)).collect()
    };
    ChangesBody {
        since,
        lessons_added: lines(later, &found.lessons_added),
        lessons_withdrawn: lines(&earlier, &found.lessons_withdrawn),
        lessons_moved: found
            .lessons_moved
            .into_iter()
            .filter_map(|one| {
                Some(LessonMoved { lesson: LessonLine::of(later, one.lesson)?, from: one.from })
            })
            .collect(),
        lessons_retitled: found
            .lessons_retitled
            .into_iter()
            .filter_map(|one| {
                Some(LessonRetitled {
                    lesson: LessonLine::of(later, one.lesson)?,
                    title_before: one.title_before.to_string(),
                    step_title_before: one.step_title_before.to_string(),
                })
            })
            .collect(),
        added: found.added,
        withdrawn: found.withdrawn,
        moved: found.moved,
        relabelled: found.relabelled,
    }
}
