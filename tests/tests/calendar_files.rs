//! The teaching year as a calendar file, out and in.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, calendar_file, column, json, text};

fn post(client: &Client, query: &str, file: &[u8]) -> Answer {
    client.send("POST", &format!("/api/v1/calendar/imports{query}"), Some("text/calendar"), file)
}

/// Sends a file; to be imported with the calendar that a look at it saw, unless that is refused.
fn send(client: &Client, query: &str, file: &[u8]) -> Answer {
    if query.contains("dry_run") {
        return post(client, query, file);
    }
    let seen = post(
        client,
        &if query.is_empty() { "?dry_run=true".into() } else { format!("{query}&dry_run=true") },
        file,
    );
    if seen.status != 200 {
        return seen;
    }
    post(&client.with("If-Match", &seen.etag()), query, file)
}

/// The events of a written file: the values by property, line by line, unfolded.
fn events(text: &str) -> Vec<Vec<(String, String)>> {
    let unfolded = text.replace("\r\n ", "");
    let mut out = Vec::new();
    for line in unfolded.split("\r\n") {
        match line {
            "BEGIN:VEVENT" => out.push(Vec::new()),
            "END:VEVENT" | "END:VCALENDAR" | "" => {}
            _ => {
                if let Some(event) = out.last_mut() {
                    let (name, value) = line.split_once(':').unwrap();
                    event.push((name.to_owned(), value.to_owned()));
                }
            }
        }
    }
    out
}

fn value<'a>(event: &'a [(String, String)], name: &str) -> &'a str {
    &event.iter().find(|(known, _)| known == name).unwrap_or_else(|| panic!("{name}: {event:?}")).1
}

/// A school with a calendar in which something of every kind is closed.
fn full() -> School {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let class = text(&lead.post("/classes", json!({"name": "Oak, \"the long\"; hut"})).expect(201)["id"]);
    for body in [
        json!({"from": "2026-09-01", "kind": "inset", "reason": "training"}),
        json!({"from": "2026-11-12", "until": "2026-11-13", "kind": "closure", "reason": "weather"}),
        json!({"from": "2026-11-18", "kind": "trip", "part": "morning", "year_groups": ["Reception", "Year 1"]}),
        json!({"from": "2026-11-19", "kind": "trip", "class_ids": [class]}),
    ] {
        lead.post("/closures", body).expect(201);
    }
    school
}

