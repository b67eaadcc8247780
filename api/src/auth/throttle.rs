//! Holding off guesses at one account. Failures are counted, successes are not; a whole
//! building behind one address is never held off for one person's mistakes.

use std::{
    collections::HashMap,
    sync::{Mutex, PoisonError},
};

use plumbline_core::time::Instant;

/// Wrong passwords for one account within the window before it is held off.
const FAILURES: u32 = 10;
/// The window, in seconds.
const WINDOW: i64 = 15 * 60;
/// Accounts remembered at once; beyond it the oldest windows go first.
const REMEMBERED: usize = 10_000;

/// Failures per account key.
#[derive(Default)]
pub struct Throttle {
    failures: Mutex<HashMap<String, (u32, Instant)>>,
}

impl Throttle {
    /// Seconds to wait before this account may be tried again; none if it may be now.
    pub fn wait(&self, account: &str, now: Instant) -> Option<u64> {
        let failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        let (count, since) = failures.get(account)?;
        let left = since.plus_seconds(WINDOW).seconds() - now.seconds();
        (*count >= FAILURES && left > 0).then(|| left.unsigned_abs())
    }

    /// Counts a wrong password.
    pub fn failed(&self, account: &str, now: Instant) {
        let mut failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        if failures.len() >= REMEMBERED {
            failures.retain(|_, (_, since)| since.plus_seconds(WINDOW) > now);
        }
        if failures.len() >= REMEMBERED
            && let Some(oldest) =
                failures.iter().min_by_key(|(_, (_, since))| *since).map(|(key, _)| key.clone())
        {
            failures.remove(&oldest);
        }
        let entry = failures.entry(account.to_owned()).or_insert((0, now));
        if entry.1.plus_seconds(WINDOW) <= now {
            *entry = (0, now);
        }
        entry.0 += 1;
    }

    /// Forgets an account's failures after a success.
    pub fn succeeded(&self, account: &str) {
        self.failures.lock().unwrap_or_else(PoisonError::into_inner).remove(account);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: i64) -> Instant {
        Instant::from_micros(0).plus_seconds(seconds)
    }

    #[test]
    fn ten_failures_hold_one_account_off_and_no_other() {
        let throttle = Throttle::default();
        for n in 0..9 {
            throttle.failed("a", at(n));
        }
        assert_eq!(throttle.wait("a", at(9)), None);
        throttle.failed("a", at(9));
        assert_eq!(throttle.wait("a", at(10)), Some(890));
        assert_eq!(throttle.wait("b", at(10)), None);
        assert_eq!(throttle.wait("a", at(900)), None);
    }

    #[test]
    fn success_and_time_forgive() {
        let throttle = Throttle::default();
        (0..10).for_each(|n| throttle.failed("a", at(n)));
        throttle.succeeded("a");
        assert_eq!(throttle.wait("a", at(11)), None);
        (0..9).for_each(|n| throttle.failed("a", at(n)));
        throttle.failed("a", at(1000));
        assert_eq!(throttle.wait("a", at(1001)), None);
    }

    #[test]
    fn memory_is_bounded() {
        let throttle = Throttle::default();
        (0..REMEMBERED + 50).for_each(|n| throttle.failed(&n.to_string(), at(0)));
        assert!(throttle.failures.lock().unwrap().len() <= REMEMBERED);
    }
}
