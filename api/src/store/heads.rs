//! Who waits for the next commit of a school. Told after the commit, by this process alone: what another node commits
//! is found out by asking now and then. A wake-up is a hint; it holds no data.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

use plumbline_core::id::SchoolId;
use tokio::sync::watch;

/// The schools that somebody follows; none of any once the server is stopping.
#[derive(Clone)]
pub(super) struct Heads(Arc<Mutex<Option<Followed>>>);

type Followed = HashMap<SchoolId, watch::Sender<()>>;

impl Default for Heads {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(Some(Followed::new()))))
    }
}

impl Heads {
    fn lock(&self) -> MutexGuard<'_, Option<Followed>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Something of a school was committed.
    pub(super) fn stirred(&self, school: SchoolId) {
        let mut followed = self.lock();
        let Some(schools) = followed.as_mut() else { return };
        // Fails where nobody follows it any more.
        if schools.get(&school).is_some_and(|head| head.send(()).is_err()) {
            schools.remove(&school);
        }
    }

    pub(super) fn follow(&self, school: SchoolId) -> Following {
        let new = || watch::Sender::new(());
        match self.lock().as_mut() {
            Some(schools) => Following(schools.entry(school).or_insert_with(new).subscribe()),
            None => Following(new().subscribe()),
        }
    }

    pub(super) fn end(&self) {
        *self.lock() = None;
    }
}

/// A school's commits as they happen. Those that happen meanwhile are one wake-up.
pub struct Following(watch::Receiver<()>);

impl Following {
    /// Waits until something was committed since the last time; false once the server is stopping.
    pub async fn stirred(&mut self) -> bool {
        self.0.changed().await.is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn school(n: u128) -> SchoolId {
        SchoolId::from_uuid(Uuid::from_u128(n))
    }

    #[tokio::test]
    async fn who_follows_a_school_is_woken_by_it_alone_until_the_server_stops() {
        let heads = Heads::default();
        let (mut one, mut other) = (heads.follow(school(1)), heads.follow(school(2)));
        heads.stirred(school(1));
        heads.stirred(school(1));
        assert!(one.stirred().await);
        assert!(!one.0.has_changed().unwrap(), "two are one wake-up");
        assert!(!other.0.has_changed().unwrap());
        drop(one);
        heads.stirred(school(1));
        assert_eq!(heads.lock().as_ref().map(HashMap::len), Some(1), "nobody follows the first");
        heads.end();
        assert!(!other.stirred().await);
        assert!(!heads.follow(school(2)).stirred().await);
    }
}
