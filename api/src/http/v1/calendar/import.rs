//! POST /calendar/imports

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Calendar},
    calendar::{
        CalendarImport, ClosedFor, ClosureKind, DayPart, FileEvent, Meaning, Meanings, Said, Words,
        plan_import,
    },
    id::ClassId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use utoipa::{IntoParams, ToSchema};

use super::{RecordedGroup, recorded};
use crate::{
    files::calendar_ics::{self, MEDIA_TYPE},
    http::{
        body::Raw,
        caller::{Caller, blocking, same_version},
        problem::{Code, FieldError, Problem},
        problems::EditProblems,
        query::Query,
        reply::Reply,
    },
    store::{Permit, Tx},
};

/// Where the answers to questions go.
const SAY: &str = "Name it or its categories in school_years, half_terms, insets, closures, trips or left_out, and \
    categories that say when, or nothing, in mornings, afternoons or ignored";

/// How to import a file. What an event is called, or a category of it, can be said to mean something; several
/// stand with `|` between them, in any case; a `|` that belongs to it has `\` before it.
#[derive(Clone, Deserialize, Serialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CalendarImportQuery {
    /// Only say what the file would change.
    #[serde(default)]
    pub dry_run: bool,
    /// Whether days are closed, or become holidays, of which lessons are on record.
    #[serde(default)]
    pub with_records: bool,
    /// What means a school year.
    pub school_years: Option<String>,
    /// What means a half term.
    pub half_terms: Option<String>,
    /// What means staff training.
    pub insets: Option<String>,
    /// What means that the school is shut.
    pub closures: Option<String>,
    /// What means a trip.
    pub trips: Option<String>,
    /// What is nothing of the teaching year.
    pub left_out: Option<String>,
    /// Categories that mean the first half of a day.
    pub mornings: Option<String>,
    /// Categories that mean the second half of a day.
    pub afternoons: Option<String>,
    /// Categories that say nothing of what an event is, when, or for whom.
    pub ignored: Option<String>,
}

/// Words with `|` between them; one that belongs to a word has `\` before it.
fn several(words: &str) -> Vec<String> {
    let (mut out, mut escaped) = (vec![String::new()], false);
    for c in words.chars() {
        match c {
            '\\' if !escaped => escaped = true,
            '|' if !escaped => out.push(String::new()),
            _ => {
                if let Some(last) = out.last_mut() {
                    last.push(c);
                }
                escaped = false;
            }
        }
    }
    out
}

impl CalendarImportQuery {
    fn meanings(&self) -> Result<Meanings, Problem> {
        let said = [
            ("school_years", &self.school_years, Said::Is(Meaning::SchoolYear)),
            ("half_terms", &self.half_terms, Said::Is(Meaning::HalfTerm)),
            ("insets", &self.insets, Said::Is(Meaning::Inset)),
            ("closures", &self.closures, Said::Is(Meaning::Closure)),
            ("trips", &self.trips, Said::Is(Meaning::Trip)),
            ("left_out", &self.left_out, Said::Is(Meaning::LeftOut)),
            ("mornings", &self.mornings, Said::Part(DayPart::Morning)),
            ("afternoons", &self.afternoons, Said::Part(DayPart::Afternoon)),
            ("ignored", &self.ignored, Said::Nothing),
        ];
        let mut meanings = Meanings::default();
        for (field, words, said) in said {
            for words in words.iter().flat_map(|words| several(words)) {
                meanings.say(&words, said).map_err(|error| Problem::field(field, error.to_string()))?;
            }
        }
        Ok(meanings)
    }
}

/// A school year as it would be.
#[derive(Serialize, ToSchema)]
pub struct ImportedYear {
    /// The calendar year it starts in.
    pub year: i32,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
    /// Its half terms, in order.
    pub half_terms: Vec<ImportedHalfTerm>,
}

