//! Who may do what: every operation of the served document, asked by everybody, gives the
//! status of the reviewed matrix in `access_matrix.tsv`; what is refused leaves no trace.
#![allow(clippy::unwrap_used)]

mod call;

use std::{
    cell::{Cell, RefCell},
    collections::BTreeMap,
    fmt::Write as _,
};

use call::Call;
use plumbline_tests::{Answer, Client, Document, Forge, School, Value, json};

const MATRIX: &str = include_str!("access_matrix.tsv");

/// Who asks: the columns, in the matrix's order.
const COLUMNS: &[&str] = &[
    "nobody",
    "expired",
    "own_teacher",
    "other_teacher",
    "assistant",
    "cover",
    "lead",
    "head",
    "office",
    "administrator",
    "trust_lead",
    "other_school_lead",
    "disabled",
];

/// A school with one of everything.
struct Prepared {
    school: School,
    lead: Client,
    office: Client,
    admin: Client,
    callers: BTreeMap<&'static str, Client>,
    sequence: String,
    version: String,
    lesson: String,
    group: String,
    class: String,
    pupil: String,
    record: String,
    check: String,
    round: String,
    closure: String,
    import: String,
    spare_staff: String,
    half_term: String,
    items: RefCell<Vec<String>>,
    used: Cell<usize>,
    made: Cell<u32>,
}

#[track_caller]
fn id(json: &Value) -> String {
    json["id"].as_str().unwrap().to_owned()
}

impl Prepared {
    fn new() -> Self {
        let school = School::start();
        let half_terms = school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        let (lead, office, admin) = (school.lead(), school.staff("office"), school.staff("administrator"));
        let class = id(&lead.get("/classes").expect(200)["items"][0]);
        let adults = ["teacher", "assistant", "cover", "teacher:3"]
            .map(|key| json!({"staff_id": school.staff_id(key), "from": "2026-09-01"}));
        let adults = json!({"adults": adults});
        for path in [format!("/groups/{group}"), format!("/classes/{class}")] {
            let etag = lead.get(&path).etag();
            lead.put(&format!("{path}/adults"), &etag, adults.clone()).expect(200);
        }
        let lesson = id(&content["steps"][0]["lessons"][0]);
        let record = lead
            .post(
                &format!("/groups/{group}/lesson-records"),
                json!({"on": "2026-11-03", "lesson_id": lesson, "outcome": "delivered"}),
            )
            .expect(201);
        let items: Vec<Value> = (0..40).map(|n| json!({"prompt": format!("word {n}")})).collect();
        let check = lead
            .post("/checks", json!({"name": "Words", "kind": "word_reading", "items": items}))
            .expect(201);
        let round = json!({"name": "Autumn 2", "opens_on": "2026-11-16", "closes_on": "2026-12-04",
                           "check_ids": [check["id"]]});
        let round = id(&lead.post("/check-rounds", round).expect(201));
        let closure = json!({"on": "2026-11-20", "kind": "inset"});
        let apart = json!({"verdict": "different", "pupil_id": pupils["Zoe"], "other_id": pupils["Max"]});
        lead.post("/pupil-decisions", apart).expect(201);
        let prepared = Self {
            version: id(&content),
            half_term: half_terms[1].clone(),
            pupil: pupils["Zoe"].clone(),
            record: id(&record),
            closure: id(&lead.post("/closures", closure).expect(201)),
            import: id(&lead.post_csv("/roster-imports", call::imports::CSV.as_bytes()).expect(201)),
            spare_staff: school.staff_id("teacher:4"),
            items: RefCell::new(check["items"].as_array().unwrap().iter().map(id).rev().collect()),
            check: id(&check),
            callers: callers(&school),
            used: Cell::new(0),
            made: Cell::new(0),
            school,
            lead,
            office,
            admin,
            sequence,
            lesson,
            group,
            class,
            round,
        };
        prepared.answer_an_item(&prepared.lead).expect(201);
        call::prepare(&prepared.lead);
        call::sequences::prepare(&prepared.lead, &prepared.sequence);
        call::groups::prepare(&prepared.lead, &prepared.group, &prepared.content());
        call::catch_up::prepare(&prepared.lead, &prepared.group, &prepared.content(), &prepared.pupil);
        prepared
    }