#[test]
fn the_teaching_year_is_written_as_whole_days() {
    let school = full();
    let read = school.staff("assistant").get("/calendar.ics");
    assert_eq!(read.header("Content-Type"), "text/calendar; charset=utf-8");
    assert!(read.text.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"), "{}", read.text);
    assert!(read.text.ends_with("END:VCALENDAR\r\n"));
    assert!(read.text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')));
    let found = events(&read.text);
    let lines: Vec<[&str; 4]> = found
        .iter()
        .map(|event| {
            ["DTSTART;VALUE=DATE", "DTEND;VALUE=DATE", "SUMMARY", "CATEGORIES"].map(|name| value(event, name))
        })
        .collect();
    // The end is the day after the last.
    assert_eq!(
        lines,
        [
            ["20260901", "20270901", "School year 2026", "SCHOOL-YEAR"],
            ["20260901", "20261024", "Autumn 1", "HALF-TERM"],
            ["20261102", "20261219", "Autumn 2", "HALF-TERM"],
            ["20260901", "20260902", "Staff training day", "INSET"],
            ["20261112", "20261114", "Severe weather", "CLOSURE"],
            ["20261118", "20261119", "Trip", "TRIP,MORNING,reception,year_1"],
            ["20261119", "20261120", "Trip", "TRIP,CLASS"],
        ]
    );
    let uids =
        |text: &str| events(text).iter().map(|event| value(event, "UID").to_owned()).collect::<Vec<_>>();
    let mut first = uids(&read.text);
    assert_eq!(first, uids(&school.lead().get("/calendar.ics").text), "ids stay");
    first.sort();
    first.dedup();
    assert_eq!(first.len(), 7);
}

#[test]
fn a_written_file_changes_nothing_here_and_makes_the_same_year_elsewhere() {
    let school = full();
    let lead = school.lead();
    let written = lead.get("/calendar.ics").text;
    for query in ["?dry_run=true", ""] {
        let again = send(&lead, query, written.as_bytes()).expect(200);
        assert_eq!((&again["years"], &again["closures"]), (&json!([]), &json!([])), "{again}");
        assert_eq!((&again["unchanged"], &again["questions"]), (&json!(6), &json!([])));
        assert_eq!(column(&again["left_out"], "why"), ["is for single classes, which are closed by name"]);
    }
    let other = School::start();
    let there = other.lead();
    let shown = send(&there, "?dry_run=true", written.as_bytes()).expect(200);
    assert_eq!(there.get("/school-years").expect(200)["items"], json!([]), "only shown");
    let done = send(&there, "", written.as_bytes()).expect(200);
    assert_eq!((&done["years"], &done["closures"]), (&shown["years"], &shown["closures"]));
    let days = |lead: &Client, whom: &str| {
        lead.get(&format!("/teaching-days?from=2026-09-01&to=2026-12-31{whom}")).expect(200)
    };
    assert_eq!(days(&there, ""), days(&lead, ""));
    assert_eq!(days(&there, "&year_group=year_1"), days(&lead, "&year_group=year_1"));
    // 39 and 35 weekdays, less the training day and two days of snow; Year 1 has a morning less.
    assert_eq!(days(&there, "")["teaching_half_days"], 142);
    assert_eq!(days(&there, "&year_group=year_1")["teaching_half_days"], 141);
}

const SAY: &str = "Name it or its categories in school_years, half_terms, insets, closures, trips or left_out, and \
    categories that say when, or nothing, in mornings, afternoons or ignored";

#[test]
fn what_an_event_is_has_to_be_said() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // Names in any case, a name folded in the middle of a letter, lines that end in LF alone.
    let mut sent = calendar_file(&[
        "dtstart;value=date:20270105\ndtend;value=date:20270213\nsummary:Printemps dorX\n Xé\nUID:1",
        "DTSTART;VALUE=DATE:20261120\nSUMMARY:Day off\\, for staff\nCATEGORIES:School\nUID:2",
        "DTSTART:20261205T100000Z\nSUMMARY:Fair\nCATEGORIES:INSET\nUID:3",
    ])
    .replace("\r\n", "\n")
    .into_bytes();
    // The two bytes of é with the fold between them.
    let at = sent.windows(4).position(|four| four == b"X\n X").unwrap();
    sent.splice(at..at + 6, [0xc3, b'\n', b' ', 0xa9]);
    let shown = send(&lead, "?dry_run=true", &sent).expect(200);
    assert_eq!(column(&shown["questions"], "summary"), ["Printemps dor\u{e9}", "Day off, for staff"]);
    assert_eq!(shown["questions"][1]["line"], 11);
    assert_eq!(column(&shown["left_out"], "why"), ["has a time of day"]);
    let refused = send(&lead, "", &sent).problem(422, "invalid");
    assert_eq!(
        refused,
        [
            format!("line 4: \"Printemps doré\": nothing says what it is. {SAY}"),
            format!(
                "line 11: \"Day off, for staff\": neither its name nor its category \"School\" says what it is. {SAY}"
            )
        ]
    );
    let told = "?half_terms=printemps%20dor%C3%A9&insets=other%7CSCHOOL";
    let done = send(&lead, told, &sent).expect(200);
    assert_eq!(column(&done["years"][0]["half_terms"], "name"), ["Autumn 1", "Autumn 2", "Printemps doré"]);
    assert_eq!(done["closures"][0]["from"], "2026-11-20");
    let years = lead.get("/school-years").expect(200);
    assert_eq!(years["items"][0]["half_terms"][2]["ends_on"], "2027-02-12");
    assert_eq!(column(&lead.get("/closures").expect(200)["items"], "kind"), ["inset"]);
}

#[test]
fn nothing_is_guessed_of_what_is_said() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let sent = calendar_file(&[
        "DTSTART;VALUE=DATE:20261120\nCATEGORIES:Other\nUID:1",
        "DTSTART;VALUE=DATE:20261123\nSUMMARY:Training\nCATEGORIES:INSET\nSTATUS:cancelled\nUID:2",
        "DTSTART;VALUE=DATE:20261124\nSUMMARY:Farm\nCATEGORIES:Year 7\nUID:3",
        "DTSTART;VALUE=DATE:20261126\nSUMMARY:Farm\nCATEGORIES:Year 1,Morning,Afternoon\nUID:4",
    ]);
    let ask = |query: &str| send(&lead, query, sent.as_bytes());
    for (query, said) in [
        ("?insets=", "insets: holds an empty word"),
        ("?trips=farm%7C%7Cother", "trips: holds an empty word"),
        ("?closures=Farm&trips=farm", "trips: holds a word that is said to be closure too"),
    ] {
        assert_eq!(ask(query).problem(422, "invalid"), [said], "{query}");
    }
    let shown = ask("?dry_run=true&trips=farm").expect(200);
    assert_eq!(column(&shown["left_out"], "summary"), ["Training"]);
    assert_eq!(column(&shown["left_out"], "why"), ["is cancelled"]);
    let why = "its category \"Year 7\" is not known: say what it is, or that it is ignored";
    assert_eq!(column(&shown["questions"], "summary"), ["", "Farm"]);
    assert_eq!(shown["questions"][0]["why"], "neither its name nor its category \"Other\" says what it is");
    assert_eq!(shown["questions"][1]["why"], why);
    let farm = &shown["closures"][0];
    assert_eq!((&farm["part"], &farm["year_groups"]), (&json!("whole"), &json!(["year_1"])));
    let refused = ask("?trips=farm&left_out=other").problem(422, "invalid");
    assert_eq!(refused, [format!("line 16: \"Farm\": {why}. {SAY}")]);
    let done = ask("?trips=farm%7CYear%207&left_out=other").expect(200);
    assert_eq!(column(&done["closures"], "from"), ["2026-11-24", "2026-11-26"]);
}

