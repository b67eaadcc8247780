//! From where a pull goes on, and how far it came.

use std::collections::{BTreeMap, BTreeSet};

use super::{Cursor, Place};

/// Where a pull goes on in each scope.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan<S> {
    /// Scopes the device has and may no longer: it forgets them.
    pub drop: BTreeSet<S>,
    /// Scopes it reads anew: what it has of them by then, and does not get again, it forgets.
    pub reset: BTreeSet<S>,
    /// Each scope held, with where to go on.
    pub from: BTreeMap<S, Cursor>,
}

/// Decides where a pull goes on. `held` are the scopes the reader may see today, each with the kinds of record shown;
/// `told` the cursors sent; `head` the school's version, `floor` the version up to which departures were purged.
pub fn plan<S: Ord + Clone>(
    held: &BTreeMap<S, u32>,
    told: &BTreeMap<S, Cursor>,
    head: i64,
    floor: i64,
) -> Plan<S> {
    let mut plan = Plan { drop: BTreeSet::new(), reset: BTreeSet::new(), from: BTreeMap::new() };
    plan.drop = told.keys().filter(|scope| !held.contains_key(scope)).cloned().collect();
    for (scope, view) in held {
        let goes_on = match told.get(scope) {
            Some(cursor) if holds(cursor, *view, head, floor) => cursor.clone(),
            sent => {
                plan.reset.extend(sent.map(|_| scope.clone()));
                Cursor::begin(head, *view)
            }
        };
        plan.from.insert(scope.clone(), goes_on);
    }
    plan
}

/// Whether a cursor can be gone on from: it is of this history, shows the same kinds, and nothing that was purged lies
/// after it. Pairs are compared: within a version that was read by half, a departure may have been purged.
fn holds(cursor: &Cursor, view: u32, head: i64, floor: i64) -> bool {
    let (at, base) = (cursor.at.clone(), Place::after(cursor.base));
    let of_here = cursor.at.v <= head && cursor.base <= head;
    of_here && cursor.view == view && at.max(base) >= Place::after(floor)
}

/// How far a pull came in a scope.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Advance {
    /// How many of the changes found are in the page.
    pub taken: usize,
    /// Where the next pull goes on.
    pub cursor: Cursor,
    /// Whether there are more by now.
    pub more: bool,
}

/// Takes up to `left` of the changes found after a cursor, in the order of the feed; find one more than that, to know
/// whether there are others. A scope that was read to its end stands at the school's version.
pub fn advance(from: &Cursor, found: &[Place], left: usize, head: i64) -> Advance {
    let taken = found.len().min(left);
    let more = found.len() > taken;
    let last = found.get(..taken).and_then(<[Place]>::last);
    let cursor = if more {
        Cursor { at: last.unwrap_or(&from.at).clone(), ..from.clone() }
    } else {
        Cursor { at: Place::after(head), base: head, ..from.clone() }
    };
    Advance { taken, cursor, more }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::{super::Rec, *};

    fn at(v: i64, n: u128) -> Place {
        Place { v, rec: Rec::At(Uuid::from_u128(n), "pupil".into()) }
    }

    fn cursor(at: Place, base: i64) -> Cursor {
        Cursor { at, base, view: 1 }
    }

    fn asked(told: &[(&'static str, Cursor)], floor: i64) -> Plan<&'static str> {
        plan(&BTreeMap::from([("a", 1), ("b", 1)]), &told.iter().cloned().collect(), 20, floor)
    }

    #[test]
    fn scopes_are_begun_gone_on_with_and_dropped() {
        let plan = asked(&[("a", cursor(at(7, 1), 9)), ("c", cursor(Place::after(20), 20))], 0);
        assert_eq!((plan.drop, plan.reset), (BTreeSet::from(["c"]), BTreeSet::new()));
        assert_eq!(plan.from, BTreeMap::from([("a", cursor(at(7, 1), 9)), ("b", Cursor::begin(20, 1))]));
    }

    #[test]
    fn a_cursor_that_may_have_missed_a_departure_is_read_anew() {
        let reset = |at: Place, base, floor| asked(&[("a", cursor(at, base))], floor).reset.contains("a");
        // Half of version 9 was read, and its departures are purged.
        assert!(reset(at(9, 5), 8, 9));
        assert!(!reset(Place::after(9), 9, 9));
        // A first reading that was begun after the purge pages from the start.
        assert!(!reset(at(2, 5), 9, 9));
        assert!(reset(at(2, 5), 8, 9));
    }

    #[test]
    fn a_cursor_of_another_history_or_view_is_read_anew() {
        let reset = |cursor| asked(&[("a", cursor)], 0).reset.contains("a");
        assert!(reset(cursor(Place::after(21), 20)) && reset(cursor(Place::after(20), 21)));
        assert!(reset(Cursor { view: 3, ..cursor(Place::after(20), 20) }));
        assert!(!reset(cursor(Place::after(20), 20)));
    }

    #[test]
    fn a_page_ends_within_a_version_and_the_last_at_the_head() {
        let from = Cursor::begin(9, 1);
        let found = [at(4, 1), at(4, 2), at(5, 1)];
        let page = advance(&from, &found, 2, 10);
        assert_eq!((page.taken, page.more), (2, true));
        assert_eq!(page.cursor, cursor(at(4, 2), 9));
        let full = advance(&from, &found, 0, 10);
        assert_eq!((full.taken, full.more, full.cursor), (0, true, from.clone()));
        let last = advance(&from, &found, 3, 10);
        assert_eq!((last.taken, last.more, last.cursor), (3, false, cursor(Place::after(10), 10)));
        assert_eq!(advance(&from, &[], 0, 10).cursor, cursor(Place::after(10), 10));
    }
}