    /// A number no earlier call got.
    fn fresh(&self) -> u32 {
        self.made.set(self.made.get() + 1);
        self.made.get()
    }

    /// A day and a slot without a lesson: a day has nine.
    fn next_slot(&self) -> (&'static str, usize) {
        self.used.set(self.used.get() + 1);
        let days = ["2026-11-16", "2026-11-17", "2026-11-18", "2026-11-19"];
        (days[self.used.get() / 9], self.used.get() % 9 + 1)
    }

    fn content(&self) -> String {
        format!("/sequences/{}/versions/{}", self.sequence, self.version)
    }

    fn responses(&self) -> String {
        format!("/check-rounds/{}/pupils/{}/responses", self.round, self.pupil)
    }

    fn answer_an_item(&self, client: &Client) -> Answer {
        let call = self.record_responses();
        client.call(call.method, &call.path, call.body.as_ref())
    }

    fn record_responses(&self) -> Call {
        let item = self.items.borrow_mut().pop().unwrap();
        let body = json!({"check_id": self.check, "on": "2026-11-24",
                          "answers": [{"item_id": item, "outcome": "right"}]});
        Call::post(self.responses(), body)
    }

    /// The request of an operation, on what exists; `caller` is who will send it.
    fn call(&self, operation: &str, caller: &Client) -> Call {
        let Self { sequence, group, class, pupil, record, round, .. } = self;
        let etag = |path: &str| self.lead.get(path).etag();
        match operation {
            // Signing in.
            "create_session" => {
                let (email, password) = (School::email("teacher:2"), School::password());
                Call::post("/sessions".into(), json!({"email": email, "password": password}))
            }
            "refresh_session" => {
                let signed_in = self.school.sign_in(&School::email("teacher:2"));
                let body = json!({"refresh_token": signed_in["refresh_token"]});
                Call::post("/sessions/refresh".into(), body)
            }
            "end_session" => Call::delete("/sessions/current".into()).fresh_sign_in(),
            "end_all_sessions" => Call::delete("/sessions".into()).fresh_sign_in(),
            // Staff.
            "invite_staff" => {
                let email = format!("new{}@farholt.example", self.fresh());
                let body = json!({"name": "New Colleague", "email": email, "roles": [{"role": "teacher"}]});
                Call::post("/invitations".into(), body)
            }
            "accept_invitation" => {
                let invitation = self.call("invite_staff", &self.admin);
                let invited = self.admin.post(&invitation.path, invitation.body.unwrap()).expect(201);
                let body = json!({"token": invited["token"], "password": School::password()});
                Call::post("/invitations/accept".into(), body)
            }
            "update_staff" => {
                let path = format!("/staff/{}", self.spare_staff);
                let etag = etag(&path);
                Call::patch(path, etag, json!({"name": "Renamed Person"}))
            }
            "set_staff_roles" => {
                let path = format!("/staff/{}", self.spare_staff);
                let etag = etag(&path);
                Call::put(
                    format!("{path}/roles"),
                    etag,
                    json!({"roles": [{"role": "teacher", "from": "2026-09-01"}]}),
                )
            }
            // School and calendar.
            "update_school" => {
                let seen = caller.get("/school");
                let etag = if seen.status == 200 { seen.etag() } else { etag("/school") };
                Call::patch("/school".into(), etag, json!({"name": format!("School {}", self.fresh())}))
            }
            "save_school_year" => {
                let known = self.lead.get("/school-years").expect(200);
                let known = known["items"].as_array().unwrap().iter().find(|year| year["year"] == 2027);
                let etag = known.map_or("\"v1\"", |year| year["etag"].as_str().unwrap()).to_owned();
                let body = json!({"starts_on": "2027-09-01", "ends_on": "2028-08-31", "half_terms": [
                    {"name": "Autumn 1", "starts_on": "2027-09-01", "ends_on": "2027-10-22"}]});
                Call::put("/school-years/2027".into(), etag, body)
            }
            "add_closure" => {
                let day = ["2026-12-07", "2026-12-08", "2026-12-09", "2026-12-10", "2026-12-11"];
                let taken = self.lead.get("/closures").text;
                let day = day.iter().find(|day| !taken.contains(**day)).unwrap();
                Call::post("/closures".into(), json!({"on": day, "kind": "inset"}))
            }
            "remove_closure" => {
                let closures = self.lead.get("/closures").expect(200);
                let known = closures["items"].as_array().unwrap().iter().map(id).any(|id| id == self.closure);
                let id = if known { self.closure.clone() } else { id(&closures["items"][0]) };
                Call::delete(format!("/closures/{id}"))
            }
            // Roster.
            "create_class" => {
                Call::post("/classes".into(), json!({"name": format!("Class {}", self.fresh())}))
            }
            "get_class" => Call::get(format!("/classes/{class}")),
            "set_class_adults" => {
                let path = format!("/classes/{class}");
                let seen = self.lead.get(&path);
                Call::put(format!("{path}/adults"), seen.etag(), self.same_adults(&seen.json()))
            }
            // Groups.
            "create_group" => {
                let name = format!("Group {}", self.fresh());
                Call::post("/groups".into(), json!({"name": name, "sequence_id": sequence}))
            }
            "update_group" => {
                let path = format!("/groups/{group}");
                let etag = etag(&path);
                Call::patch(path, etag, json!({"name": format!("Alder {}", self.fresh())}))
            }
            "set_group_adults" => {
                let path = format!("/groups/{group}");
                let seen = self.lead.get(&path);
                Call::put(format!("{path}/adults"), seen.etag(), self.same_adults(&seen.json()))
            }
            "set_group_members" => {
                let path = format!("/groups/{group}");
                let seen = self.lead.get(&path);
                let pupils: Vec<String> = seen.json()["members"].as_array().unwrap().iter().map(id).collect();
                let body = json!({"from": "2026-09-01", "pupil_ids": pupils});
                Call::put(format!("{path}/members"), seen.etag(), body)
            }
            // Lesson records.
            "record_lesson" => {
                let (on, slot) = self.next_slot();
                let body = json!({"on": on, "slot": slot, "lesson_id": self.lesson, "outcome": "retaught"});
                Call::post(format!("/groups/{group}/lesson-records"), body)
            }
            "get_lesson_record" => Call::get(format!("/lesson-records/{record}")),
            "get_lesson_record_history" => Call::get(format!("/lesson-records/{record}/history")),
            "list_lesson_records_set_aside" => Call::get(format!("/lesson-records/{record}/set-aside")),
            "amend_lesson_record" => {
                let path = format!("/lesson-records/{record}");
                let etag = etag(&path);
                let body = json!({"on": "2026-11-03", "lesson_id": self.lesson, "outcome": "delivered"});
                Call::put(path, etag, body)
            }
            "delete_lesson_record" => {
                let records = self.lead.get(&format!("/groups/{group}/lesson-records")).expect(200);
                let newest = records["items"][0]["id"].as_str().unwrap_or(record);
                let newest = format!("/lesson-records/{newest}");
                let etag = self.lead.get(&newest).header("ETag");
                Call { etag: Some(etag), ..Call::delete(newest) }
            }
            // Checks.
            "record_responses" => self.record_responses(),
            "record_sheet" => call::checks::sheet(round, pupil, self.record_responses()),
            "list_responses" => Call::get(self.responses()),
            "list_responses_set_aside" => Call::get(self.responses().replace("/responses", "/set-aside")),
            "correct_response" => {
                let known = self.lead.get(&self.responses()).expect(200);
                let counts = known["items"].as_array().unwrap().iter().find(|row| row["in_force"] == true);
                let path = format!("/check-rounds/{round}/pupils/{pupil}/corrections");
                Call::post(path, json!({"response_id": counts.unwrap()["id"], "outcome": "wrong"}))
            }
            other => call::plain(other, &self.lead)
                .or_else(|| call::staff::call(other, &self.spare_staff))
                .or_else(|| call::reports::call(other, &self.lead, &self.half_term))
                .or_else(|| call::trust::call(other, &self.lead, &self.callers["trust_lead"], self.fresh()))
                .or_else(|| call::imports::call(other, &self.lead, &self.import))
                .or_else(|| call::pupils::call(other, &self.lead, caller, pupil, || self.fresh()))
                .or_else(|| call::fields::call(other, &self.lead, caller, pupil))
                .or_else(|| call::sequences::call(other, &self.lead, sequence, &self.content(), self.fresh()))
                .or_else(|| call::groups::call(other, &self.lead, group, &self.content(), pupil))
                .or_else(|| call::checks::call(other, group, &self.check, round))
                .or_else(|| call::catch_up::call(other, &self.lead, group, &self.content(), pupil))
                .or_else(|| call::rollovers::call(other, &self.lead))
                .or_else(|| call::tablets::call(other, &self.lead, caller, || self.fresh()))
                .or_else(|| call::group_proposals::call(other, &self.lead, sequence, pupil))
                .or_else(|| call::proposals::call(other, &self.lead, caller))
                .or_else(|| call::words::call(other, &self.lead, caller, group, self.fresh()))
                .or_else(|| call::books::call(other, &self.lead, sequence, pupil, self.fresh()))
                .unwrap_or_else(|| panic!("{other} is new: say how it is asked, and add it to the matrix")),
        }
    }

