//! What may be entered for a pupil.

use super::{CheckResult, ResultError, StatutoryRule, WindowDays, read_result};
use crate::{
    access::Role,
    calendar::{Calendar, DayKind},
    time::Date,
};

/// What somebody typed.
#[derive(Clone, Copy, Debug)]
pub struct Typed<'a> {
    /// A mark or a code, as typed.
    pub result: &'a str,
    /// The day of the check.
    pub on: Option<Date>,
    /// Why a pupil did not take it.
    pub reason: Option<&'a str>,
}

/// The days on which a pupil is here, as far as they are known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stay {
    /// The first.
    pub from: Option<Date>,
    /// The last.
    pub until: Option<Date>,
}

/// What is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The result.
    pub result: CheckResult,
    /// The day of the check; none for a code without one.
    pub on: Option<Date>,
    /// The reason's code.
    pub reason: Option<String>,
}

/// Why something cannot be entered.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EntryError {
    /// No result.
    #[error(transparent)]
    Result(#[from] ResultError),
    /// Nobody can be checked yet.
    #[error("the window opens on {0}: nothing is entered before")]
    NotOpenYet(Date),
    /// A mark has a day.
    #[error("is needed with a mark: the day of the check")]
    NoDay,
    /// Outside the window.
    #[error("must lie in the window, {0} to {1}")]
    OutsideWindow(Date, Date),
    /// Not yet.
    #[error("{0} is in the future")]
    Future(Date),
    /// Nobody is taught then.
    #[error("{0} is no school day")]
    NoSchoolDay(Date),
    /// Of who left alone, and nobody knows when.
    #[error("the pupil has no last day: set it first")]
    NoLastDay,
    /// Of who left alone, and this pupil leaves later.
    #[error("the pupil's last day is {0}, after the window")]
    HereThroughout(Date),
    /// The pupil was not here.
    #[error("the pupil's first day here was {0}: nobody can have been checked before")]
    BeforeComing(Date),
    /// The pupil was not here any more.
    #[error("the pupil's last day here was {0}: nobody can have been checked after")]
    AfterLeaving(Date),
    /// Not the actor's to decide.
    #[error("code {code} is decided by the {by}: ask one of them to enter it")]
    NotYours {
        /// The code.
        code: String,
        /// Who, for a person.
        by: String,
    },
    /// A reason belongs to it.
    #[error("is needed with code {code}: one of {known}")]
    NoReason {
        /// The code.
        code: String,
        /// The reasons there are.
        known: String,
    },
    /// Not one of the pack's.
    #[error("must be one of {0}")]
    UnknownReason(String),
    /// None belongs to it.
    #[error("goes with a code that needs one only: leave it out")]
    ReasonTooMuch,
}

impl EntryError {
    /// The field it is about.
    pub const fn field(&self) -> &'static str {
        match self {
            Self::Result(_)
            | Self::NotOpenYet(_)
            | Self::NoLastDay
            | Self::HereThroughout(_)
            | Self::NotYours { .. } => "result",
            Self::NoDay
            | Self::OutsideWindow(..)
            | Self::Future(_)
            | Self::NoSchoolDay(_)
            | Self::BeforeComing(_)
            | Self::AfterLeaving(_) => "on",
            Self::NoReason { .. } | Self::UnknownReason(_) | Self::ReasonTooMuch => "reason",
        }
    }
}

fn listed<'a>(codes: impl Iterator<Item = &'a str>) -> String {
    codes.collect::<Vec<_>>().join(", ")
}

