//! A group handed from one adult to another.

use chrono::Days;

use crate::{
    id::StaffId,
    time::{Date, Span, united},
};

/// Why a group cannot be handed over so.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HandOverError {
    /// The one who hands over has no day from then on.
    #[error("is not assigned to this group on that day or later")]
    NotAssigned,
    /// Both are the same.
    #[error("is the one who hands over")]
    ToOneself,
}

impl HandOverError {
    /// The field at fault.
    pub const fn field(self) -> &'static str {
        match self {
            Self::NotAssigned => "from_staff_id",
            Self::ToOneself => "to_staff_id",
        }
    }
}

/// The adults of a group after `to` has taken over from `from` on a day: every day that `from` had
/// from then on is `to`'s, each day before and every other adult's stays. A day `to` had anyway counts
/// once.
///
/// # Errors
/// Why it cannot be.
pub fn hand_over(
    adults: &[(StaffId, Span)],
    from: StaffId,
    to: StaffId,
    on: Date,
) -> Result<Vec<(StaffId, Span)>, HandOverError> {
    if from == to {
        return Err(HandOverError::ToOneself);
    }
    let onward = Span { from: on, until: None };
    let (mut kept, mut taken) = (Vec::new(), Vec::new());
    for (staff, span) in adults {
        if *staff == to {
            taken.push(*span);
            continue;
        }
        if *staff != from || !span.meets(&onward) {
            kept.push((*staff, *span));
            continue;
        }
        taken.push(Span { from: span.from.max(on), until: span.until });
        if span.from < on {
            kept.push((*staff, Span { from: span.from, until: on.pred_opt() }));
        }
    }
    if !adults.iter().any(|(staff, span)| *staff == from && span.meets(&onward)) {
        return Err(HandOverError::NotAssigned);
    }
    kept.extend(united(taken).into_iter().map(|span| (to, span)));
    Ok(kept)
}

/// Whether a record of a day is taken from an adult with these days with the group: it is one of them, and
/// they go on, or the last of them begun by now was at most `late_days` days ago. Who has the group again,
/// or had it lately, may send what is left of any of the days before.
#[must_use]
pub fn still_taken(days: &[Span], on: Date, today: Date, late_days: u32) -> bool {
    let since = today.checked_sub_days(Days::new(late_days.into())).unwrap_or_default();
    let lately = |span: &Span| span.from <= today.max(on) && span.until.is_none_or(|until| until >= since);
    days.iter().any(|span| span.holds(on)) && days.iter().any(lately)
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn staff(n: u128) -> StaffId {
        StaffId::from_uuid(Uuid::from_u128(n))
    }

    fn span(from: &str, until: &str) -> Span {
        Span { from: from.parse().unwrap(), until: until.parse().ok() }
    }

    fn handed(
        adults: &[(u128, Span)],
        from: u128,
        to: u128,
        on: &str,
    ) -> Result<Vec<(u128, Span)>, HandOverError> {
        let adults: Vec<_> = adults.iter().map(|(n, span)| (staff(*n), *span)).collect();
        let after = hand_over(&adults, staff(from), staff(to), on.parse().unwrap())?;
        Ok(after.into_iter().map(|(id, span)| (id.uuid().as_u128(), span)).collect())
    }

    #[test]
    fn the_days_from_then_on_change_hands() {
        let adults = [(1, span("2026-09-01", "")), (2, span("2026-09-01", ""))];
        let after = handed(&adults, 1, 3, "2026-11-25").unwrap();
        let expected =
            [(1, span("2026-09-01", "2026-11-24")), (2, span("2026-09-01", "")), (3, span("2026-11-25", ""))];
        assert_eq!(after, expected);
    }

    #[test]
    fn an_end_goes_with_the_days_and_what_begins_later_goes_whole() {
        let adults = [
            (1, span("2026-09-01", "2026-12-18")),
            (1, span("2027-01-04", "")),
            (1, span("2025-09-01", "2026-07-17")),
        ];
        let after = handed(&adults, 1, 3, "2026-11-25").unwrap();
        let expected = [
            (1, span("2026-09-01", "2026-11-24")),
            (1, span("2025-09-01", "2026-07-17")),
            (3, span("2026-11-25", "2026-12-18")),
            (3, span("2027-01-04", "")),
        ];
        assert_eq!(after, expected);
        // From the first day on, nothing is left before.
        let after = handed(&adults[..1], 1, 3, "2026-09-01").unwrap();
        assert_eq!(after, [(3, span("2026-09-01", "2026-12-18"))]);
    }

    #[test]
    fn days_the_other_had_anyway_count_once() {
        let adults = [(1, span("2026-09-01", "")), (3, span("2026-11-02", "2026-11-30"))];
        let after = handed(&adults, 1, 3, "2026-11-25").unwrap();
        assert_eq!(after, [(1, span("2026-09-01", "2026-11-24")), (3, span("2026-11-02", ""))]);
    }

    #[test]
    fn nobody_hands_over_what_is_not_theirs_or_to_themselves() {
        let adults = [(1, span("2026-09-01", "2026-11-24"))];
        assert_eq!(handed(&adults, 1, 3, "2026-11-25"), Err(HandOverError::NotAssigned));
        assert_eq!(handed(&adults, 2, 3, "2026-09-01"), Err(HandOverError::NotAssigned));
        assert_eq!(handed(&adults, 1, 1, "2026-09-01"), Err(HandOverError::ToOneself));
    }

    #[test]
    fn records_are_taken_while_any_of_the_days_is_not_long_ago() {
        let autumn = span("2026-09-01", "2026-10-23");
        let taken = |days: &[Span], on: &str, today: &str| {
            still_taken(days, on.parse().unwrap(), today.parse().unwrap(), 28)
        };
        // 28 days after 23 October is 20 November.
        assert!(taken(&[autumn], "2026-10-20", "2026-11-20"));
        assert!(!taken(&[autumn], "2026-10-20", "2026-11-21"));
        // The group is the adult's again: the days before count, those between do not.
        let again = [autumn, span("2026-11-30", "2026-12-11")];
        assert!(!taken(&again, "2026-10-20", "2026-11-29"), "it is not yet");
        assert!(taken(&again, "2026-10-20", "2026-11-30"));
        assert!(!taken(&again, "2026-11-02", "2026-11-30"));
        // 28 days after 11 December is 8 January.
        assert!(taken(&again, "2026-10-20", "2027-01-08"));
        assert!(!taken(&again, "2026-10-20", "2027-01-09"));
    }
}