    fn same_adults(&self, seen: &Value) -> Value {
        let adults: Vec<Value> = seen["adults"]
            .as_array()
            .unwrap()
            .iter()
            .map(|adult| json!({"staff_id": adult["staff_id"], "from": adult["from"]}))
            .collect();
        json!({"adults": adults})
    }

    /// Sends the request of an operation as a column's caller.
    fn ask(&self, operation: &str, column: &str) -> Answer {
        let mut caller = self.callers[column].clone();
        let call = self.call(operation, &caller);
        if call.as_fresh_sign_in {
            // So that signing out takes away nobody's token that is still needed.
            if let Some(email) = email_of(column) {
                let signed_in = self.school.sign_in(&email);
                caller = caller.with_token(signed_in["access_token"].as_str().unwrap());
            }
        }
        if let Some(etag) = &call.etag {
            caller = caller.with("If-Match", etag);
        }
        let path = format!("/api/v1{}", call.path);
        match call.file {
            Some((media, file)) => caller.send("POST", &path, Some(media), file.as_bytes()),
            None => caller.call(call.method, &call.path, call.body.as_ref()),
        }
    }

    /// What the school holds, as its lead and its administrator see it.
    fn snapshot(&self) -> Vec<(String, String)> {
        let paths = [
            "/staff".into(),
            "/school".into(),
            "/school-years".into(),
            "/closures".into(),
            "/classes".into(),
            format!("/classes/{}", self.class),
            "/pupils?limit=500".into(),
            format!("/pupils/{}", self.pupil),
            format!("/pupils/{}/coverage", self.pupil),
            "/optional-fields".into(),
            format!("/pupils/{}/fields", self.pupil),
            format!("/roster-imports/{}", self.import),
            "/pupil-decisions".into(),
            "/sequences".into(),
            format!("/sequences/{}/draft", self.sequence),
            format!("/sequences/{}/versions", self.sequence),
            "/sequence-proposals".into(),
            "/groups".into(),
            format!("/groups/{}", self.group),
            format!("/groups/{}/lesson-records", self.group),
            format!("/groups/{}/carried-in", self.group),
            format!("/groups/{}/catch-up-records", self.group),
            format!("/lesson-records/{}", self.record),
            "/checks".into(),
            "/check-rounds".into(),
            self.responses(),
        ];
        paths
            .into_iter()
            .map(|path: String| {
                let seen = self.lead.get(&path);
                assert_eq!(seen.status, 200, "{path}: {}", seen.text);
                (path, format!("{} {}", seen.header("ETag"), seen.text))
            })
            .collect()
    }
}