/// Decides what somebody with some roles may enter on a day; none for a blank, which says nothing. A day on which the
/// calendar has the whole school closed is nobody's; of a day it does not know it says nothing.
///
/// # Errors
/// [`EntryError`].
pub fn entry(
    rule: &StatutoryRule,
    days: &WindowDays,
    calendar: &Calendar,
    stay: Stay,
    roles: &[Role],
    today: Date,
    typed: &Typed<'_>,
) -> Result<Option<Entry>, EntryError> {
    let Some(result) = read_result(typed.result, rule)? else { return Ok(None) };
    if today < days.opens_on {
        return Err(EntryError::NotOpenYet(days.opens_on));
    }
    match typed.on {
        None if result.mark().is_some() => return Err(EntryError::NoDay),
        Some(day) if !days.hold(day) => return Err(EntryError::OutsideWindow(days.opens_on, days.last())),
        Some(day) if day > today => return Err(EntryError::Future(day)),
        Some(day) if !matches!(calendar.day(day), DayKind::Teaching | DayKind::OutOfYear) => {
            return Err(EntryError::NoSchoolDay(day));
        }
        Some(day) => match (stay.from, stay.until) {
            (Some(first), _) if day < first => return Err(EntryError::BeforeComing(first)),
            (_, Some(last)) if day > last => return Err(EntryError::AfterLeaving(last)),
            _ => {}
        },
        None => {}
    }
    let code = result.code().and_then(|code| rule.code(code));
    if let Some(code) = code.filter(|code| !code.decided_by.is_empty())
        && !code.decided_by.iter().any(|role| roles.contains(role))
    {
        let by = code.decided_by.iter().map(|role| role.as_str()).collect::<Vec<_>>().join(" or the ");
        return Err(EntryError::NotYours { code: code.code.clone(), by });
    }
    if code.is_some_and(|code| code.needs_last_day) {
        let last = stay.until.ok_or(EntryError::NoLastDay)?;
        if last > days.last() {
            return Err(EntryError::HereThroughout(last));
        }
    }
    let known = || listed(rule.reasons().map(|one| one.code.as_str()));
    match (typed.reason, code.filter(|code| code.needs_reason)) {
        (None, Some(code)) => return Err(EntryError::NoReason { code: code.code.clone(), known: known() }),
        (Some(_), None) => return Err(EntryError::ReasonTooMuch),
        (Some(reason), Some(_)) if rule.reasons().all(|one| one.code != reason) => {
            return Err(EntryError::UnknownReason(known()));
        }
        _ => {}
    }
    Ok(Some(Entry { result, on: typed.on, reason: typed.reason.map(str::to_owned) }))
}

