//! The one thread that searches for sequence proposals, behind a short queue: off the workers
//! that serve requests and off the pool that waits for the store.
//!
//! The row of a proposal is the truth; what is kept here is only how to follow it and how to stop
//! it. A server says every few seconds that it still has a proposal in hand. One that stops says
//! so, and of one that dies the silence tells.

mod queue;

use std::{
    collections::BTreeMap,
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
        mpsc::RecvTimeoutError,
    },
    thread::JoinHandle,
    time::Duration,
};

use plumbline_core::{
    id::{ProposalId, SchoolId},
    phonics::{
        Engine,
        proposal::{Constraints, Progress, Search},
    },
    sequence::INTERRUPTED,
};
use tokio::sync::watch;

use self::queue::Queue;
use crate::store::{Store, gate::ProposalEnd};

/// Proposals that may wait before others are told to come back.
const ROOM: usize = 8;
/// How often the store hears that a proposal is in hand; well within
/// [`plumbline_core::sequence::SILENT_SECONDS`].
const BEAT: Duration = Duration::from_secs(8);

/// A proposal to search for.
pub struct Job {
    /// The school.
    pub school: SchoolId,
    /// The proposal, as added to the store.
    pub id: ProposalId,
    /// What it must keep to.
    pub constraints: Constraints,
    /// The most correspondences in a lesson of its draft.
    pub per_lesson: usize,
    /// The school's engine.
    pub engine: Arc<Engine>,
}

/// What followers of a proposal are told.
#[derive(Clone, Copy, Debug, Default)]
pub struct Told {
    /// How far the search is; none while it waits.
    pub progress: Option<Progress>,
    /// Whether this server is done with it.
    pub over: bool,
}

/// A proposal this server has in hand.
struct InHand {
    school: SchoolId,
    told: watch::Sender<Told>,
    given_up: AtomicBool,
}

#[derive(Default)]
struct Shared {
    in_hand: Mutex<BTreeMap<ProposalId, Arc<InHand>>>,
    stopping: AtomicBool,
}

/// The way to the thread. It ends when told to stop, or when the last of these is dropped.
#[derive(Clone)]
pub struct Proposer {
    shared: Arc<Shared>,
    queue: Arc<Queue<Job>>,
    thread: Arc<Thread>,
}

/// The thread, ended with the last that knows of it.
struct Thread {
    handle: Mutex<Option<JoinHandle<()>>>,
    queue: Arc<Queue<Job>>,
    shared: Arc<Shared>,
}

/// A place in the queue, kept until something is put there.
pub struct Place {
    place: queue::Place<Job>,
    shared: Arc<Shared>,
}

impl Proposer {
    /// Starts the thread.
    ///
    /// # Errors
    /// If there can be no further thread.
    pub fn start(store: Store) -> std::io::Result<Self> {
        let (queue, shared) = (Queue::new(ROOM), Arc::new(Shared::default()));
        let (jobs, worker) = (queue.clone(), shared.clone());
        let thread = std::thread::Builder::new().name("proposer".into()).spawn(move || {
            std::thread::scope(|scope| {
                // Whatever the search is at, the store hears of what is in hand.
                let (end, ended) = std::sync::mpsc::channel::<()>();
                let (beating, store) = (&worker, &store);
                let beats = move || {
                    while ended.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
                        beating.beat(store);
                    }
                };
                if let Err(error) = std::thread::Builder::new().spawn_scoped(scope, beats) {
                    tracing::error!(%error, "nobody tells the store which proposals are in hand");
                }
                while let Some(job) = jobs.next() {
                    worker.work(store, &job);
                }
                drop(end);
            });
        })?;
        let handle = Mutex::new(Some(thread));
        let thread = Arc::new(Thread { handle, queue: queue.clone(), shared: shared.clone() });
        Ok(Self { shared, queue, thread })
    }

    /// A place in the queue; none when it is full or the server stops.
    pub fn place(&self) -> Option<Place> {
        Some(Place { place: self.queue.place()?, shared: self.shared.clone() })
    }

    /// Follows a proposal; none if this server has not got it in hand.
    pub fn follow(&self, id: ProposalId) -> Option<watch::Receiver<Told>> {
        held(&self.shared.in_hand).get(&id).map(|in_hand| in_hand.told.subscribe())
    }

    /// Stops working on a proposal that was given up, at once.
    pub fn give_up(&self, id: ProposalId) {
        let waited = self.queue.remove(|job| job.id == id);
        let mut in_hand = held(&self.shared.in_hand);
        if let Some(one) = in_hand.get(&id) {
            one.given_up.store(true, Ordering::Relaxed);
            one.told.send_modify(|told| told.over = true);
        }
        // What is searched for is let go by the thread, once it noticed.
        if waited {
            in_hand.remove(&id);
        }
    }

    /// Tells the thread to stop, without waiting for it.
    pub fn stop(&self) {
        self.thread.stop();
    }

    /// Stops, and waits until what was in hand is written down as interrupted.
    pub fn end(&self) {
        self.thread.stop();
        self.thread.join();
    }
}

