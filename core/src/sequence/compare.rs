//! What differs between two versions of a sequence. An item is the same item wherever it stands, a
//! GPC by its pair; what stands elsewhere is told from what only moved along with the rest.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::content::{Content, Item, ItemKind, Place};
use crate::{
    id::{ItemId, LessonId},
    text::Title,
};

/// What differs, each list in teaching order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Difference {
    /// Items only the later one has.
    pub added: Vec<PlacedItem>,
    /// Items only the earlier one has. What was recorded of them stays.
    pub withdrawn: Vec<PlacedItem>,
    /// Items that stand elsewhere among those both have: of the steps both have the fewest that explain their new
    /// order, with all they teach; of the lessons of the others the fewest; and of the items left the fewest.
    pub moved: Vec<MovedItem>,
    /// Items whose label or word to remember them by is another.
    pub relabelled: Vec<Relabelled>,
    /// Lessons only the later one has.
    pub lessons_added: Vec<LessonId>,
    /// Lessons only the earlier one has.
    pub lessons_withdrawn: Vec<LessonId>,
    /// Lessons that stand elsewhere among those both have, those that only go back over things too.
    pub lessons_moved: Vec<MovedLesson>,
    /// Lessons that are called otherwise, or whose step is.
    pub lessons_retitled: Vec<RetitledLesson>,
}

/// A lesson that stands elsewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovedLesson {
    /// The lesson.
    pub lesson: LessonId,
    /// Its place before.
    pub from: Place,
}

/// A lesson under another title.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RetitledLesson {
    /// The lesson.
    pub lesson: LessonId,
    /// Its title before.
    pub title_before: Title,
    /// The title of the step it was in.
    pub step_title_before: Title,
}

/// An item and the place of the first lesson that teaches it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlacedItem {
    /// The item.
    pub item: Item,
    /// Its place.
    pub place: Place,
}

/// An item that stands elsewhere.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MovedItem {
    /// The item.
    pub item: Item,
    /// Its place before.
    pub from: Place,
    /// Its place now.
    pub to: Place,
}

/// An item under another label.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Relabelled {
    /// The item as it is now.
    pub item: Item,
    /// The label before.
    pub label_before: Title,
    /// The word to remember it by, before.
    pub keyword_before: Option<Title>,
}