/// The address of a column's caller, where that one can sign in.
fn email_of(column: &str) -> Option<String> {
    match column {
        "nobody" | "expired" | "disabled" => None,
        "own_teacher" => Some(School::email("teacher")),
        "other_teacher" => Some(School::email("teacher:2")),
        "other_school_lead" => Some("lead@millbrook.example".into()),
        role => Some(School::email(role)),
    }
}

fn callers(school: &School) -> BTreeMap<&'static str, Client> {
    let disabled = school.staff("teacher:3");
    let path = format!("/staff/{}", school.staff_id("teacher:3"));
    let admin = school.staff("administrator");
    admin.patch(&path, &admin.get(&path).etag(), json!({"disabled": true})).expect(200);
    COLUMNS
        .iter()
        .map(|column| {
            let client = match *column {
                "nobody" => school.nobody(),
                "expired" => school.nobody().with_token(&expired(school)),
                "own_teacher" => school.staff("teacher"),
                "other_teacher" => school.staff("teacher:2"),
                "other_school_lead" => school.neighbour(),
                "disabled" => disabled.clone(),
                role => school.staff(role),
            };
            (*column, client)
        })
        .collect()
}

/// The lead's own token, had it been issued eleven minutes ago.
fn expired(school: &School) -> String {
    Forge::of(&school.server, school.lead().token()).shifted(-660).signed()
}