impl Place {
    /// Puts a proposal there.
    pub fn fill(self, job: Job) {
        let told = watch::Sender::new(Told::default());
        let in_hand = InHand { school: job.school, told, given_up: AtomicBool::new(false) };
        held(&self.shared.in_hand).insert(job.id, Arc::new(in_hand));
        self.place.fill(job);
    }
}

impl Thread {
    fn stop(&self) {
        self.shared.stopping.store(true, Ordering::Relaxed);
        self.queue.close();
    }

    fn join(&self) {
        let thread = held(&self.handle).take();
        if thread.is_some_and(|thread| thread.join().is_err()) {
            tracing::error!("the proposer's thread broke down");
        }
    }
}

impl Drop for Thread {
    fn drop(&mut self) {
        self.stop();
        self.join();
    }
}

impl Shared {
    /// Works a proposal off, whatever comes of it, and tells its followers.
    fn work(&self, store: &Store, job: &Job) {
        let Some(in_hand) = held(&self.in_hand).get(&job.id).cloned() else { return };
        let done = catch_unwind(AssertUnwindSafe(|| self.search(store, job, &in_hand)));
        let end = done.unwrap_or_else(|_| Some(ProposalEnd::Failed("the search broke down".into())));
        // A proposal that cannot be written down is one nobody hears of: its silence tells.
        if let Some(end) = end
            && let Err(error) = store.end_proposal(job.school, job.id, end)
        {
            tracing::error!(%error, "the end of a proposal");
        }
        held(&self.in_hand).remove(&job.id);
        in_hand.told.send_modify(|told| told.over = true);
    }

    /// What comes of a proposal; nothing to be written down where it was given up.
    fn search(&self, store: &Store, job: &Job, in_hand: &InHand) -> Option<ProposalEnd> {
        if self.stopping.load(Ordering::Relaxed) {
            return Some(ProposalEnd::Failed(INTERRUPTED.into()));
        }
        match store.begin_proposal(job.school, job.id) {
            Ok(true) => {}
            Ok(false) => return None,
            Err(error) => {
                tracing::error!(%error, "beginning a proposal");
                return Some(ProposalEnd::Failed("the store did not take it on".into()));
            }
        }
        let search = match Search::new(&job.engine, &job.constraints) {
            Ok(search) => search,
            Err(faults) => {
                let said = faults.first().map(|fault| format!("{}: {}", fault.field, fault.message));
                return Some(ProposalEnd::Failed(said.unwrap_or_default()));
            }
        };
        let found = search.run(|progress| {
            in_hand.told.send_modify(|told| told.progress = Some(progress));
            !in_hand.given_up.load(Ordering::Relaxed) && !self.stopping.load(Ordering::Relaxed)
        });
        let Some(found) = found else {
            let stopping = self.stopping.load(Ordering::Relaxed);
            return stopping.then(|| ProposalEnd::Failed(INTERRUPTED.into()));
        };
        let written = found.proposed(&job.engine, job.per_lesson).map_err(|error| error.to_string());
        let json = written.and_then(|made| serde_json::to_value(made).map_err(|error| error.to_string()));
        Some(match json {
            Ok(json) => ProposalEnd::Done(json),
            Err(error) => {
                tracing::error!(error, "writing a proposal");
                ProposalEnd::Failed("the proposal could not be written as a draft".into())
            }
        })
    }

    /// Tells the store of everything in hand, what waits included; stops what was given up on
    /// another server.
    fn beat(&self, store: &Store) {
        let in_hand: Vec<(ProposalId, Arc<InHand>)> =
            held(&self.in_hand).iter().map(|(id, one)| (*id, one.clone())).collect();
        for (id, one) in in_hand {
            let step = one.told.borrow().progress.map_or(0, |progress| progress.step);
            match store.keep_proposal(one.school, id, i32::try_from(step).unwrap_or(i32::MAX)) {
                Ok(true) => {}
                Ok(false) => one.given_up.store(true, Ordering::Relaxed),
                Err(error) => tracing::warn!(%error, "the store did not hear of a proposal"),
            }
        }
    }
}

fn held<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{clock::Clock, store::Place as Where};

    #[test]
    fn beyond_the_queue_and_after_the_end_nobody_gets_a_place() {
        let folder = tempfile::tempdir().unwrap();
        let store = Where::Sqlite(folder.path().join("store.db").display().to_string());
        Store::migrate(&store).unwrap();
        let proposer = Proposer::start(Store::open(&store, Clock::system(), 1).unwrap()).unwrap();
        let mut places: Vec<Option<Place>> = (0..ROOM).map(|_| proposer.place()).collect();
        assert!(places.iter().all(Option::is_some) && proposer.place().is_none());
        places.pop();
        assert!(proposer.place().is_some());
        drop(places);
        proposer.end();
        assert!(proposer.place().is_none());
    }
}
