//! Independent pieces of work, a few at a time.

use std::sync::{
    Mutex, PoisonError,
    atomic::{AtomicUsize, Ordering},
};

use super::Failure;

/// As many colleagues work at once.
const AT_ONCE: usize = 4;

/// Does something for each of a list; the results stand in the list's order, whatever was
/// finished first. The first failure in that order is the one told.
pub(super) fn side_by_side<T: Sync, R: Send>(
    list: &[T],
    work: impl Fn(&T) -> Result<R, Failure> + Sync,
) -> Result<Vec<R>, Failure> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, Result<R, Failure>)>> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..AT_ONCE.min(list.len()) {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    let Some(one) = list.get(n) else { break };
                    let result = work(one);
                    done.lock().unwrap_or_else(PoisonError::into_inner).push((n, result));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(n, _)| *n);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_list() {
        let list: Vec<usize> = (0..100).collect();
        assert_eq!(side_by_side(&list, |n| Ok(n * 2)).unwrap(), (0..100).map(|n| n * 2).collect::<Vec<_>>());
        assert!(side_by_side::<u8, u8>(&[], |n| Ok(*n)).unwrap().is_empty());
    }

    #[test]
    fn the_first_failure_of_the_list_is_told() {
        let failed = side_by_side(&[1, 2, 3], |n| if *n > 1 { Err(n.to_string().into()) } else { Ok(()) });
        assert_eq!(failed.unwrap_err().to_string(), "2");
    }
}