/// A half term as it would be.
#[derive(Serialize, ToSchema)]
pub struct ImportedHalfTerm {
    /// As shown.
    pub name: String,
    /// First day.
    pub starts_on: Date,
    /// Last day.
    pub ends_on: Date,
}

/// Days that would be closed.
#[derive(Serialize, ToSchema)]
pub struct ImportedClosure {
    /// The line its event begins in.
    pub line: u64,
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Staff training, shut, or away together.
    pub kind: ClosureKind,
    /// How much of each day.
    pub part: DayPart,
    /// Codes of the year groups, where it is for some only.
    pub year_groups: Vec<String>,
    /// The classes, where it is for some only.
    pub class_ids: Vec<ClassId>,
}

/// An event that changes nothing.
#[derive(Serialize, ToSchema)]
pub struct ImportEvent {
    /// The line it begins in.
    pub line: u64,
    /// What it is called.
    pub summary: String,
    /// Its categories.
    pub categories: Vec<String>,
    /// Why it is left out, or asked about.
    pub why: String,
}

impl ImportEvent {
    fn of(event: FileEvent, why: String) -> Self {
        Self { line: event.line, summary: event.summary, categories: event.categories, why }
    }
}

/// What a calendar file changes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "dry_run": true, "years": [], "unchanged": 6, "left_out": [], "questions": [], "faults": [], "recorded": [],
    "closures": [{"line": 12, "from": "2026-11-20", "until": "2026-11-20", "kind": "inset", "part": "whole", "year_groups": [], "class_ids": []}]
}))]
pub struct CalendarImportBody {
    /// Whether nothing was written.
    pub dry_run: bool,
    /// School years that are new or change, whole.
    pub years: Vec<ImportedYear>,
    /// What is closed.
    pub closures: Vec<ImportedClosure>,
    /// Events that say what stands already.
    pub unchanged: usize,
    /// Events that are not read, and why.
    pub left_out: Vec<ImportEvent>,
    /// Events of which it has to be said what they are before the file can be imported.
    pub questions: Vec<ImportEvent>,
    /// Lines that cannot be as things stand, while there are questions whose answers may mend them; without questions
    /// they are refused.
    pub faults: Vec<FieldError>,
    /// Groups with lessons on record of days that would not be taught any more, or not to all who were there, by name:
    /// closing them needs `with_records`.
    pub recorded: Vec<RecordedGroup>,
}

impl CalendarImportBody {
    fn of(plan: CalendarImport, recorded: Vec<RecordedGroup>, dry_run: bool) -> Self {
        let year = |(year, plan): (i32, plumbline_core::calendar::YearPlan)| ImportedYear {
            year,
            starts_on: plan.starts_on,
            ends_on: plan.ends_on,
            half_terms: plan
                .half_terms
                .into_iter()
                .map(|term| ImportedHalfTerm {
                    name: term.name.into(),
                    starts_on: term.starts_on,
                    ends_on: term.ends_on,
                })
                .collect(),
        };
        let closure = |(line, plan): (u64, plumbline_core::calendar::ClosurePlan)| ImportedClosure {
            line,
            from: plan.from,
            until: plan.until,
            kind: plan.kind,
            part: plan.part,
            year_groups: match &plan.whom {
                ClosedFor::YearGroups(codes) => codes.iter().cloned().collect(),
                ClosedFor::School | ClosedFor::Classes(_) => Vec::new(),
            },
            class_ids: match &plan.whom {
                ClosedFor::Classes(ids) => ids.iter().copied().collect(),
                ClosedFor::School | ClosedFor::YearGroups(_) => Vec::new(),
            },
        };
        Self {
            dry_run,
            recorded,
            years: plan.years.into_iter().map(year).collect(),
            closures: plan.closures.into_iter().map(closure).collect(),
            unchanged: plan.unchanged,
            left_out: plan
                .left_out
                .into_iter()
                .map(|(event, why)| ImportEvent::of(event, why.into()))
                .collect(),
            questions: plan.questions.into_iter().map(|(event, why)| ImportEvent::of(event, why)).collect(),
            faults: plan.faults.into_iter().map(FieldError::from).collect(),
        }
    }
}

