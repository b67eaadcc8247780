//! From what a lead typed to content with settled ids.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use uuid::Uuid;

use super::content::{Content, Gpc, Item, ItemKind, Lesson, Step};
use crate::{
    id::{ItemId, LessonId, StepId},
    phonics::word::Word,
    text::Title,
};

/// A draft as sent: ids may be missing for what is new.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Draft {
    /// The steps, in order.
    pub steps: Vec<DraftStep>,
}

/// A step of a draft.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DraftStep {
    /// Leave out for a new step.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<StepId>,
    /// As shown.
    pub title: Title,
    /// The lessons, in order.
    pub lessons: Vec<DraftLesson>,
}

/// A lesson of a draft.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DraftLesson {
    /// Leave out for a new lesson.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<LessonId>,
    /// As shown.
    pub title: Title,
    /// What it teaches, in order.
    pub items: Vec<DraftItem>,
}

/// An item of a draft.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DraftItem {
    /// Leave out for a new item and always for a GPC, whose id follows from its pair. An exception word without
    /// one is the word of this sequence that is spelt so, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<ItemId>,
    /// What it is.
    pub kind: ItemKind,
    /// As shown. Required but for a GPC, whose label is its pair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<Title>,
    /// The pair. Required for a GPC and refused for anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gpc: Option<Gpc>,
    /// A word to remember the GPC by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keyword: Option<Title>,
}

/// What is wrong with a field of what was sent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Fault {
    /// Where, as in `steps[2].lessons[0].items[1].gpc`.
    pub field: String,
    /// What, for a person.
    pub message: String,
}

/// Most steps, lessons in a step, and items in a lesson that a draft may hold.
const MOST: (usize, usize, usize) = (300, 50, 30);

/// What is said of an id another sequence gave, or nobody.
pub const UNKNOWN_ID: &str = "is not an id of this sequence; leave it out for something new";

/// What a sequence has used before.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// Ids of steps, lessons and items, but of GPCs: theirs follow from their pairs.
    ids: BTreeSet<Uuid>,
    /// Ids of exception words by their spelling, those of the content added first in front.
    words: BTreeMap<String, Vec<Uuid>>,
    /// Lessons that only go back over something, with the ids of their items, by title and labels; likewise.
    reviews: BTreeMap<Labels, Vec<(Uuid, Vec<Uuid>)>>,
}

/// The title of a lesson and the labels of its items.
type Labels = (String, Vec<String>);

impl Known {
    /// Adds what stands in a content.
    pub fn add(&mut self, content: &Content) {
        self.ids.extend(content.steps.iter().map(|step| step.id.uuid()));
        self.ids.extend(content.lessons().map(|(_, _, lesson)| lesson.id.uuid()));
        for (_, _, lesson) in content.lessons() {
            if lesson.items.iter().all(|item| item.kind == ItemKind::Review) {
                let labels = lesson.items.iter().map(|item| item.label.to_string()).collect();
                let ids = lesson.items.iter().map(|item| item.id.uuid()).collect();
                let known = self.reviews.entry((lesson.title.to_string(), labels)).or_default();
                known.push((lesson.id.uuid(), ids));
            }
        }
        for item in content.items().filter(|item| item.gpc.is_none()) {
            self.ids.insert(item.id.uuid());
            if item.kind == ItemKind::ExceptionWord
                && let Ok(word) = Word::parse(item.label.as_str())
            {
                self.words.entry(word.key()).or_default().push(item.id.uuid());
            }
        }
    }
}

/// The ids that a draft gives.
fn given(draft: &Draft) -> BTreeSet<Uuid> {
    let lessons = || draft.steps.iter().flat_map(|step| &step.lessons);
    let steps = draft.steps.iter().filter_map(|step| Some(step.id?.uuid()));
    let items = lessons().flat_map(|lesson| &lesson.items).filter_map(|item| Some(item.id?.uuid()));
    steps.chain(lessons().filter_map(|lesson| Some(lesson.id?.uuid()))).chain(items).collect()
}

/// Gives every new step, lesson and item an id and checks the form of each item.
///
/// `known` is what this sequence has used before: an id that is neither new nor known is refused, so that a
/// draft cannot capture another sequence's records. An exception word without an id is the known one of its
/// spelling, and a lesson that only goes back over something the known one of its title and labels, so that what was
/// taught of them stays taught. `new_id` gives a fresh UUID.
///
/// # Errors
/// Every fault found, with its field.
pub fn settle(draft: Draft, known: &Known, new_id: &mut dyn FnMut() -> Uuid) -> Result<Content, Vec<Fault>> {
    let given = given(&draft);
    let mut settling = Settling { known, new_id, given, used: BTreeSet::new(), faults: Vec::new() };
    settling.at_most("steps", draft.steps.len(), MOST.0);
    let steps = draft.steps.into_iter().enumerate().map(|(n, step)| settling.step(n, step)).collect();
    if settling.faults.is_empty() { Ok(Content { steps }) } else { Err(settling.faults) }
}

struct Settling<'a> {
    known: &'a Known,
    new_id: &'a mut dyn FnMut() -> Uuid,
    given: BTreeSet<Uuid>,
    used: BTreeSet<Uuid>,
    faults: Vec<Fault>,
}

