//! Parsed contents of published versions. A version never changes, so a kept one is never
//! stale; nothing else is kept in memory between requests.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use plumbline_core::{
    id::{SchoolId, VersionId},
    sequence::Content,
};

/// Versions kept at once; beyond it all are dropped and read again as needed.
const KEPT: usize = 64;

/// The versions read lately.
#[derive(Clone, Default)]
pub(super) struct Versions(Arc<Mutex<Kept>>);

type Kept = HashMap<(SchoolId, VersionId), Arc<Content>>;

impl Versions {
    /// A version's content, if it is kept. Ask only after its row was found.
    pub(super) fn get(&self, school: SchoolId, id: VersionId) -> Option<Arc<Content>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&(school, id)).cloned()
    }

    /// Keeps a version's content.
    pub(super) fn keep(&self, school: SchoolId, id: VersionId, content: Arc<Content>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= KEPT {
            kept.clear();
        }
        kept.insert((school, id), content);
    }
}