#[test]
fn a_file_that_cannot_be_read_is_refused_with_its_line() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let refused = |file: &[u8]| send(&lead, "", file).problem(422, "invalid");
    let event = |lines: &str| refused(calendar_file(&[lines]).as_bytes());
    let start = "DTSTART;VALUE=DATE:20261120\nCATEGORIES:INSET\nUID:1";
    let repeats = "write an event that repeats out, one by one";
    assert_eq!(
        event(&format!("{start}\nRRULE:FREQ=WEEKLY\n ;COUNT=3")),
        [format!("line 8: RRULE: {repeats}")]
    );
    assert_eq!(event(&format!("{start}\nrdate;value=date:20261127")), [format!("line 8: RDATE: {repeats}")]);
    assert_eq!(
        event(&format!("{start}\nRECURRENCE-ID;VALUE=DATE:20261127")),
        [format!("line 8: RECURRENCE-ID: {repeats}")]
    );
    let twice = "line 8: this event has its DTSTART twice";
    assert_eq!(event(&format!("{start}\nDTSTART;VALUE=DATE:20261127")), [twice]);
    let reversed = "line 4: DTEND is the day after the last one, and so after DTSTART";
    assert_eq!(event(&format!("{start}\nDTEND;VALUE=DATE:20261120")), [reversed]);
    assert_eq!(event(&format!("{start}\nDURATION:P2D")), ["line 4: give DTEND in place of DURATION"]);
    assert_eq!(event("CATEGORIES:INSET\nUID:1"), ["line 4: this event has no DTSTART that is a date"]);
    assert_eq!(
        event("DTSTART;VALUE=DATE:20261131\nCATEGORIES:INSET"),
        ["line 4: this event has no DTSTART that is a date"]
    );
    assert_eq!(
        event("DTSTART;VALUE=DATE:20261028\nCATEGORIES:INSET"),
        ["line 4: no lessons are due for any of them then"]
    );
    let none = "file: is not a calendar (RFC 5545), or ends in the middle of one";
    for text in
        ["", "given_name,family_name\n", "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", "BEGIN:VEVENT\nEND:VCALENDAR"]
    {
        assert_eq!(refused(text.as_bytes()), [none], "{text:?}");
    }
    let deep = "BEGIN:VALARM\n".repeat(50_000);
    assert_eq!(refused(deep.as_bytes()), ["line 5: stands too deep in other components"]);
    assert_eq!(
        refused(&calendar_file(&["SUMMARY:\u{1}"]).into_bytes()),
        ["line 5: holds control characters: this is not a calendar"]
    );
    assert_eq!(refused(b"BEGIN:VCALENDAR\nX:\xff\nEND:VCALENDAR\n"), ["line 2: is not UTF-8"]);
    let many = calendar_file(&vec![start; 2_001]);
    assert_eq!(refused(many.as_bytes()), ["file: holds more than 2000 events"]);
    assert_eq!(lead.get("/closures").expect(200)["items"], json!([]), "nothing was written");
    // What is not read costs nothing, however much of it there is.
    let stuffed = format!("{start}\n{}", "A:b\n".repeat(150_000).trim_end());
    send(&lead, "?dry_run=true", calendar_file(&[&stuffed]).as_bytes()).expect(200);
    let csv = lead.post_csv("/calendar/imports", calendar_file(&[start]).as_bytes());
    assert_eq!(csv.problem(415, "unsupported_media_type"), [""; 0]);
    let _: Value = send(&lead, "?dry_run=true", calendar_file(&[start]).as_bytes()).expect(200);
}