impl Settling<'_> {
    fn fault(&mut self, field: impl Into<String>, message: impl Into<String>) {
        self.faults.push(Fault { field: field.into(), message: message.into() });
    }

    fn at_most(&mut self, field: &str, count: usize, most: usize) {
        if count > most {
            self.fault(field, format!("holds {count}; at most {most} are possible"));
        }
    }

    /// A given id must be known and not stand elsewhere in the draft; none means a fresh one.
    fn id(&mut self, at: &str, given: Option<Uuid>) -> Uuid {
        let Some(id) = given else { return (self.new_id)() };
        if !self.known.ids.contains(&id) {
            self.fault(format!("{at}.id"), UNKNOWN_ID);
        } else if !self.used.insert(id) {
            self.fault(format!("{at}.id"), "stands twice in this draft");
        }
        id
    }

    /// The id of the known word of this spelling that stands nowhere else in the draft.
    fn word(&self, label: Option<&Title>) -> Option<Uuid> {
        let word = Word::parse(label?.as_str()).ok()?;
        let free = |id: &&Uuid| !self.given.contains(id) && !self.used.contains(id);
        self.known.words.get(&word.key())?.iter().find(free).copied()
    }

    fn step(&mut self, n: usize, step: DraftStep) -> Step {
        let at = format!("steps[{n}]");
        self.at_most(&format!("{at}.lessons"), step.lessons.len(), MOST.1);
        Step {
            id: StepId::from_uuid(self.id(&at, step.id.map(StepId::uuid))),
            title: step.title,
            lessons: step
                .lessons
                .into_iter()
                .enumerate()
                .map(|(n, lesson)| self.lesson(&at, n, lesson))
                .collect(),
        }
    }

    /// Gives a lesson that only goes back over something, and has no ids, those of the known one that says the same and
    /// stands nowhere else in the draft: nobody has it before them again.
    fn as_known(&self, lesson: &mut DraftLesson) {
        let new = |item: &DraftItem| item.kind == ItemKind::Review && item.id.is_none();
        if lesson.id.is_some() || lesson.items.is_empty() || !lesson.items.iter().all(new) {
            return;
        }
        let labels = lesson.items.iter().flat_map(|item| &item.label).map(ToString::to_string).collect();
        let free = |id: &Uuid| !self.given.contains(id) && !self.used.contains(id);
        let known = self.known.reviews.get(&(lesson.title.to_string(), labels));
        let known = known.into_iter().flatten().find(|(id, items)| free(id) && items.iter().all(free));
        if let Some((id, items)) = known {
            lesson.id = Some(LessonId::from_uuid(*id));
            for (item, id) in lesson.items.iter_mut().zip(items) {
                item.id = Some(ItemId::from_uuid(*id));
            }
        }
    }

    fn lesson(&mut self, step: &str, n: usize, mut lesson: DraftLesson) -> Lesson {
        let at = format!("{step}.lessons[{n}]");
        self.as_known(&mut lesson);
        self.at_most(&format!("{at}.items"), lesson.items.len(), MOST.2);
        Lesson {
            id: LessonId::from_uuid(self.id(&at, lesson.id.map(LessonId::uuid))),
            title: lesson.title,
            items: lesson
                .items
                .into_iter()
                .enumerate()
                .filter_map(|(n, item)| self.item(&at, n, item))
                .collect(),
        }
    }

    fn item(&mut self, lesson: &str, n: usize, item: DraftItem) -> Option<Item> {
        let at = format!("{lesson}.items[{n}]");
        if item.kind == ItemKind::Gpc {
            return self.gpc(&at, item);
        }
        if item.gpc.is_some() {
            self.fault(format!("{at}.gpc"), "is for items of kind gpc");
        }
        if item.keyword.is_some() {
            self.fault(format!("{at}.keyword"), "is for items of kind gpc");
        }
        let of_word = || self.word(item.label.as_ref()).filter(|_| item.kind == ItemKind::ExceptionWord);
        let given = item.id.map(ItemId::uuid).or_else(of_word);
        let id = self.id(&at, given);
        let Some(label) = item.label else {
            self.fault(format!("{at}.label"), "is required");
            return None;
        };
        if item.kind == ItemKind::ExceptionWord
            && let Err(error) = Word::parse(label.as_str())
        {
            self.fault(format!("{at}.label"), format!("must be one word: {error}"));
        }
        Some(Item { id: ItemId::from_uuid(id), kind: item.kind, label, gpc: None, keyword: None })
    }

    fn gpc(&mut self, at: &str, item: DraftItem) -> Option<Item> {
        let Some(gpc) = item.gpc else {
            self.fault(format!("{at}.gpc"), "is required for kind gpc");
            return None;
        };
        let (gpc, faults) = gpc.settled();
        for (field, message) in faults {
            self.fault(format!("{at}.gpc.{field}"), message);
        }
        let label = match Title::new(&gpc.label()) {
            Ok(label) => label,
            Err(error) => {
                self.fault(format!("{at}.gpc"), error.to_string());
                return None;
            }
        };
        if item.id.is_some_and(|id| id != gpc.id()) {
            self.fault(format!("{at}.id"), "does not belong to this pair; leave it out");
        }
        Some(Item { id: gpc.id(), kind: ItemKind::Gpc, label, gpc: Some(gpc), keyword: item.keyword })
    }
}