/// The reviewed rows: operation and its statuses by column.
fn reviewed() -> Vec<(String, Vec<u16>)> {
    let mut lines = MATRIX.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
    let header: Vec<&str> = lines.next().unwrap().split('\t').collect();
    assert_eq!(header[0], "operation");
    assert_eq!(&header[1..], COLUMNS);
    lines
        .map(|line| {
            let mut cells = line.split('\t');
            let operation = cells.next().unwrap().to_owned();
            let statuses: Vec<u16> = cells.map(|cell| cell.parse().unwrap()).collect();
            assert_eq!(statuses.len(), COLUMNS.len(), "{operation}");
            (operation, statuses)
        })
        .collect()
}

#[track_caller]
fn none(wrong: &[String]) {
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Answers whose status or body is not what the served document says.
fn undocumented(school: &Prepared, seen: &BTreeMap<(&str, &str), Answer>) -> Vec<String> {
    let document = Document(school.school.nobody().get("/openapi.json").expect(200));
    let mut wrong = Vec::new();
    for ((id, column), answer) in seen {
        let operation = document.operation(id);
        let response = &operation.json["responses"][answer.status.to_string()];
        if response.is_null() {
            wrong.push(format!("{id} by {column}: {} is not documented", answer.status));
            continue;
        }
        let media = match answer.status {
            204 => {
                assert_eq!(answer.text, "", "{id}");
                continue;
            }
            // The text of a file is no JSON to compare.
            200 if answer.json().is_null() => {
                let named = answer.header("Content-Type").split(';').next().unwrap_or_default().to_owned();
                let of_a_file = named != "application/json" && response["content"].get(&named).is_some();
                assert!(of_a_file, "{id} by {column}: {named} is not documented");
                continue;
            }
            200..300 => "application/json",
            _ => "application/problem+json",
        };
        assert_eq!(answer.header("Content-Type"), media, "{id} by {column}");
        let differences = document.differences(&response["content"][media]["schema"], &answer.json());
        wrong.extend(differences.into_iter().map(|line| format!("{id} by {column}: {line}")));
    }
    wrong
}

const fn is_refusal(status: u16) -> bool {
    status >= 400
}

#[test]
fn everybody_gets_what_the_matrix_says_and_refusals_leave_no_trace() {
    let school = Prepared::new();
    let rows = reviewed();
    let mut seen: BTreeMap<(&str, &str), Answer> = BTreeMap::new();
    let before = school.snapshot();
    for (operation, statuses) in &rows {
        for (column, _) in COLUMNS.iter().zip(statuses).filter(|(_, status)| is_refusal(**status)) {
            seen.insert((operation, column), school.ask(operation, column));
        }
    }
    let after = school.snapshot();
    for (operation, statuses) in &rows {
        for (column, _) in COLUMNS.iter().zip(statuses).filter(|(_, status)| !is_refusal(**status)) {
            seen.insert((operation, column), school.ask(operation, column));
        }
    }
    none(&undocumented(&school, &seen));
    let mut listed = format!("operation\t{}\n", COLUMNS.join("\t"));
    let mut differing = String::new();
    for (operation, statuses) in &rows {
        listed.push_str(operation);
        for (column, expected) in COLUMNS.iter().zip(statuses) {
            let Answer { status, text, .. } = &seen[&(operation.as_str(), *column)];
            write!(listed, "\t{status}").unwrap();
            if status != expected {
                writeln!(differing, "{operation} by {column}: {status} instead of {expected}: {text}")
                    .unwrap();
            }
        }
        listed.push('\n');
    }
    assert!(
        differing.is_empty(),
        "{differing}\nIf the server is right, review the change, then write it to \
         tests/tests/access_matrix.tsv:\n{listed}"
    );
    for (before, after) in before.iter().zip(&after) {
        assert_eq!(before, after, "a refused call changed {}", before.0);
    }
}

#[test]
fn every_operation_has_a_row_and_every_row_an_operation() {
    let school = School::start();
    let document = school.nobody().get("/openapi.json").expect(200);
    let mut operations: Vec<String> = Vec::new();
    for methods in document["paths"].as_object().unwrap().values() {
        for operation in methods.as_object().unwrap().values() {
            operations.push(operation["operationId"].as_str().unwrap().to_owned());
        }
    }
    operations.sort();
    let mut rows: Vec<String> = reviewed().into_iter().map(|(operation, _)| operation).collect();
    rows.sort();
    assert_eq!(rows, operations);
}

#[test]
fn lists_hold_only_what_their_reader_may_see() {
    let school = Prepared::new();
    let held = |column: &str, path: &str| {
        let seen = school.callers[column].get(path).expect(200);
        seen["items"].as_array().unwrap().len()
    };
    let expected: &[(&str, &str, usize)] = &[
        ("lead", "/classes", 1),
        ("office", "/classes", 1),
        ("own_teacher", "/classes", 1),
        ("cover", "/classes", 1),
        ("other_teacher", "/classes", 0),
        ("administrator", "/classes", 0),
        ("trust_lead", "/classes", 0),
        ("other_school_lead", "/classes", 0),
        ("head", "/groups", 1),
        ("own_teacher", "/groups", 1),
        ("other_teacher", "/groups", 0),
        ("other_school_lead", "/groups", 0),
        ("other_school_lead", "/pupils", 0),
        ("other_school_lead", "/sequences", 0),
        ("other_school_lead", "/checks", 0),
        ("other_school_lead", "/check-rounds", 0),
        ("other_school_lead", "/closures", 0),
        ("other_school_lead", "/staff", 2),
    ];
    let wrong: Vec<String> = expected
        .iter()
        .map(|(column, path, count)| (column, path, count, held(column, path)))
        .filter(|(_, _, count, held)| **count != *held)
        .map(|(column, path, count, held)| format!("{path} by {column}: {held} instead of {count}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let progress = format!("/check-rounds/{}/progress", school.round);
    assert_eq!([held("lead", &progress), held("own_teacher", &progress)], [2, 2]);
    assert_eq!(held("other_teacher", &progress), 0);
    assert_eq!(school.office.get("/pupils").expect(200)["items"].as_array().unwrap().len(), 2);
}
