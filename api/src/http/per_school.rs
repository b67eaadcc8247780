//! What is worked out for a school from what it has, and kept until that changes.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use plumbline_core::id::SchoolId;

/// Schools kept at most; beyond it the next request makes its own anew.
const KEPT: usize = 32;

/// What was made so far, each with the version of what it was made of.
pub struct PerSchool<T> {
    kept: Mutex<HashMap<SchoolId, (T, i64)>>,
    making: Mutex<HashMap<SchoolId, Arc<tokio::sync::Mutex<()>>>>,
}

impl<T> Default for PerSchool<T> {
    fn default() -> Self {
        Self { kept: Mutex::default(), making: Mutex::default() }
    }
}

impl<T: Clone> PerSchool<T> {
    /// What a school has made of this version or a later one, and of which.
    pub fn since(&self, school: SchoolId, version: i64) -> Option<(T, i64)> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.get(&school).filter(|(_, v)| *v >= version).cloned()
    }

    /// What is held by whoever makes a school's, so that nobody else makes it too.
    pub fn making(&self, school: SchoolId) -> Arc<tokio::sync::Mutex<()>> {
        let mut making = self.making.lock().unwrap_or_else(PoisonError::into_inner);
        making.retain(|_, lock| Arc::strong_count(lock) > 1);
        making.entry(school).or_default().clone()
    }

    /// Keeps what was made, unless a later one is kept already.
    pub fn keep(&self, school: SchoolId, version: i64, made: &T) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.get(&school).is_some_and(|(_, v)| *v > version) {
            return;
        }
        if kept.len() >= KEPT && !kept.contains_key(&school) {
            kept.clear();
        }
        kept.insert(school, (made.clone(), version));
    }
}
