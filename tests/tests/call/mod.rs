//! How an operation is asked.

pub mod answering;
pub mod books;
pub mod catch_up;
pub mod checks;
pub mod fields;
pub mod group_proposals;
pub mod groups;
pub mod imports;
pub mod proposals;
pub mod pupils;
pub mod reports;
pub mod rollovers;
pub mod sequences;
pub mod sittings;
pub mod staff;
pub mod statutory;
pub mod syncing;
pub mod tablets;
pub mod trust;
pub mod words;

use plumbline_tests::{Client, Value};

/// A request ready to be sent.
pub struct Call {
    pub method: &'static str,
    pub path: String,
    pub etag: Option<String>,
    pub body: Option<Value>,
    /// Its media type and what it holds.
    pub file: Option<(&'static str, &'static str)>,
    pub as_fresh_sign_in: bool,
}

impl Call {
    pub fn new(method: &'static str, path: String) -> Self {
        Self { method, path, etag: None, body: None, file: None, as_fresh_sign_in: false }
    }
    pub fn get(path: String) -> Self {
        Self::new("GET", path)
    }
    pub fn delete(path: String) -> Self {
        Self::new("DELETE", path)
    }
    pub fn post(path: String, body: Value) -> Self {
        Self { body: Some(body), ..Self::new("POST", path) }
    }
    pub fn put(path: String, etag: String, body: Value) -> Self {
        Self { body: Some(body), etag: Some(etag), ..Self::new("PUT", path) }
    }
    pub fn patch(path: String, etag: String, body: Value) -> Self {
        Self { body: Some(body), etag: Some(etag), ..Self::new("PATCH", path) }
    }
    pub fn fresh_sign_in(self) -> Self {
        Self { as_fresh_sign_in: true, ..self }
    }
}

/// What operations are asked about, where a school does not have it from the start.
pub fn prepare(lead: &Client) {
    fields::prepare(lead);
    proposals::prepare(lead);
    rollovers::prepare(lead);
    answering::prepare(lead);
    sittings::prepare(lead);
    statutory::prepare(lead);
}

/// Operations that are asked by an address without anything in it.
pub fn plain(operation: &str, lead: &Client) -> Option<Call> {
    if operation == "import_calendar" {
        let file = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n";
        let look = "/api/v1/calendar/imports?dry_run=true";
        return Some(Call {
            etag: Some(lead.send("POST", look, Some("text/calendar"), file.as_bytes()).etag()),
            file: Some(("text/calendar", file)),
            ..Call::new("POST", "/calendar/imports".into())
        });
    }
    let path = match operation {
        "get_me" => "/me",
        "list_staff" => "/staff",
        "get_school" => "/school",
        "get_rule_pack" => "/rule-pack",
        "list_school_years" => "/school-years",
        "list_teaching_days" => "/teaching-days?from=2026-11-23&to=2026-11-27",
        "list_closures" => "/closures",
        "export_calendar" => "/calendar.ics",
        "list_classes" => "/classes",
        "list_pupils" => "/pupils",
        "list_sequences" => "/sequences",
        "list_groups" => "/groups",
        "list_checks" => "/checks",
        "list_check_rounds" => "/check-rounds",
        "list_my_checks" => "/my-checks",
        "get_word" => "/words/cake",
        "get_weekly_overview" => "/weekly-overview",
        "list_audit_entries" => "/audit-entries",
        _ => return None,
    };
    Some(Call::get(path.into()))
}
