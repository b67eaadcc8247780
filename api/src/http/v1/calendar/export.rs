//! GET /calendar.ics

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Calendar},
    calendar::{ClosedFor, ClosureKind, DayPart, FOR_CLASSES, Meaning},
    rules::RulePack,
};

use crate::{
    files::calendar_ics::{self, MEDIA_TYPE, WrittenEvent},
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{ClosureRow, YearSaved},
};

/// Export the teaching year as a calendar
///
/// iCalendar (RFC 5545): school years, half terms and what is closed, each an event of whole days whose
/// `CATEGORIES` say what it is, for half a day and for which year groups. Ids stay the same from file to file.
/// Importing it changes nothing; closures of single classes are written, and not read.
#[utoipa::path(
    tag = "calendar", operation_id = "export_calendar",
    responses((status = 200, description = "The file", content_type = "text/calendar", body = String,
        example = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n"), ReadProblems)
)]
#[get("/calendar.ics")]
pub async fn export_calendar(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Calendar)?;
            let mut events: Vec<WrittenEvent> = tx.school_years(&permit)?.iter().flat_map(of_year).collect();
            let rules = tx.rules()?;
            for row in tx.closures(&permit, false)? {
                events.push(of_closure(rules, &row)?);
            }
            let stamp = tx.now().to_string();
            let stamp: String = stamp.chars().filter(|c| !matches!(c, '-' | ':')).take(15).collect();
            let text = calendar_ics::write("Teaching year", &format!("{stamp}Z"), events);
            Ok(Reply::text(&format!("{MEDIA_TYPE}; charset=utf-8"), text))
        })
        .await
}

fn category(meaning: Meaning) -> String {
    meaning.as_str().to_uppercase().replace('_', "-")
}

fn of_year(saved: &YearSaved) -> Vec<WrittenEvent> {
    let year = &saved.year;
    let whole = WrittenEvent {
        uid: saved.id.to_string(),
        summary: format!("School year {}", year.year),
        categories: vec![category(Meaning::SchoolYear)],
        from: year.starts_on,
        until: year.ends_on,
    };
    let term = |term: &plumbline_core::calendar::HalfTerm| WrittenEvent {
        uid: term.id.to_string(),
        summary: term.name.to_string(),
        categories: vec![category(Meaning::HalfTerm)],
        from: term.starts_on,
        until: term.ends_on,
    };
    std::iter::once(whole).chain(year.half_terms.iter().map(term)).collect()
}

fn of_closure(rules: &RulePack, row: &ClosureRow) -> Result<WrittenEvent, Problem> {
    let plan = row.plan()?;
    let (meaning, words) = match plan.kind {
        ClosureKind::Inset => (Meaning::Inset, "Staff training day"),
        ClosureKind::Closure => (Meaning::Closure, "Closed"),
        ClosureKind::Trip => (Meaning::Trip, "Trip"),
    };
    let reason = rules.closure_reasons.iter().find(|coded| Some(&coded.code) == row.reason.as_ref());
    let mut categories = vec![category(meaning)];
    if plan.part != DayPart::Whole {
        categories.push(plan.part.as_str().to_uppercase());
    }
    match plan.whom {
        ClosedFor::School => {}
        ClosedFor::YearGroups(codes) => categories.extend(codes),
        ClosedFor::Classes(_) => categories.push(FOR_CLASSES.to_owned()),
    }
    Ok(WrittenEvent {
        uid: row.id.to_string(),
        summary: reason.map_or(words, |reason| reason.label.as_str()).to_owned(),
        categories,
        from: plan.from,
        until: plan.until,
    })
}
