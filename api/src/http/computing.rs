//! Turns at computing. What a request computes runs on the threads that also wait for the store;
//! with as many turns as cores, and one fewer for any one school, neither a long text nor one
//! school's many leave the others waiting for theirs.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
    thread::available_parallelism,
    time::Duration,
};

use plumbline_core::id::SchoolId;
use tokio::{
    sync::{OwnedSemaphorePermit, Semaphore},
    time::timeout,
};

use super::problem::{Code, Problem};

/// How long a request waits for its turn before it is told to come back.
const PATIENCE: Duration = Duration::from_secs(10);
/// When it should.
const COME_BACK: u64 = 5;

/// The turns there are.
pub struct Computing {
    cores: Arc<Semaphore>,
    share: usize,
    schools: Mutex<HashMap<SchoolId, Arc<Semaphore>>>,
}

/// A turn, kept until the computing is done.
pub struct Turn {
    _school: OwnedSemaphorePermit,
    _core: OwnedSemaphorePermit,
}

impl Default for Computing {
    fn default() -> Self {
        Self::new(available_parallelism().map_or(1, usize::from))
    }
}

impl Computing {
    fn new(cores: usize) -> Self {
        let share = cores.saturating_sub(1).max(1);
        Self { cores: Arc::new(Semaphore::new(cores)), share, schools: Mutex::default() }
    }

    /// Waits for a school's turn, first come, first served.
    ///
    /// # Errors
    /// `busy` after some seconds without one.
    pub async fn turn(&self, school: SchoolId) -> Result<Turn, Problem> {
        let busy = || Problem::new(Code::Busy).after(COME_BACK);
        let (share, cores) = (self.share_of(school), self.cores.clone());
        let turn = timeout(PATIENCE, async move {
            let school = share.acquire_owned().await?;
            Ok::<_, tokio::sync::AcquireError>(Turn { _school: school, _core: cores.acquire_owned().await? })
        });
        turn.await.map_err(|_| busy())?.map_err(|_| busy())
    }

    fn share_of(&self, school: SchoolId) -> Arc<Semaphore> {
        let mut schools = self.schools.lock().unwrap_or_else(PoisonError::into_inner);
        // A share that nobody waits for or holds is kept by this map alone.
        schools.retain(|_, share| Arc::strong_count(share) > 1);
        schools.entry(school).or_insert_with(|| Arc::new(Semaphore::new(self.share))).clone()
    }
}

#[cfg(test)]
mod tests {
    use std::future::{Future, poll_fn};

    use super::*;

    fn school(n: u128) -> SchoolId {
        SchoolId::from_uuid(uuid::Uuid::from_u128(n))
    }

    /// Whether a future is done at its first look.
    async fn at_once<F: Future>(future: F) -> bool {
        let mut future = Box::pin(future);
        poll_fn(|context| std::task::Poll::Ready(future.as_mut().poll(context).is_ready())).await
    }

    #[tokio::test]
    async fn no_school_takes_every_core_and_a_turn_given_back_is_the_next_ones() {
        let computing = Computing::new(2);
        let (one, other) = (school(1), school(2));
        let first = computing.turn(one).await.unwrap();
        assert!(!at_once(computing.turn(one)).await, "one of two cores is a school's share");
        let second = computing.turn(other).await.unwrap();
        assert!(!at_once(computing.turn(school(3))).await, "both cores are taken");
        drop(first);
        assert!(at_once(computing.turn(one)).await);
        drop(second);
        let _again = computing.turn(one).await.unwrap();
        assert_eq!(computing.schools.lock().unwrap().len(), 1, "shares nobody uses are dropped");
    }

    #[tokio::test(start_paused = true)]
    async fn who_waits_in_vain_is_told_to_come_back() {
        let computing = Computing::new(1);
        let one = school(1);
        let _held = computing.turn(one).await.unwrap();
        let refused = computing.turn(one).await.map(|_| ()).unwrap_err();
        assert_eq!(refused.code(), Code::Busy);
    }
}
