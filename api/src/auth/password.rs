//! Password hashing: Argon2id (RFC 9106) with OWASP's parameters, on a few threads of its own
//! behind a bounded queue, so that a wave of sign-ins slows itself and nothing else. Each hash
//! takes 19 MiB; a thread reuses its memory, so there is one such block a processor.

use std::{
    num::NonZero,
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, sync_channel},
    },
};

use argon2::{
    Argon2,
    password_hash::{PasswordHasher as _, PasswordVerifier as _, phc::PasswordHash},
};
use tokio::sync::oneshot;

/// Why a password was not hashed or compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PasswordError {
    /// Too many are waiting.
    #[error("too many sign-ins are waiting")]
    Busy,
    /// The hash or its parameters are broken, or there are no threads.
    #[error("the password could not be hashed")]
    Broken,
}

type Job = Box<dyn FnOnce() + Send>;

/// The bounded queue.
#[derive(Clone)]
pub struct Passwords {
    jobs: SyncSender<Job>,
}

/// Compared with when there is no account, so that it costs the same. A constant, because
/// making one takes 15 ms and 19 MiB at each start; a test holds it to today's parameters.
const NOBODY: &str =
    "$argon2id$v=19$m=19456,t=2,p=1$cGx1bWJsaW5lIG5vYm9keQ$YhDFLBVZSmgVSYLJXbUI6+t5BPkam8+ZTqyRlFR0JbA";

impl Passwords {
    /// As many at once as there are processors; `queue` may wait.
    ///
    /// # Errors
    /// If the threads cannot be started.
    pub fn new(queue: usize) -> Result<Self, PasswordError> {
        let (jobs, waiting) = sync_channel::<Job>(queue);
        let waiting = Arc::new(Mutex::new(waiting));
        for _ in 0..std::thread::available_parallelism().map_or(1, NonZero::get) {
            let waiting = waiting.clone();
            std::thread::Builder::new()
                .name("passwords".into())
                .spawn(move || work(&waiting))
                .map_err(|_| PasswordError::Broken)?;
        }
        Ok(Self { jobs })
    }

    /// Hashes a new password.
    ///
    /// # Errors
    /// [`PasswordError::Busy`] beyond the queue.
    pub async fn hash(&self, password: String) -> Result<String, PasswordError> {
        self.queued(move || hash(&password)).await?.ok_or(PasswordError::Broken)
    }

    /// Compares a password with a stored hash; with none, at the same cost, never equal.
    ///
    /// # Errors
    /// [`PasswordError::Busy`] beyond the queue.
    pub async fn verify(&self, password: String, stored: Option<String>) -> Result<bool, PasswordError> {
        let known = stored.is_some();
        let stored = stored.unwrap_or_else(|| NOBODY.to_owned());
        let equal = self.queued(move || verify(&password, &stored)).await?;
        Ok(equal && known)
    }

    async fn queued<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, PasswordError> {
        let (answer, answered) = oneshot::channel();
        let job: Job = Box::new(move || {
            // A client that has gone does not need the answer, nor the work.
            if !answer.is_closed() {
                let _ = answer.send(work());
            }
        });
        self.jobs.try_send(job).map_err(|_| PasswordError::Busy)?;
        answered.await.map_err(|_| PasswordError::Broken)
    }
}

/// Takes jobs until nobody can send any more.
fn work(waiting: &Mutex<Receiver<Job>>) {
    loop {
        let job = waiting.lock().unwrap_or_else(PoisonError::into_inner).recv();
        match job {
            Ok(job) => job(),
            Err(_) => return,
        }
    }
}

/// Whether a stored hash was made with today's parameters.
pub fn is_current(stored: &str) -> bool {
    let parameters = |hash: &str| hash.split('$').take(4).map(str::to_owned).collect::<Vec<_>>();
    parameters(stored) == parameters(NOBODY)
}

fn hash(password: &str) -> Option<String> {
    Argon2::default().hash_password(password.as_bytes()).ok().map(|hash| hash.to_string())
}

fn verify(password: &str, stored: &str) -> bool {
    PasswordHash::new(stored)
        .is_ok_and(|stored| Argon2::default().verify_password(password.as_bytes(), &stored).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn passwords_compare_and_nobody_never_does() {
        let passwords = Passwords::new(4).unwrap();
        let stored = passwords.hash("correct horse".into()).await.unwrap();
        assert!(stored.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{stored}");
        assert_eq!(passwords.verify("correct horse".into(), Some(stored.clone())).await, Ok(true));
        assert_eq!(passwords.verify("wrong horse".into(), Some(stored)).await, Ok(false));
        assert_eq!(passwords.verify("nobody has this password".into(), None).await, Ok(false));
        assert!(verify("nobody has this password", NOBODY));
        assert!(is_current(&hash("x").unwrap()));
        assert!(!is_current(&NOBODY.replace("m=19456", "m=12288")) && !is_current("$2b$12$x"));
    }

    #[tokio::test]
    async fn the_queue_is_bounded_and_empties() {
        let passwords = Passwords::new(1).unwrap();
        let (release, held) = std::sync::mpsc::channel::<()>();
        let held = Arc::new(Mutex::new(held));
        // One job for each thread to hold, and one to wait; each says when it has begun.
        let (begun, begins) = std::sync::mpsc::channel();
        let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
        for _ in 0..threads {
            let (held, begun) = (held.clone(), begun.clone());
            let job: Job = Box::new(move || {
                begun.send(()).unwrap();
                held.lock().unwrap().recv().unwrap();
            });
            passwords.jobs.send(job).unwrap();
            begins.recv().unwrap();
        }
        passwords.jobs.try_send(Box::new(|| {})).unwrap();
        assert_eq!(passwords.hash("x".into()).await, Err(PasswordError::Busy));
        (0..threads).for_each(|_| release.send(()).unwrap());
        while passwords.hash("x".into()).await == Err(PasswordError::Busy) {
            tokio::task::yield_now().await;
        }
        assert!(passwords.hash("x".into()).await.is_ok());
    }
}
