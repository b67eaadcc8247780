//! Password hashing: Argon2id (RFC 9106) with OWASP's parameters, on a bounded queue off
//! the async workers, so that a wave of sign-ins slows itself and nothing else.

use std::sync::{
    Arc,
    atomic::{AtomicUsize, Ordering},
};

use argon2::{
    Argon2,
    password_hash::{PasswordHasher as _, PasswordVerifier as _, phc::PasswordHash},
};
use tokio::sync::Semaphore;

/// Why a password was not hashed or compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PasswordError {
    /// Too many are waiting.
    #[error("too many sign-ins are waiting")]
    Busy,
    /// The hash or its parameters are broken.
    #[error("the password could not be hashed")]
    Broken,
}

/// The bounded queue.
#[derive(Clone)]
pub struct Passwords {
    running: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    queue: usize,
    /// Compared with when there is no account, so that it costs the same.
    nobody: Arc<str>,
}

/// Counts one waiter for as long as it lives.
struct Waiting(Arc<AtomicUsize>);

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

impl Passwords {
    /// As many at once as there are processors; `queue` may wait.
    ///
    /// # Errors
    /// If hashing does not work at all.
    pub fn new(queue: usize) -> Result<Self, PasswordError> {
        let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Ok(Self {
            running: Arc::new(Semaphore::new(processors)),
            waiting: Arc::new(AtomicUsize::new(0)),
            queue,
            nobody: hash("nobody has this password").ok_or(PasswordError::Broken)?.into(),
        })
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
        let stored = stored.unwrap_or_else(|| self.nobody.to_string());
        let equal = self.queued(move || verify(&password, &stored)).await?;
        Ok(equal && known)
    }

    async fn queued<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, PasswordError> {
        if self.waiting.fetch_add(1, Ordering::Relaxed) >= self.queue {
            self.waiting.fetch_sub(1, Ordering::Relaxed);
            return Err(PasswordError::Busy);
        }
        let waiting = Waiting(self.waiting.clone());
        let permit = self.running.clone().acquire_owned().await.map_err(|_| PasswordError::Busy)?;
        // The place in the queue and the processor are held until the hash is done, even
        // if the client has gone: otherwise leaving early would let any number run.
        let done = tokio::task::spawn_blocking(move || {
            let done = work();
            drop((permit, waiting));
            done
        });
        done.await.map_err(|_| PasswordError::Broken)
    }
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
    }

    #[tokio::test]
    async fn the_queue_is_bounded_and_empties() {
        let passwords = Passwords::new(0).unwrap();
        assert_eq!(passwords.hash("x".into()).await, Err(PasswordError::Busy));
        let passwords = Passwords::new(1).unwrap();
        for _ in 0..3 {
            assert!(passwords.hash("x".into()).await.is_ok());
        }
    }
}
