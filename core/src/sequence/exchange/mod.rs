//! Sequences in files: CASE 1.1 JSON and a flat CSV. Both carry every id, and what is
//! written reads back as the same draft.

pub mod case;
pub mod csv;
#[cfg(test)]
mod tests;

use super::{Content, Draft, DraftItem, DraftLesson, DraftStep};

crate::vocabulary! {
    /// The format of a file.
    pub enum Format {
        /// Competencies and Academic Standards Exchange 1.1, JSON.
        Case = "case",
        /// Comma-separated values, one row an item.
        Csv = "csv",
    }
}

impl From<Content> for Draft {
    fn from(content: Content) -> Self {
        let item = |item: super::Item| DraftItem {
            id: Some(item.id),
            kind: item.kind,
            label: Some(item.label),
            gpc: item.gpc,
            keyword: item.keyword,
        };
        let lesson = |lesson: super::Lesson| DraftLesson {
            id: Some(lesson.id),
            title: lesson.title,
            items: lesson.items.into_iter().map(item).collect(),
        };
        let step = |step: super::Step| DraftStep {
            id: Some(step.id),
            title: step.title,
            lessons: step.lessons.into_iter().map(lesson).collect(),
        };
        Self { steps: content.steps.into_iter().map(step).collect() }
    }
}

impl Draft {
    /// The same as something new: for a sequence that did not make these ids.
    #[must_use]
    pub fn without_ids(mut self) -> Self {
        for step in &mut self.steps {
            step.id = None;
            for lesson in &mut step.lessons {
                lesson.id = None;
                lesson.items.iter_mut().for_each(|item| item.id = None);
            }
        }
        self
    }
}