/// Whether a submitted result may be changed for a reason.
///
/// # Errors
/// The reasons there are.
pub fn amendment_reason(rule: &StatutoryRule, reason: &str) -> Result<(), EntryError> {
    match rule.amendment_reasons.iter().any(|one| one.code == reason) {
        true => Ok(()),
        false => {
            let known = rule.amendment_reasons.iter().map(|one| one.code.as_str());
            Err(EntryError::UnknownReason(listed(known)))
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        calendar::{ClosedFor, Closure, ClosureKind, ClosurePlan, DayPart, HalfTerm, Year},
        id::{ClosureId, HalfTermId},
        rules::pack,
        text::Title,
    };

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    /// The year of a window whose Wednesday is closed: for all in its first week, for one year group in the other.
    fn calendar() -> Calendar {
        let name = Title::new("Summer 2").unwrap();
        let id = HalfTermId::from_uuid(Uuid::nil());
        let (starts_on, ends_on) = (day("2026-06-01"), day("2026-07-21"));
        let closed = |on: &str, whom| Closure {
            id: ClosureId::from_uuid(Uuid::nil()),
            plan: ClosurePlan {
                from: day(on),
                until: day(on),
                kind: ClosureKind::Closure,
                part: DayPart::Whole,
                whom,
            },
        };
        let half_terms = vec![HalfTerm { id, name, starts_on, ends_on }];
        let year = Year { year: 2025, starts_on: day("2025-09-01"), ends_on: day("2026-08-31"), half_terms };
        let away = ClosedFor::YearGroups(["year_1".to_owned()].into());
        let closures = vec![closed("2026-06-10", ClosedFor::School), closed("2026-06-17", away)];
        Calendar { years: vec![year], closures }
    }

    fn ask(roles: &[Role], today: &str, typed: &Typed<'_>) -> Result<Option<Entry>, EntryError> {
        ask_of(Stay::default(), roles, today, typed)
    }

    fn ask_of(
        stay: Stay,
        roles: &[Role],
        today: &str,
        typed: &Typed<'_>,
    ) -> Result<Option<Entry>, EntryError> {
        let rule = &pack("england").unwrap().statutory_check;
        let days = WindowDays {
            opens_on: day("2026-06-08"),
            closes_on: day("2026-06-12"),
            absentees_until: Some(day("2026-06-19")),
        };
        entry(rule, &days, &calendar(), stay, roles, day(today), typed)
    }

    #[test]
    fn a_mark_has_a_day_in_the_window_and_a_code_need_not() {
        let of = |result, on: Option<&str>| {
            let typed = Typed { result, on: on.map(day), reason: None };
            ask(&[Role::Teacher], "2026-06-10", &typed)
        };
        let kept = of("32", Some("2026-06-09")).unwrap().unwrap();
        assert_eq!((kept.result, kept.on), (CheckResult::Mark(32), Some(day("2026-06-09"))));
        assert_eq!(of("", Some("2026-06-09")), Ok(None));
        assert_eq!(of("32", None), Err(EntryError::NoDay));
        assert_eq!(of("32", Some("2026-06-11")), Err(EntryError::Future(day("2026-06-11"))));
        assert_eq!(of("32", Some("2026-06-07")).unwrap_err().field(), "on");
        assert_eq!(of("32", Some("2026-06-20")).unwrap_err().field(), "on");
        assert_eq!(of("a", None).unwrap().unwrap().result, CheckResult::Code("A".into()));
        assert_eq!(of("41", Some("2026-06-09")).unwrap_err().field(), "result");
        let early = ask(&[], "2026-06-07", &Typed { result: "L", on: None, reason: None });
        assert_eq!(early, Err(EntryError::NotOpenYet(day("2026-06-08"))));
    }

    #[test]
    fn nobody_is_checked_on_a_day_away() {
        let stay = Stay { from: Some(day("2026-06-09")), until: Some(day("2026-06-11")) };
        let of = |result, on: Option<&str>| {
            let typed = Typed { result, on: on.map(day), reason: None };
            ask_of(stay, &[Role::Teacher], "2026-06-19", &typed)
        };
        for on in ["2026-06-09", "2026-06-11"] {
            assert!(of("32", Some(on)).is_ok(), "{on}");
        }
        assert_eq!(of("32", Some("2026-06-08")), Err(EntryError::BeforeComing(day("2026-06-09"))));
        let after = of("32", Some("2026-06-12")).unwrap_err();
        assert_eq!((after.field(), &after), ("on", &EntryError::AfterLeaving(day("2026-06-11"))));
        // A code without a day says nothing of days.
        assert!(of("L", None).is_ok());
    }

    #[test]
    fn nobody_is_checked_on_no_school_day() {
        let of = |on: &str| {
            let typed = Typed { result: "32", on: Some(day(on)), reason: None };
            ask(&[Role::Teacher], "2026-06-19", &typed)
        };
        // A Saturday, a Sunday, and a day closed for everybody.
        for on in ["2026-06-13", "2026-06-14", "2026-06-10"] {
            let error = of(on).unwrap_err();
            assert_eq!((error.field(), error.to_string()), ("on", format!("{on} is no school day")));
        }
        // Closed for one year group; and of no school year that is known.
        assert!(of("2026-06-17").is_ok());
        let rule = &pack("england").unwrap().statutory_check;
        let days =
            WindowDays { opens_on: day("2026-06-08"), closes_on: day("2026-06-19"), absentees_until: None };
        let typed = Typed { result: "32", on: Some(day("2026-06-13")), reason: None };
        let unknown = Calendar::default();
        assert!(entry(rule, &days, &unknown, Stay::default(), &[], day("2026-06-19"), &typed).is_ok());
    }

    #[test]
    fn who_is_here_throughout_has_not_left() {
        let of = |until: Option<&str>| {
            let stay = Stay { from: None, until: until.map(day) };
            let typed = Typed { result: "L", on: None, reason: None };
            ask_of(stay, &[Role::Teacher], "2026-06-19", &typed)
        };
        let error = of(None).unwrap_err();
        assert_eq!((error.field(), error), ("result", EntryError::NoLastDay));
        assert!(of(Some("2026-06-19")).is_ok());
        assert_eq!(of(Some("2026-06-20")), Err(EntryError::HereThroughout(day("2026-06-20"))));
        // Which codes these are is said by the pack.
        let of_pack = pack("england").unwrap().statutory_check.codes.iter();
        let named: Vec<&str> =
            of_pack.filter(|one| one.needs_last_day).map(|one| one.code.as_str()).collect();
        assert_eq!(named, ["L"]);
    }

    #[test]
    fn did_not_take_it_is_decided_by_a_head_or_lead_with_a_reason() {
        let of = |role, reason| ask(&[role], "2026-06-10", &Typed { result: "D", on: None, reason });
        assert_eq!(
            of(Role::Teacher, Some("just_arrived")).unwrap_err().to_string(),
            "code D is decided by the head or the lead: ask one of them to enter it"
        );
        for role in [Role::Head, Role::Lead] {
            let kept = of(role, Some("just_arrived")).unwrap().unwrap();
            assert_eq!(kept.reason.as_deref(), Some("just_arrived"));
            assert!(matches!(of(role, None), Err(EntryError::NoReason { .. })));
            assert!(matches!(of(role, Some("tired")), Err(EntryError::UnknownReason(_))));
            assert!(of(role, Some("other")).is_ok());
        }
        let reason_too_much = Typed { result: "12", on: Some(day("2026-06-09")), reason: Some("other") };
        assert_eq!(ask(&[Role::Lead], "2026-06-10", &reason_too_much), Err(EntryError::ReasonTooMuch));
    }
}