impl Difference {
    /// Whether nothing differs but, perhaps, how items are spread over lessons.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Compares two contents.
pub fn compare(before: &Content, after: &Content) -> Difference {
    let (old, new) = (places(before), places(after));
    let known = |items: &[PlacedItem]| -> BTreeMap<ItemId, PlacedItem> {
        items.iter().map(|one| (one.item.id, one.clone())).collect()
    };
    let (was, is) = (known(&old), known(&new));
    let elsewhere = elsewhere(before, after);
    let moved = moved(&elsewhere, &old, &new);
    let mut out = Difference {
        added: new.iter().filter(|one| !was.contains_key(&one.item.id)).cloned().collect(),
        withdrawn: old.iter().filter(|one| !is.contains_key(&one.item.id)).cloned().collect(),
        ..Difference::default()
    };
    for to in &new {
        let Some(from) = was.get(&to.item.id) else { continue };
        // Steps or lessons that changed their ids and nothing else move nothing.
        if moved.contains(&to.item.id) && from.place != to.place {
            out.moved.push(MovedItem { item: to.item.clone(), from: from.place, to: to.place });
        }
        if (&from.item.label, &from.item.keyword) != (&to.item.label, &to.item.keyword) {
            out.relabelled.push(Relabelled {
                item: to.item.clone(),
                label_before: from.item.label.clone(),
                keyword_before: from.item.keyword.clone(),
            });
        }
    }
    let mut gone: BTreeMap<LessonId, _> = before.lessons().map(|found| (found.2.id, found)).collect();
    for (place, step, lesson) in after.lessons() {
        let Some((from, old_step, old)) = gone.remove(&lesson.id) else {
            out.lessons_added.push(lesson.id);
            continue;
        };
        if elsewhere.contains(&place) && from != place {
            out.lessons_moved.push(MovedLesson { lesson: lesson.id, from });
        }
        let step_retitled = old_step.id == step.id && old_step.title != step.title;
        if old.title != lesson.title || step_retitled {
            out.lessons_retitled.push(RetitledLesson {
                lesson: lesson.id,
                title_before: old.title.clone(),
                step_title_before: old_step.title.clone(),
            });
        }
    }
    let left = before.lessons().map(|(_, _, lesson)| lesson.id);
    out.lessons_withdrawn = left.filter(|id| gone.contains_key(id)).collect();
    out
}

/// What is taught, by the first lesson that does. Going back over things teaches nothing new.
fn places(content: &Content) -> Vec<PlacedItem> {
    let mut seen = BTreeSet::new();
    let items =
        content.lessons().flat_map(|(place, _, lesson)| lesson.items.iter().map(move |item| (place, item)));
    let taught = items.filter(|(_, item)| item.kind != ItemKind::Review && seen.insert(item.id));
    taught.map(|(place, item)| PlacedItem { item: item.clone(), place }).collect()
}

/// Where the lessons stand now that stand elsewhere, or whose step does. A step or lesson that was moved takes what it
/// teaches along, so that nothing it was moved past is said to have moved, however little that teaches.
fn elsewhere(before: &Content, after: &Content) -> BTreeSet<Place> {
    let steps = out_of_order(before.steps.iter().map(|step| step.id), after.steps.iter().map(|step| step.id));
    let lessons = |content: &Content| -> Vec<LessonId> {
        let staying = content.steps.iter().filter(|step| !steps.contains(&step.id));
        staying.flat_map(|step| &step.lessons).map(|lesson| lesson.id).collect()
    };
    let lessons = out_of_order(lessons(before), lessons(after));
    let elsewhere =
        after.lessons().filter(|(_, step, lesson)| steps.contains(&step.id) || lessons.contains(&lesson.id));
    elsewhere.map(|(place, ..)| place).collect()
}

/// The items of both that stand elsewhere: those of these lessons, and of the others the fewest.
fn moved(elsewhere: &BTreeSet<Place>, old: &[PlacedItem], new: &[PlacedItem]) -> BTreeSet<ItemId> {
    let there = new.iter().filter(|one| elsewhere.contains(&one.place));
    let mut moved: BTreeSet<ItemId> = there.map(|one| one.item.id).collect();
    let left = |items: &[PlacedItem]| -> Vec<ItemId> {
        items.iter().map(|one| one.item.id).filter(|id| !moved.contains(id)).collect()
    };
    let items = out_of_order(left(old), left(new));
    moved.extend(items);
    moved
}

/// Of what is in both lists the fewest without which the others stand in one order in both; of as many, those that
/// come earlier now.
fn out_of_order<T: Ord + Copy>(
    old: impl IntoIterator<Item = T>,
    new: impl IntoIterator<Item = T>,
) -> BTreeSet<T> {
    let rank: BTreeMap<T, usize> = old.into_iter().zip(0..).collect();
    let common: Vec<(T, usize)> = new.into_iter().filter_map(|one| Some((one, *rank.get(&one)?))).collect();
    let ranks: Vec<usize> = common.iter().map(|(_, rank)| *rank).collect();
    let staying: BTreeSet<usize> = longest_rising(&ranks).into_iter().collect();
    let moved = common.iter().enumerate().filter(|(at, _)| !staying.contains(at));
    moved.map(|(_, (one, _))| *one).collect()
}

/// Positions of a longest rising run of numbers that are all different.
fn longest_rising(numbers: &[usize]) -> Vec<usize> {
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; numbers.len()];
    for (at, number) in numbers.iter().enumerate() {
        let length = ends.partition_point(|end| numbers[*end] < *number);
        before[at] = length.checked_sub(1).map(|last| ends[last]);
        if length == ends.len() {
            ends.push(at);
        } else {
            ends[length] = at;
        }
    }
    let mut run = Vec::new();
    let mut at = ends.last().copied();
    while let Some(here) = at {
        run.push(here);
        at = before[here];
    }
    run.reverse();
    run
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::{
        super::content::{Gpc, Lesson, Step},
        *,
    };
    use crate::id::Id;

