//! Links that open a group's cover page: for which day, and how long.

use chrono::Days;

use crate::{
    access::Role,
    calendar::DayKind,
    id::StaffId,
    rules::CoverRule,
    time::{Date, Instant},
};

/// Why there is no link for a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CoverLinkError {
    /// The day, or the part of it in which links hold, is over.
    #[error("is over")]
    Over,
    /// Too far ahead.
    #[error("is more than {0} days ahead")]
    TooFar(u32),
    /// The group is not taught that day.
    #[error("is not a teaching day of the group")]
    NotTaught,
    /// Its timetable has no lesson that day, or nobody of it comes.
    #[error("is a day on which the group has no lesson")]
    NoLesson,
    /// The group has ended by then.
    #[error("is a day after the group's last")]
    Closed,
}

impl CoverLinkError {
    /// The field at fault.
    pub const fn field(&self) -> &'static str {
        "on"
    }
}

/// What is known of the day.
#[derive(Clone, Copy, Debug)]
pub struct CoverLinkFacts {
    /// What it is to the group.
    pub day: DayKind,
    /// Whether a lesson is due for the group that day, by its timetable.
    pub has_lesson: bool,
    /// The group's last day.
    pub closed_on: Option<Date>,
    /// Today at the school.
    pub today: Date,
    /// This moment.
    pub now: Instant,
    /// When the day begins at the school.
    pub begins: Instant,
    /// When links end on that day.
    pub ends: Instant,
}

/// From when until when a link for a day holds: from the day's beginning, or from now on.
///
/// # Errors
/// Why there is none.
pub fn cover_link(
    on: Date,
    facts: CoverLinkFacts,
    rule: &CoverRule,
) -> Result<(Instant, Instant), CoverLinkError> {
    if on < facts.today || facts.ends <= facts.now {
        return Err(CoverLinkError::Over);
    }
    if facts.today.checked_add_days(Days::new(rule.days_ahead.into())).is_some_and(|last| on > last) {
        return Err(CoverLinkError::TooFar(rule.days_ahead));
    }
    if facts.day != DayKind::Teaching {
        return Err(CoverLinkError::NotTaught);
    }
    if facts.closed_on.is_some_and(|last| last < on) {
        return Err(CoverLinkError::Closed);
    }
    if !facts.has_lesson {
        return Err(CoverLinkError::NoLesson);
    }
    Ok((facts.begins.max(facts.now), facts.ends))
}

/// An adult of a group on a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AdultOfDay {
    /// The adult.
    pub staff: StaffId,
    /// As shown.
    pub name: String,
    /// The roles held that day.
    pub roles: Vec<Role>,
}

/// Who is there besides whoever covers: the adults of the day without the one said to be away. Where the page
/// is opened by a link, or somebody whose role is to cover has the group that day, who teaches it as a rule is
/// taken to be away.
#[must_use]
pub fn who_is_there(adults: Vec<AdultOfDay>, by_link: bool, away: Option<StaffId>) -> Vec<AdultOfDay> {
    let implied = by_link || adults.iter().any(|adult| adult.roles.contains(&Role::Cover));
    let teaches = |adult: &AdultOfDay| {
        let usual = adult.roles.iter().any(|role| matches!(role, Role::Teacher | Role::Lead));
        usual && !adult.roles.contains(&Role::Cover)
    };
    let away = |adult: &AdultOfDay| away == Some(adult.staff) || implied && teaches(adult);
    adults.into_iter().filter(|adult| !away(adult)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3600;

    fn at(hours: i64) -> Instant {
        Instant::from_micros(0).plus_seconds(hours * HOUR)
    }

    #[test]
    fn a_link_holds_on_its_day_and_no_longer() {
        let rule = CoverRule {
            days_ahead: 3,
            valid_until: chrono::NaiveTime::from_hms_opt(18, 0, 0).unwrap(),
            hand_back: Vec::new(),
        };
        let day = |n| Date::from_ymd_opt(2026, 11, n).unwrap();
        // It is nine in the morning of the 25th, 25 days of hours on.
        let facts = CoverLinkFacts {
            day: DayKind::Teaching,
            has_lesson: true,
            closed_on: None,
            today: day(25),
            now: at(25 * 24 + 9),
            begins: at(0),
            ends: at(0),
        };
        let ask = |n: u32, facts: CoverLinkFacts| {
            let begins = i64::from(n) * 24;
            cover_link(day(n), CoverLinkFacts { begins: at(begins), ends: at(begins + 18), ..facts }, &rule)
        };
        assert_eq!(ask(25, facts), Ok((at(25 * 24 + 9), at(25 * 24 + 18))));
        assert_eq!(ask(26, facts), Ok((at(26 * 24), at(26 * 24 + 18))));
        assert_eq!(ask(28, facts), Ok((at(28 * 24), at(28 * 24 + 18))));
        assert_eq!(ask(29, facts), Err(CoverLinkError::TooFar(3)));
        assert_eq!(ask(24, facts), Err(CoverLinkError::Over));
        let late = CoverLinkFacts { now: at(25 * 24 + 18), ..facts };
        assert_eq!(ask(25, late), Err(CoverLinkError::Over));
        for kind in [DayKind::Weekend, DayKind::Closure, DayKind::OutOfYear] {
            assert_eq!(ask(26, CoverLinkFacts { day: kind, ..facts }), Err(CoverLinkError::NotTaught));
        }
        let free = CoverLinkFacts { has_lesson: false, ..facts };
        assert_eq!(ask(26, free), Err(CoverLinkError::NoLesson));
        let closed = CoverLinkFacts { closed_on: Some(day(26)), ..facts };
        assert_eq!((ask(26, closed).is_ok(), ask(27, closed)), (true, Err(CoverLinkError::Closed)));
    }

    #[test]
    fn who_is_away_is_not_there() {
        let adult = |n: u128, role: Role| AdultOfDay {
            staff: StaffId::from_uuid(uuid::Uuid::from_u128(n)),
            name: n.to_string(),
            roles: vec![role],
        };
        let (teacher, assistant) = (adult(1, Role::Teacher), adult(2, Role::Assistant));
        let two = vec![teacher.clone(), assistant.clone()];
        assert_eq!(who_is_there(two.clone(), false, None), two);
        assert_eq!(who_is_there(two.clone(), true, None), vec![assistant.clone()]);
        assert_eq!(who_is_there(two.clone(), false, Some(assistant.staff)), vec![teacher.clone()]);
        let cover = adult(3, Role::Cover);
        let three = vec![teacher, assistant.clone(), cover.clone()];
        assert_eq!(who_is_there(three, false, None), [assistant, cover]);
    }
}
