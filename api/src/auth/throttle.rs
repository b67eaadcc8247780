//! Holding off guesses at one account. Every attempt takes its place before the password is
//! looked at and gives it back when it was right, so that guesses sent at once are counted
//! like guesses sent in turn. A whole building behind one address is never held off for one
//! person's mistakes.

use std::{
    collections::HashMap,
    sync::{Mutex, PoisonError},
};

use plumbline_core::time::Instant;

/// How many attempts that were not right an account has within how many seconds.
const LIMITS: [(u32, i64); 2] = [(10, 15 * 60), (100, 24 * 3600)];
/// Accounts remembered at once; beyond it those longest quiet go first.
const REMEMBERED: usize = 10_000;

/// Attempts within one window.
#[derive(Clone, Copy)]
struct Window {
    count: u32,
    since: Instant,
}

/// Attempts per account key.
#[derive(Default)]
pub struct Throttle {
    attempts: Mutex<HashMap<String, [Window; LIMITS.len()]>>,
}

impl Throttle {
    /// Takes a place for an attempt.
    ///
    /// # Errors
    /// Seconds to wait, where the account has no place left.
    pub fn attempt(&self, account: &str, now: Instant) -> Result<(), u64> {
        let mut attempts = self.attempts.lock().unwrap_or_else(PoisonError::into_inner);
        make_room(&mut attempts, account, now);
        let windows =
            attempts.entry(account.to_owned()).or_insert([Window { count: 0, since: now }; LIMITS.len()]);
        for (window, (most, seconds)) in windows.iter_mut().zip(LIMITS) {
            let left = window.since.plus_seconds(seconds).seconds() - now.seconds();
            if left <= 0 {
                *window = Window { count: 0, since: now };
            } else if window.count >= most {
                return Err(left.unsigned_abs());
            }
        }
        windows.iter_mut().for_each(|window| window.count += 1);
        Ok(())
    }

    /// Gives the places back after a right password.
    pub fn succeeded(&self, account: &str) {
        self.attempts.lock().unwrap_or_else(PoisonError::into_inner).remove(account);
    }
}

fn make_room(attempts: &mut HashMap<String, [Window; LIMITS.len()]>, account: &str, now: Instant) {
    if attempts.len() < REMEMBERED || attempts.contains_key(account) {
        return;
    }
    let over = |windows: &[Window; LIMITS.len()]| {
        windows.iter().zip(LIMITS).all(|(window, (_, seconds))| window.since.plus_seconds(seconds) <= now)
    };
    attempts.retain(|_, windows| !over(windows));
    if attempts.len() >= REMEMBERED
        && let Some(quiet) =
            attempts.iter().min_by_key(|(_, windows)| windows[0].since).map(|(key, _)| key.clone())
    {
        attempts.remove(&quiet);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: i64) -> Instant {
        Instant::from_micros(0).plus_seconds(seconds)
    }

    #[test]
    fn ten_attempts_hold_one_account_off_and_no_other() {
        let throttle = Throttle::default();
        for n in 0..10 {
            assert_eq!(throttle.attempt("a", at(n)), Ok(()));
        }
        assert_eq!(throttle.attempt("a", at(10)), Err(890));
        assert_eq!(throttle.attempt("b", at(10)), Ok(()));
        assert_eq!(throttle.attempt("a", at(900)), Ok(()));
    }

    #[test]
    fn a_day_has_a_hundred() {
        let throttle = Throttle::default();
        let tested = (0..24 * 60).filter(|minute| throttle.attempt("a", at(minute * 60)).is_ok()).count();
        assert_eq!(tested, 100);
        assert_eq!(throttle.attempt("a", at(24 * 3600)), Ok(()));
    }

    #[test]
    fn a_right_password_forgives() {
        let throttle = Throttle::default();
        for n in 0..10 {
            assert_eq!(throttle.attempt("a", at(n)), Ok(()));
        }
        throttle.succeeded("a");
        assert_eq!(throttle.attempt("a", at(11)), Ok(()));
    }

    #[test]
    fn memory_is_bounded() {
        let throttle = Throttle::default();
        (0..REMEMBERED + 50).for_each(|n| assert_eq!(throttle.attempt(&n.to_string(), at(0)), Ok(())));
        assert!(throttle.attempts.lock().unwrap().len() <= REMEMBERED);
    }
}