    fn gpc(grapheme: &str, phoneme: &str) -> Item {
        let gpc = Gpc { grapheme: grapheme.into(), phoneme: phoneme.into() };
        Item {
            id: gpc.id(),
            kind: ItemKind::Gpc,
            label: Title::new(&gpc.label()).unwrap(),
            gpc: Some(gpc),
            keyword: None,
        }
    }

    fn review() -> Item {
        let label = Title::new("Review").unwrap();
        Item {
            id: Id::from_uuid(Uuid::from_u128(77)),
            kind: ItemKind::Review,
            label,
            gpc: None,
            keyword: None,
        }
    }

    /// One step; lessons by number with their items.
    fn content(lessons: &[(u128, Vec<Item>)]) -> Content {
        let lesson = |(n, items): &(u128, Vec<Item>)| Lesson {
            id: Id::from_uuid(Uuid::from_u128(*n)),
            title: Title::new("Lesson").unwrap(),
            items: items.clone(),
        };
        let lessons = lessons.iter().map(lesson).collect();
        Content {
            steps: vec![Step {
                id: Id::from_uuid(Uuid::from_u128(1)),
                title: Title::new("Step").unwrap(),
                lessons,
            }],
        }
    }

    fn labels(items: &[PlacedItem]) -> Vec<(&str, usize)> {
        items.iter().map(|one| (one.item.label.as_str(), one.place.lesson)).collect()
    }

    #[test]
    fn one_that_moves_is_one_that_moves() {
        let [m, o, d, e, n] =
            [("m", "m"), ("o", "ɒ"), ("d", "d"), ("e", "ɛ"), ("n", "n")].map(|(g, p)| gpc(g, p));
        let one = |n: u128, item: &Item| (n, vec![item.clone()]);
        let before = content(&[one(11, &m), one(12, &o), one(13, &d), one(14, &e)]);
        // e first: the other three only make room. n is new, d is gone.
        let after = content(&[one(14, &e), one(11, &m), one(15, &n), one(12, &o), (16, vec![review()])]);
        let found = compare(&before, &after);
        assert_eq!(labels(&found.added), [("n /n/", 3)]);
        assert_eq!(labels(&found.withdrawn), [("d /d/", 3)]);
        let moved: Vec<_> =
            found.moved.iter().map(|one| (one.item.label.as_str(), one.from.lesson, one.to.lesson)).collect();
        assert_eq!(moved, [("e /ɛ/", 4, 1)]);
        assert_eq!(found.lessons_added.len(), 2);
        assert_eq!(found.lessons_withdrawn, [Id::from_uuid(Uuid::from_u128(13))]);
        assert!(found.relabelled.is_empty());
    }

