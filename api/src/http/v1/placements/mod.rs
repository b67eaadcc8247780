//! Placement checks: where in a sequence to begin with a new pupil. A suggestion, and nobody is put anywhere
//! by it.

pub mod answer;
pub mod create;
pub mod end;
pub mod get;
pub mod list;

use std::collections::BTreeMap;

use plumbline_core::{
    check::{
        CheckItem, Outcome,
        placement::{Asked, PlacementEnd, Taught, as_asked, by_place, in_teaching_order, placing},
    },
    id::{
        CheckId, CheckItemId, ItemId, LessonId, PlacementId, PupilId, ResponseId, SequenceId, StaffId,
        VersionId,
    },
    rules::PlacementRule,
    sequence::{Gpc, Place},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::PlacementView;

/// A placement check. While it goes on it shows what to ask next, and neither marks nor a total of right ones.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000013", "pupil_id": "0199f2c4-0000-7000-8000-000000000007",
    "sequence_id": "0199f2c4-0000-7000-8000-00000000000a", "version_id": "0199f2c4-0000-7000-8000-00000000000d",
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "started_by": "0199f2c4-0000-7000-8000-000000000002",
    "opens_on": "2026-11-25", "closes_on": "2026-12-08", "asked": 3, "end": null,
    "next": {"item_id": "0199f2c4-0000-7000-8000-00000000000f", "prompt": "igh",
             "gpc": {"grapheme": "igh", "phoneme": "aɪ"}, "keyword": "night"},
    "last": {"response_id": "0199f2c4-0000-7000-8000-000000000011",
             "item_id": "0199f2c4-0000-7000-8000-000000000010", "prompt": "oa"},
    "result": null
}))]
pub struct PlacementBody {
    /// Its id. Its answers are responses of the check round with this id, and are corrected there.
    pub id: PlacementId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The sequence it walks.
    pub sequence_id: SequenceId,
    /// The version in force when it began.
    pub version_id: VersionId,
    /// What its items belong to.
    pub check_id: CheckId,
    /// Who began it.
    pub started_by: StaffId,
    /// First day.
    pub opens_on: Date,
    /// The last day on which it can be gone on with.
    pub closes_on: Date,
    /// How many items were asked.
    pub asked: usize,
    /// Why it asks nothing more; null while it goes on.
    pub end: Option<PlacementEnd>,
    /// What to ask next; null once it is over.
    pub next: Option<NextItem>,
    /// The item answered last, to take the answer back or correct it by.
    pub last: Option<LastAnswer>,
    /// What it found; null while it goes on.
    pub result: Option<PlacementResult>,
}

/// An item to ask.
#[derive(Serialize, ToSchema)]
pub struct NextItem {
    /// The item.
    pub item_id: CheckItemId,
    /// What the pupil is shown.
    pub prompt: String,
    /// What is right.
    pub gpc: Gpc,
    /// A word to remember it by.
    pub keyword: Option<String>,
}

/// The item answered last.
#[derive(Serialize, ToSchema)]
pub struct LastAnswer {
    /// The response to correct.
    pub response_id: ResponseId,
    /// The item.
    pub item_id: CheckItemId,
    /// What the pupil was shown.
    pub prompt: String,
}

/// A suggestion of where to look for the place to begin at. Who decides is the adult who knows the pupil.
#[derive(Serialize, ToSchema)]
pub struct PlacementResult {
    /// The first lesson with something the pupil may not know; null where that is none.
    pub from: Option<LessonPlace>,
    /// The lesson before which the pupil seems to know no more; null for beyond the last.
    pub to: Option<LessonPlace>,
    /// GPCs of the lessons before `to` that were asked and not right.
    pub not_right: Vec<String>,
    /// What the suggestion is not.
    pub caution: String,
}

/// A lesson of the version.
#[derive(Serialize, ToSchema)]
pub struct LessonPlace {
    /// The lesson.
    pub lesson_id: LessonId,
    /// As shown.
    pub title: String,
    /// Its step, as shown.
    pub step_title: String,
    /// Where it stands.
    pub place: Place,
}

impl From<&Taught<'_>> for LessonPlace {
    fn from(taught: &Taught<'_>) -> Self {
        Self {
            lesson_id: taught.lesson.id,
            title: taught.lesson.title.to_string(),
            step_title: taught.step.title.to_string(),
            place: taught.place,
        }
    }
}

/// The answers that count, with the GPC each asked for.
fn answers(view: &PlacementView) -> Vec<(Asked, ItemId)> {
    let gpcs: BTreeMap<CheckItemId, ItemId> =
        view.check.items.iter().filter_map(|item| Some((item.id, item.gpc_id?))).collect();
    as_asked(&view.responses).into_iter().filter_map(|one| Some((one, *gpcs.get(&one.item)?))).collect()
}

/// How far a placement check is, as of a day.
fn body(view: &PlacementView, rule: &PlacementRule, today: Date) -> PlacementBody {
    let order = in_teaching_order(&view.version.content);
    let answers = answers(view);
    let by_gpc: Vec<(ItemId, Outcome)> = answers.iter().map(|(one, gpc)| (*gpc, one.outcome)).collect();
    let places = by_place(&order, &by_gpc);
    let found = placing(order.len(), &places, rule);
    let end = found.end.or_else(|| (!view.is_open(today)).then_some(PlacementEnd::Ended));
    let item_of = |gpc: ItemId| view.check.items.iter().find(|item| item.gpc_id == Some(gpc));
    let next = found.next.filter(|_| end.is_none()).and_then(|at| {
        let item = order.get(at)?.item;
        let asks: &CheckItem = item_of(item.id)?;
        Some(NextItem {
            item_id: asks.id,
            prompt: asks.prompt.to_string(),
            gpc: item.gpc.clone()?,
            keyword: item.keyword.as_ref().map(ToString::to_string),
        })
    });
    let last = answers.last().and_then(|(one, gpc)| {
        let prompt = item_of(*gpc)?.prompt.to_string();
        Some(LastAnswer { response_id: one.response, item_id: one.item, prompt })
    });
    let result = end.map(|_| PlacementResult {
        from: order.get(found.between.0).map(LessonPlace::from),
        to: order.get(found.between.1).map(LessonPlace::from),
        not_right: places
            .iter()
            .filter(|(at, outcome)| {
                *at < found.between.1 && matches!(outcome, Outcome::Wrong | Outcome::NoResponse)
            })
            .filter_map(|(at, _)| Some(order.get(*at)?.item.label.to_string()))
            .collect(),
        caution: rule.caution.clone(),
    });
    PlacementBody {
        id: view.row.id,
        pupil_id: view.row.pupil_id,
        sequence_id: view.version.head.sequence_id,
        version_id: view.row.version_id,
        check_id: view.row.check_id,
        started_by: view.row.started_by,
        opens_on: view.round.opens_on,
        closes_on: view.round.closes_on,
        asked: found.asked,
        end,
        next,
        last,
        result,
    }
}