/// Import school years, half terms and closures from a calendar file
///
/// iCalendar (RFC 5545). Events of whole days are read; what each one is, its `CATEGORIES` say in the words of
/// the export, or you do in the address. Other categories name year groups by the labels of the rule pack, or classes
/// as they are called; one that is not known is a question, as nothing is guessed. Ask with `dry_run` first: it names the events you
/// have to say something about, and groups with lessons on record of days that would be closed. Its ETag is the
/// calendar's; the import names it in If-Match, so that what is changed is what was looked at. A half term takes the place of one with its name, in the school year in which it
/// begins; nothing is taken away. A cancelled event is left out; one that repeats is refused with its line. All of it or nothing.
#[utoipa::path(
    tag = "calendar", operation_id = "import_calendar", params(CalendarImportQuery,
        ("If-Match" = Option<String>, Header, description = "The ETag of the dry run; needed to import"),
        ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    request_body(content = String, content_type = "text/calendar", description = "The file",
        example = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTART;VALUE=DATE:20261120\r\nSUMMARY:Staff training\r\nCATEGORIES:INSET\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"),
    responses((status = 200, description = "What it changed, or would change; of a dry run ETag", body = CalendarImportBody), EditProblems)
)]
#[post("/calendar/imports")]
pub async fn import_calendar(
    caller: Caller,
    query: Query<CalendarImportQuery>,
    file: Raw,
) -> Result<Reply, Problem> {
    if file.media_type != MEDIA_TYPE {
        return Err(Problem::saying(Code::UnsupportedMediaType, format!("send the file as {MEDIA_TYPE}")));
    }
    let query = query.into_inner();
    // What was asked in the address belongs to the request.
    let asked = serde_json::to_vec(&query)?;
    let hash = Sha256::new().chain_update(asked).chain_update(&file.bytes).finalize().into();
    let meanings = query.meanings()?;
    let events = blocking(move || Ok(calendar_ics::read(&file.bytes)?)).await?;
    if query.dry_run {
        return caller
            .read(move |tx| {
                let permit = tx.permit::<Manage, _>(Calendar)?;
                let plan = planned(tx, &permit, &events, &meanings)?;
                let recorded = recorded(tx, &permit, &plan.after, true)?;
                let version = tx.calendar_version(&permit)?;
                Ok(Reply::ok(&CalendarImportBody::of(plan, recorded, true))?.version(version))
            })
            .await;
    }
    let base = caller.base_version();
    let with_records = query.with_records;
    caller
        .create("calendar.import", hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Calendar)?;
            same_version(tx.calendar_version(&permit)?, base)?;
            let plan = planned(tx, &permit, &events, &meanings)?;
            if !plan.questions.is_empty() {
                let question = |(event, why): &(FileEvent, String)| FieldError {
                    field: format!("line {}", event.line),
                    message: format!("{:?}: {why}. {SAY}", event.summary),
                };
                return Err(Problem::fields(plan.questions.iter().map(question)));
            }
            let recorded = recorded(tx, &permit, &plan.after, with_records)?;
            for (year, plan) in &plan.years {
                tx.save_year(&permit, *year, plan)?;
            }
            for (_, plan) in &plan.closures {
                tx.add_closure(&permit, plan, None)?;
            }
            Reply::ok(&CalendarImportBody::of(plan, recorded, false))
        })
        .await
}

fn planned<'tx>(
    tx: &mut Tx<'tx>,
    _permit: &Permit<'tx, Manage, Calendar>,
    events: &[FileEvent],
    meanings: &Meanings,
) -> Result<CalendarImport, Problem> {
    let classes: Vec<_> = tx.classes()?.into_iter().map(|class| (class.id, class.name)).collect();
    let words = Words { said: meanings, rules: tx.rules()?, classes: &classes };
    Ok(plan_import(&tx.calendar()?, events.to_vec(), words)?)
}
