//! What the words of a calendar file mean: what the user says of them, the words of the export, the rule pack's year
//! groups and the school's classes. A category that is none of these is a question.

use std::collections::{BTreeMap, BTreeSet};

use super::{FOR_CLASSES, FileEvent, Meaning, plain};
use crate::{
    calendar::{ClosedFor, DayPart},
    id::ClassId,
    rules::RulePack,
    text::one_name,
};

/// What the user says that words are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// What an event is that is called so, or has such a category.
    Is(Meaning),
    /// The part of the day of events with such a category.
    Part(DayPart),
    /// Such a category says nothing.
    Nothing,
}

impl std::fmt::Display for Said {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Is(meaning) => meaning.fmt(f),
            Self::Part(part) => part.fmt(f),
            Self::Nothing => f.write_str("ignored"),
        }
    }
}

/// What the user says that words are.
#[derive(Clone, Debug, Default)]
pub struct Meanings(BTreeMap<String, Said>);

/// What cannot be said of words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MeaningError {
    /// There are none.
    #[error("holds an empty word")]
    Empty,
    /// They were said to mean something else.
    #[error("holds a word that is said to be {0} too")]
    Twice(Said),
}

impl Meanings {
    /// Adds what some words mean.
    ///
    /// # Errors
    /// If there are no words, or they mean something else already.
    pub fn say(&mut self, words: &str, said: Said) -> Result<(), MeaningError> {
        let words = plain(words);
        if words.is_empty() {
            return Err(MeaningError::Empty);
        }
        let first = *self.0.entry(words).or_insert(said);
        if first == said { Ok(()) } else { Err(MeaningError::Twice(first)) }
    }

    fn said(&self, words: &str) -> Option<Said> {
        self.0.get(&plain(words)).copied()
    }
}

/// What the words of a file may mean.
#[derive(Clone, Copy, Debug)]
pub struct Words<'a> {
    /// What the user says.
    pub said: &'a Meanings,
    /// The rule pack, whose labels name year groups.
    pub rules: &'a RulePack,
    /// The school's classes by name.
    pub classes: &'a [(ClassId, String)],
}

/// What a category says.
enum Category {
    Said(Said),
    Is(Meaning),
    Part(DayPart),
    YearGroup(String),
    Class(ClassId),
    SomeClass,
}

/// What an event is, of what part of the days and for whom.
pub(super) struct Read {
    pub(super) meaning: Meaning,
    pub(super) part: DayPart,
    pub(super) whom: ClosedFor,
}

/// The one thing that is said; none where nothing or several are.
fn agreed<T: Copy + Ord>(found: &BTreeSet<T>) -> Option<T> {
    found.first().copied().filter(|_| found.len() == 1)
}

/// Categories, as a person reads them.
fn quoted(categories: &[&str]) -> String {
    let each: Vec<_> = categories.iter().map(|category| format!("{category:?}")).collect();
    let kind = if each.len() == 1 { "category" } else { "categories" };
    format!("{kind} {}", each.join(", "))
}

impl Words<'_> {
    /// What a category says; none where it is not known.
    fn category(&self, words: &str) -> Option<Category> {
        let plain = plain(words);
        let class = || {
            let mut named = self.classes.iter().filter(|(_, name)| one_name(name, words));
            named.next().filter(|_| named.next().is_none()).map(|(id, _)| Category::Class(*id))
        };
        let year_group = |label: &str| self.rules.year_group_by_label(label);
        (self.said.said(words).map(Category::Said))
            .or_else(|| Meaning::parse(&plain).map(Category::Is))
            .or_else(|| DayPart::parse(&plain).map(Category::Part))
            .or_else(|| words.eq_ignore_ascii_case(FOR_CLASSES).then_some(Category::SomeClass))
            .or_else(|| {
                let found = year_group(words).or_else(|| year_group(&plain))?;
                Some(Category::YearGroup(found.code.clone()))
            })
            .or_else(class)
    }

    /// What an event is: what is said of its name, else of its categories, else its categories if they are
    /// words of ours; of each where they agree. Whom and what part of a day it is about, its categories say, and
    /// each of them has to be known.
    ///
    /// # Errors
    /// Why it has to be asked, for a person.
    pub(super) fn read(&self, event: &FileEvent) -> Result<Read, String> {
        let (mut said, mut own, mut parts) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
        let (mut year_groups, mut classes) = (BTreeSet::new(), BTreeSet::new());
        let (mut some_class, mut unknown) = (false, Vec::new());
        // A comma too many says nothing.
        for category in event.categories.iter().filter(|category| !plain(category).is_empty()) {
            match self.category(category) {
                Some(Category::Said(Said::Is(meaning))) => _ = said.insert(meaning),
                Some(Category::Said(Said::Part(part)) | Category::Part(part)) => _ = parts.insert(part),
                Some(Category::Said(Said::Nothing)) => {}
                Some(Category::Is(meaning)) => _ = own.insert(meaning),
                Some(Category::YearGroup(code)) => _ = year_groups.insert(code),
                Some(Category::Class(id)) => _ = classes.insert(id),
                Some(Category::SomeClass) => some_class = true,
                None => unknown.push(category.as_str()),
            }
        }
        let meaning = match self.said.said(&event.summary) {
            Some(Said::Is(meaning)) => meaning,
            _ if said.len() > 1 => return Err("its categories are said to be two things".into()),
            _ => match agreed(&said).or_else(|| agreed(&own)) {
                Some(meaning) => meaning,
                None if !own.is_empty() => return Err("its categories say two things".into()),
                None if unknown.is_empty() => return Err("nothing says what it is".into()),
                None => {
                    let says = if unknown.len() == 1 { "says" } else { "say" };
                    return Err(format!("neither its name nor its {} {says} what it is", quoted(&unknown)));
                }
            },
        };
        let whom = match (year_groups.is_empty(), classes.is_empty() && !some_class) {
            (true, true) => ClosedFor::School,
            (false, true) => ClosedFor::YearGroups(year_groups),
            (true, false) => ClosedFor::Classes(classes),
            (false, false) if meaning != Meaning::LeftOut => {
                return Err("it names year groups and classes: close them one by one".into());
            }
            (false, false) => ClosedFor::School,
        };
        let whole = whom == ClosedFor::School && parts.is_empty();
        match meaning {
            Meaning::LeftOut => {}
            _ if !unknown.is_empty() => {
                let (it, are) = if unknown.len() == 1 { ("it is", "is") } else { ("each is", "are") };
                let unknown = quoted(&unknown);
                return Err(format!("its {unknown} {are} not known: say what {it}, or that it is ignored"));
            }
            Meaning::SchoolYear | Meaning::HalfTerm if !whole => {
                return Err("a school year or half term is for the whole school and of whole days".into());
            }
            _ => {}
        }
        let part = agreed(&parts);
        Ok(Read { meaning, part: part.unwrap_or(DayPart::Whole), whom })
    }
}
