//! The short queue before the proposer: places are kept for what is about to be written down, and
//! what is given up while it waits makes room at once.

use std::{
    collections::VecDeque,
    sync::{Arc, Condvar, Mutex, PoisonError},
};

/// What waits, first come, first served.
pub struct Queue<T> {
    state: Mutex<State<T>>,
    changed: Condvar,
    room: usize,
}

struct State<T> {
    waiting: VecDeque<T>,
    /// Places kept for what is not here yet.
    kept: usize,
    closed: bool,
}

/// A place in a queue, given back if nothing is put there.
pub struct Place<T> {
    queue: Arc<Queue<T>>,
}

impl<T> Queue<T> {
    /// With room for so many.
    pub fn new(room: usize) -> Arc<Self> {
        let state = State { waiting: VecDeque::new(), kept: 0, closed: false };
        Arc::new(Self { state: Mutex::new(state), changed: Condvar::new(), room })
    }

    /// Keeps a place; none when the queue is full or closed.
    pub fn place(self: &Arc<Self>) -> Option<Place<T>> {
        let mut state = self.held();
        let free = !state.closed && state.waiting.len() + state.kept < self.room;
        state.kept += usize::from(free);
        free.then(|| Place { queue: self.clone() })
    }

    /// The next to be done; waits for it. None once the queue is closed and empty.
    pub fn next(&self) -> Option<T> {
        let waiting = |state: &mut State<T>| state.waiting.is_empty() && !state.closed;
        let state = self.changed.wait_while(self.held(), waiting);
        state.unwrap_or_else(PoisonError::into_inner).waiting.pop_front()
    }

    /// Takes out what is no longer wanted; whether there was any.
    pub fn remove(&self, unwanted: impl Fn(&T) -> bool) -> bool {
        let mut state = self.held();
        let before = state.waiting.len();
        state.waiting.retain(|one| !unwanted(one));
        state.waiting.len() < before
    }

    /// Takes nothing any more; what waits can still be had.
    pub fn close(&self) {
        self.held().closed = true;
        self.changed.notify_all();
    }

    fn held(&self) -> std::sync::MutexGuard<'_, State<T>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<T> Place<T> {
    /// Puts something there. After the queue was closed it still waits to be had.
    pub fn fill(self, one: T) {
        self.queue.held().waiting.push_back(one);
        self.queue.changed.notify_one();
    }
}

impl<T> Drop for Place<T> {
    fn drop(&mut self) {
        // Filled or not: what was put there is counted by itself.
        let mut state = self.queue.held();
        state.kept = state.kept.saturating_sub(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_kept_given_back_and_freed_by_what_is_taken_out() {
        let queue = Queue::new(2);
        let (first, second) = (queue.place().unwrap(), queue.place().unwrap());
        assert!(queue.place().is_none());
        drop(second);
        first.fill(1);
        queue.place().unwrap().fill(2);
        assert!(queue.place().is_none());
        assert!(queue.remove(|one| *one == 1) && !queue.remove(|one| *one == 1));
        queue.place().unwrap().fill(3);
        assert_eq!((queue.next(), queue.next()), (Some(2), Some(3)));
    }

    #[test]
    fn a_closed_queue_gives_what_it_has_and_then_nothing() {
        let queue = Queue::new(2);
        let place = queue.place().unwrap();
        queue.place().unwrap().fill(1);
        queue.close();
        assert!(queue.place().is_none());
        place.fill(2);
        assert_eq!((queue.next(), queue.next(), queue.next()), (Some(1), Some(2), None));
    }
}