    #[test]
    fn a_step_or_lesson_that_was_moved_is_named_and_not_what_it_was_moved_past() {
        let step = |n: u128, lessons: Vec<Lesson>| Step {
            id: Id::from_uuid(Uuid::from_u128(n)),
            title: Title::new("Step").unwrap(),
            lessons,
        };
        let [m, o, d, e, n] =
            [("m", "m"), ("o", "ɒ"), ("d", "d"), ("e", "ɛ"), ("n", "n")].map(|(g, p)| gpc(g, p));
        let whole = content(&[(11, vec![m]), (12, vec![o]), (13, vec![d, e, n])]);
        let [first, second, third] = [0, 1, 2].map(|at| whole.steps[0].lessons[at].clone());
        let found = |before: Vec<Step>, after: Vec<Step>| -> Vec<String> {
            let moved = compare(&Content { steps: before }, &Content { steps: after }).moved;
            moved.iter().map(|one| one.item.label.to_string()).collect()
        };
        let three = ["d /d/", "e /ɛ/", "n /n/"];
        let (a, b, c) =
            (step(1, vec![first.clone()]), step(2, vec![second.clone()]), step(3, vec![third.clone()]));
        assert_eq!(found(vec![a.clone(), b.clone(), c.clone()], vec![c, a, b]), three);
        let one = |lessons: &[&Lesson]| vec![step(1, lessons.iter().copied().cloned().collect())];
        assert_eq!(found(one(&[&first, &second, &third]), one(&[&third, &first, &second])), three);
        // A lesson that teaches nothing new, and titles.
        let back = content(&[(21, vec![review()]), (22, vec![review()]), (23, vec![review()])]);
        let mut later = back.clone();
        later.steps[0].lessons.rotate_right(1);
        later.steps[0].title = Title::new("Called otherwise").unwrap();
        let found_back = compare(&back, &later);
        let lesson = |n: u128| Id::from_uuid(Uuid::from_u128(n));
        let from = Place { step: 1, lesson: 3 };
        assert_eq!(found_back.lessons_moved, [MovedLesson { lesson: lesson(23), from }]);
        let retitled: Vec<_> = found_back.lessons_retitled.iter().map(|one| one.lesson).collect();
        assert_eq!(retitled, [lesson(23), lesson(21), lesson(22)]);
        assert_eq!(found_back.lessons_retitled[0].step_title_before.as_str(), "Step");
        // Only the ids changed places.
        let ids = |n: u128, m: u128| vec![step(n, vec![first.clone()]), step(m, vec![second.clone()])];
        assert_eq!(found(ids(1, 2), ids(2, 1)), Vec::<String>::new());
        // Of two that changed places, the one that comes earlier now.
        let parted = vec![step(1, vec![second.clone()]), step(2, vec![first.clone(), third.clone()])];
        assert_eq!(found(vec![step(1, vec![first, second]), step(2, vec![third])], parted), ["o /ɒ/"]);
    }

    #[test]
    fn a_pair_is_itself_wherever_it_stands_and_another_sound_is_another_pair() {
        let before = content(&[(11, vec![gpc("ow", "aʊ")]), (12, vec![gpc("m", "m")])]);
        // A step more before them, and the pair in a lesson of another id: nothing moved.
        let mut after = content(&[(21, vec![gpc("ow", "aʊ")]), (12, vec![gpc("m", "m")])]);
        after.steps.insert(
            0,
            Step { id: Id::from_uuid(Uuid::from_u128(2)), lessons: Vec::new(), ..after.steps[0].clone() },
        );
        let found = compare(&before, &after);
        assert!(found.moved.is_empty() && found.added.is_empty() && found.withdrawn.is_empty());
        let other = content(&[(11, vec![gpc("ow", "əʊ")]), (12, vec![gpc("m", "m")])]);
        let found = compare(&before, &other);
        assert_eq!(
            (labels(&found.added), labels(&found.withdrawn)),
            (vec![("ow /əʊ/", 1)], vec![("ow /aʊ/", 1)])
        );
        assert!(compare(&before, &before).is_empty());
    }

    #[test]
    fn another_word_to_remember_it_by_is_said() {
        let before = content(&[(11, vec![gpc("ai", "eɪ")])]);
        let keyword = Title::new("rain").unwrap();
        let after = content(&[(11, vec![Item { keyword: Some(keyword), ..gpc("ai", "eɪ") }])]);
        let found = compare(&before, &after);
        assert_eq!((found.relabelled.len(), found.relabelled[0].keyword_before.is_none()), (1, true));
    }
}