#[test]
fn an_import_changes_the_calendar_that_its_preview_saw() {
    let school = full();
    let lead = school.lead();
    let sent =
        calendar_file(&["UID:1\nDTSTART;VALUE=DATE:20261124\nSUMMARY:Staff training\nCATEGORIES:INSET"]);
    let look = || post(&lead, "?dry_run=true", sent.as_bytes());
    let import = |etag: &str| post(&lead.with("If-Match", etag), "", sent.as_bytes());
    post(&lead, "", sent.as_bytes()).problem(428, "precondition_required");
    // Somebody closes a day, takes one back, or saves a year between the two.
    let seen = look().etag();
    let added = lead.post("/closures", json!({"from": "2026-11-26", "kind": "inset"})).expect(201);
    import(&seen).problem(412, "stale");
    let seen = look().etag();
    lead.call("DELETE", &format!("/closures/{}", text(&added["id"])), None).expect(204);
    import(&seen).problem(412, "stale");
    let seen = look().etag();
    let year = json!({"starts_on": "2027-09-01", "ends_on": "2028-08-31", "half_terms": [
        {"name": "Autumn 1", "starts_on": "2027-09-01", "ends_on": "2027-10-22"}]});
    lead.call("PUT", "/school-years/2027", Some(&year)).expect(200);
    import(&seen).problem(412, "stale");
    let closed = || column(&lead.get("/closures").expect(200)["items"], "from");
    assert!(!closed().contains(&"2026-11-24".to_owned()));
    let done = import(&look().etag()).expect(200);
    assert_eq!(done["closures"][0]["from"], "2026-11-24");
    assert!(closed().contains(&"2026-11-24".to_owned()));
}

#[test]
fn a_file_that_closes_recorded_days_says_so_before() {
    let (school, group) = School::with_lessons();
    let lead = school.lead();
    // Lessons are on record of Thursday the 19th, Friday the 20th and Monday the 23rd.
    let sent = calendar_file(&[
        "UID:1\nDTSTART;VALUE=DATE:20261120\nDTEND;VALUE=DATE:20261125\nSUMMARY:Snow\nCATEGORIES:CLOSURE",
    ]);
    let seen = send(&lead, "?dry_run=true", sent.as_bytes()).expect(200);
    let recorded = json!([{"group_id": group, "name": "Alder", "days": ["2026-11-20", "2026-11-23"]}]);
    assert_eq!(seen["recorded"], recorded);
    let refused = send(&lead, "", sent.as_bytes()).problem(409, "conflict");
    let said = "with_records: lessons of Alder are on record: 2026-11-20, 2026-11-23. \
        Say true to close the days all the same; the records stay";
    assert_eq!(refused, [said]);
    assert_eq!(lead.get("/closures").expect(200)["items"], json!([]));
    let done = send(&lead, "?with_records=true", sent.as_bytes()).expect(200);
    assert_eq!(done["recorded"], recorded);
}

#[test]
fn categories_name_year_groups_classes_and_halves_or_are_asked_about() {
    let school = full();
    let lead = school.lead();
    let oak = text(&lead.post("/classes", json!({"name": "Ash"})).expect(201)["id"]);
    let sent = calendar_file(&[
        "UID:1\nDTSTART;VALUE=DATE:20261124\nSUMMARY:Farm\nCATEGORIES:TRIP,Y1",
        "UID:2\nDTSTART;VALUE=DATE:20261125\nSUMMARY:Zoo\nCATEGORIES:TRIP,ash",
        "UID:3\nDTSTART;VALUE=DATE:20261126\nSUMMARY:Boiler\nCATEGORIES:CLOSURE,AM,Blue",
    ]);
    let seen = send(&lead, "?dry_run=true", sent.as_bytes()).expect(200);
    assert_eq!(column(&seen["questions"], "summary"), ["Boiler"]);
    let done = send(&lead, "?mornings=am&ignored=blue", sent.as_bytes()).expect(200);
    let closed = done["closures"].as_array().unwrap();
    let told = |n: usize| ["part", "year_groups", "class_ids"].map(|field| closed[n][field].clone());
    assert_eq!(told(0), [json!("whole"), json!(["year_1"]), json!([])]);
    assert_eq!(told(1), [json!("whole"), json!([]), json!([oak])]);
    assert_eq!(told(2), [json!("morning"), json!([]), json!([])]);
}

#[test]
fn what_was_closed_twice_over_is_read_elsewhere() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let trip = json!({"from": "2026-11-26", "kind": "trip", "year_groups": ["Year 2"]});
    lead.post("/closures", trip).expect(201);
    lead.post("/closures", json!({"from": "2026-11-25", "until": "2026-11-26", "kind": "closure"}))
        .expect(201);
    let written = lead.get("/calendar.ics").text;
    let other = School::start();
    let there = other.lead();
    let done = send(&there, "", written.as_bytes()).expect(200);
    assert_eq!(
        (column(&done["closures"], "from"), &done["left_out"]),
        (vec!["2026-11-25".into(), "2026-11-26".into()], &json!([]))
    );
    let again = send(&there, "", there.get("/calendar.ics").text.as_bytes()).expect(200);
    assert_eq!((&again["closures"], &again["unchanged"]), (&json!([]), &json!(5)));
}

#[test]
fn a_year_that_ends_before_recorded_days_says_so_before() {
    let (school, _) = School::with_lessons();
    let lead = school.lead();
    let year = |last: &str, more: bool| {
        json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "with_records": more, "half_terms": [
            {"name": "Autumn 1", "starts_on": "2026-09-01", "ends_on": "2026-10-23"},
            {"name": "autumn  2", "starts_on": "2026-11-02", "ends_on": last}]})
    };
    let years = || lead.get("/school-years").expect(200)["items"][0].clone();
    let save = |body: Value| lead.put("/school-years/2026", &text(&years()["etag"]), body);
    let before = years();
    let said = "with_records: lessons of Alder are on record: 2026-11-20, 2026-11-23. \
        Say true to close the days all the same; the records stay";
    assert_eq!(save(year("2026-11-19", false)).problem(409, "conflict"), [said]);
    // The same by a file, which names the half term in its own way.
    let sent = calendar_file(&[
        "UID:1\nDTSTART;VALUE=DATE:20261102\nDTEND;VALUE=DATE:20261120\nSUMMARY:AUTUMN 2\nCATEGORIES:HALF-TERM",
    ]);
    assert_eq!(send(&lead, "", sent.as_bytes()).problem(409, "conflict"), [said]);
    assert_eq!(years(), before);
    // Longer, or shorter where nothing is on record, it is saved; the half term is the one it was.
    save(year("2026-12-18", false)).expect(200);
    save(year("2026-11-23", false)).expect(200);
    save(year("2026-11-19", true)).expect(200);
    assert_eq!(years()["half_terms"][1]["id"], before["half_terms"][1]["id"]);
    // All that is left is closed.
    lead.post("/closures", json!({"from": "2026-09-01", "until": "2026-10-23", "kind": "closure"}))
        .expect(201);
    let autumn = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
        {"name": "Autumn 1", "starts_on": "2026-09-01", "ends_on": "2026-10-23"}], "with_records": true});
    assert_eq!(
        save(autumn).problem(422, "invalid"),
        ["half_terms: the year would have no teaching day: all its days are closed"]
    );
}
