//! What every operation has in common: keys against doing twice, cursors, methods, headers, bodies.
#![allow(clippy::unwrap_used)]

use std::{
    collections::BTreeSet,
    io::{Read as _, Write as _},
    net::TcpStream,
};

use plumbline_tests::{School, TODAY, Value, column, json, lesson_ids, text};

/// An answer as it comes off the wire.
struct Raw {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Raw {
    /// A header, empty if absent.
    fn header(&self, name: &str) -> String {
        let found = self.head.lines().filter_map(|line| line.split_once(": "));
        let mut found = found.filter(|(known, _)| known.eq_ignore_ascii_case(name));
        found.next().map(|(_, value)| value.to_owned()).unwrap_or_default()
    }
}

/// Sends a request as written and reads to the end.
fn raw(school: &School, request_line: &str, headers: &[(&str, &str)]) -> Raw {
    let address = school.server.base.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    let mut request = format!("{request_line} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n");
    for (name, value) in headers {
        request.push_str(&format!("{name}: {value}\r\n"));
    }
    request.push_str("\r\n");
    stream.write_all(request.as_bytes()).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
    let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    Raw { status, head, body: bytes[end + 4..].to_vec() }
}

/// The Authorization header of the lead.
fn bearer(school: &School) -> String {
    format!("Bearer {}", school.lead().token())
}

fn pupils(school: &School) -> Vec<String> {
    column(&school.lead().get("/pupils").expect(200)["items"], "name")
}

#[test]
fn a_repeated_request_is_answered_again_and_not_done_again() {
    let school = School::start();
    let lead = school.lead().with("Idempotency-Key", "arrival-1");
    let body = json!({"given_name": "Zoë"});
    let first = lead.post("/pupils", body.clone());
    first.expect(201);
    // Changed meanwhile; the answer is still that of the first time.
    let path = format!("/pupils/{}", text(&first.json()["id"]));
    school.lead().patch(&path, &first.etag(), json!({"given_name": "Zoe"})).expect(200);
    let again = lead.post("/pupils", body.clone());
    assert_eq!((again.status, &again.text), (201, &first.text));
    for header in ["ETag", "Location", "Content-Type"] {
        assert_eq!(again.header(header), first.header(header));
    }
    assert_eq!(pupils(&school), ["Zoe"]);
    lead.post("/pupils", json!({"given_name": "Max"})).problem(422, "idempotency_key_reused");
    lead.post("/classes", json!({"name": "Alder"})).problem(422, "idempotency_key_reused");
    // The same bytes to another address are another request.
    lead.post("/classes", body.clone()).problem(422, "invalid");
    assert_eq!(pupils(&school), ["Zoe"]);
    // A key is its sender's own.
    let other = school.staff("lead:2").with("Idempotency-Key", "arrival-1");
    assert_ne!(other.post("/pupils", body.clone()).expect(201)["id"], first.json()["id"]);
    school.lead().post("/pupils", body).expect(201);
    assert_eq!(pupils(&school).len(), 3);
}

#[test]
fn a_request_that_failed_may_be_put_right_under_its_key() {
    let school = School::start();
    school.calendar();
    let lead = school.lead().with("Idempotency-Key", "arrival-1");
    lead.post("/pupils", json!({"given_name": "Zoë", "year_group": "Year 9"})).problem(422, "invalid");
    lead.post("/pupils", json!({"given_name": "Zoë", "year_group": "Year 1"})).expect(201);
    assert_eq!(pupils(&school), ["Zoë"]);
}

#[test]
fn a_key_is_short_and_plain() {
    let school = School::start();
    let longest = "k".repeat(200);
    let lead = school.lead();
    lead.with("Idempotency-Key", &longest).post("/pupils", json!({"given_name": "Zoë"})).expect(201);
    let refused = ["Idempotency-Key: must be 1 to 200 ASCII characters"];
    for key in [format!("{longest}k"), String::new()] {
        let answer = lead.with("Idempotency-Key", &key).post("/pupils", json!({"given_name": "Max"}));
        assert_eq!(answer.problem(422, "invalid"), refused);
    }
    // A key that cannot be kept is not quietly left out.
    let bearer = bearer(&school);
    let headers = [
        ("Authorization", bearer.as_str()),
        ("Idempotency-Key", "clé"),
        ("Content-Type", "application/json"),
    ];
    let answer = raw(&school, "POST /api/v1/pupils", &headers);
    assert_eq!(answer.status, 422);
    assert_eq!(pupils(&school), ["Zoë"]);
}

#[test]
fn of_many_at_once_with_one_key_one_is_done() {
    let school = School::start();
    let lead = school.lead().with("Idempotency-Key", "all at once");
    let answers: Vec<_> = std::thread::scope(|scope| {
        let send = || scope.spawn(|| lead.post("/pupils", json!({"given_name": "Zoë"})));
        let sent: Vec<_> = (0..8).map(|_| send()).collect();
        sent.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    let ids: BTreeSet<String> = answers.iter().map(|answer| text(&answer.expect(201)["id"])).collect();
    assert_eq!((ids.len(), pupils(&school)), (1, vec!["Zoë".to_owned()]));
}

#[test]
fn a_cursor_is_one_of_the_lists_own() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let group = school.group("Alder", &sequence, &[]);
    let lead = school.lead();
    for on in ["2026-11-23", "2026-11-24"] {
        let outcome = if on == "2026-11-23" { "delivered" } else { "retaught" };
        school.log_lesson(&lead, &group, on, &lesson_ids(&content)[0], outcome, &json!({})).expect(201);
        lead.post("/pupils", json!({"given_name": on})).expect(201);
    }
    let records = format!("/groups/{group}/lesson-records");
    let lists = ["/pupils", records.as_str(), "/audit-entries"];
    let wrong = ["cursor: is not a cursor of this list; start without one"];
    let cursors = lists.map(|list| text(&lead.get(&format!("{list}?limit=1")).expect(200)["next"]));
    for (n, list) in lists.iter().enumerate() {
        // Nonsense; JSON of another kind; a pupil that is none.
        for cursor in ["x", "%00", "e30", "bnVsbA", "IjAxOTlmMmM0LTAwMDAtNzAwMC04MDAwLTAwMDAwMDAwMDAwNyI"] {
            let answer = lead.get(&format!("{list}?cursor={cursor}"));
            assert_eq!(answer.problem(422, "invalid"), wrong, "{list} {cursor}");
        }
        let other = &cursors[(n + 1) % 3];
        assert_eq!(lead.get(&format!("{list}?cursor={other}")).problem(422, "invalid"), wrong, "{list}");
        lead.get(&format!("{list}?limit=1&cursor={}", cursors[n])).expect(200);
        for limit in ["0", "501"] {
            let answer = lead.get(&format!("{list}?limit={limit}"));
            assert_eq!(answer.problem(422, "invalid"), ["limit: must be 1 to 500"]);
        }
        for (query, said) in [
            ("limit=-1", "limit: must be a whole number, 0 or more"),
            ("limit=many", "limit: must be a whole number, 0 or more"),
            ("limit=99999999999999999999", "limit: is too large"),
            ("page=2", "page: unknown field `page`"),
        ] {
            let answer = lead.get(&format!("{list}?{query}")).problem(422, "invalid");
            assert!(answer[0].starts_with(said), "{answer:?}");
        }
    }
}

#[test]
fn no_page_and_no_cursor_holds_a_name() {
    let school = School::start();
    let lead = school.lead();
    for name in ["Zoe", "Max"] {
        lead.post("/pupils", json!({"given_name": name, "family_name": "Bell"})).expect(201);
    }
    let next = text(&lead.get("/pupils?limit=1").expect(200)["next"]);
    // The alphabet of base64 for URLs, six bits each.
    let alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let bits: Vec<usize> = next
        .chars()
        .flat_map(|c| {
            let six = alphabet.find(c).unwrap();
            (0..6).rev().map(move |bit| six >> bit & 1)
        })
        .collect();
    let bytes: Vec<u8> = bits
        .chunks_exact(8)
        .map(|eight| eight.iter().fold(0, |byte, bit| byte * 2 + u8::try_from(*bit).unwrap()))
        .collect();
    let inside = String::from_utf8(bytes).unwrap().to_lowercase();
    assert!(!inside.contains("bell") && !inside.contains("max"), "{inside}");
}

#[test]
fn an_address_says_which_methods_it_takes() {
    let school = School::start();
    let (lead, bearer) = (school.lead(), bearer(&school));
    let id = "0199f2c4-0000-7000-8000-000000000007";
    for (method, path, allowed) in [
        ("DELETE", "/pupils".to_owned(), "GET, POST, HEAD"),
        ("OPTIONS", "/pupils".to_owned(), "GET, POST, HEAD"),
        ("PUT", format!("/pupils/{id}"), "GET, PATCH, HEAD"),
        ("GET", format!("/groups/{id}/close"), "POST"),
        ("HEAD", format!("/groups/{id}/close"), "POST"),
        ("POST", "/school".to_owned(), "GET, PATCH, HEAD"),
    ] {
        let answer = raw(&school, &format!("{method} /api/v1{path}"), &[("Authorization", &bearer)]);
        let mut listed: Vec<String> = answer.header("Allow").split(", ").map(str::to_owned).collect();
        let mut expected: Vec<String> = allowed.split(", ").map(str::to_owned).collect();
        listed.sort();
        expected.sort();
        assert_eq!((answer.status, listed), (405, expected), "{method} {path}");
    }
    lead.call("DELETE", "/pupils", None).problem(405, "method_not_allowed");
    let plain = raw(&school, "POST /health/live", &[]);
    assert_eq!((plain.status, plain.header("Allow").as_str()), (405, "GET, HEAD"));
    // No such address, or no such thing at it, is another matter.
    for path in ["/pupil", "/pupils/", "/pupils/7", &format!("/pupils/{id}"), &format!("/pupils/{id}/marks")]
    {
        lead.get(path).problem(404, "not_found");
    }
    assert_eq!(raw(&school, "GET /api/v2/pupils", &[]).status, 404);
    assert_eq!(raw(&school, "GET /../etc/passwd", &[]).status, 404);
}

#[test]
fn a_head_is_a_get_without_the_body() {
    let school = School::start();
    let bearer = bearer(&school);
    for path in ["/api/v1/school", "/openapi.json", "/health/ready"] {
        let headers = [("Authorization", bearer.as_str())];
        let (get, head) =
            (raw(&school, &format!("GET {path}"), &headers), raw(&school, &format!("HEAD {path}"), &headers));
        assert_eq!((get.status, head.status), (200, 200), "{path}");
        assert!(!get.body.is_empty() && head.body.is_empty(), "{path}");
        for header in ["ETag", "Content-Type", "Content-Length"] {
            assert_eq!(get.header(header), head.header(header), "{path} {header}");
        }
    }
    assert_eq!(raw(&school, "HEAD /api/v1/school", &[]).status, 401);
}

#[test]
fn answers_are_compressed_for_who_asks() {
    let school = School::start();
    let bearer = bearer(&school);
    let ask = |encoding: &str| {
        raw(&school, "GET /openapi.json", &[("Authorization", &bearer), ("Accept-Encoding", encoding)])
    };
    let (plain, gzip, zstd) = (ask("identity"), ask("gzip"), ask("zstd"));
    assert_eq!(plain.header("Content-Encoding"), "");
    assert!(plain.body.starts_with(b"{"));
    assert_eq!(
        (gzip.header("Content-Encoding").as_str(), zstd.header("Content-Encoding").as_str()),
        ("gzip", "zstd")
    );
    assert!(gzip.header("Vary").to_lowercase().contains("accept-encoding"), "{}", gzip.head);
    for small in [gzip, zstd] {
        assert!(small.body.len() * 3 < plain.body.len(), "{} of {}", small.body.len(), plain.body.len());
    }
}

#[test]
fn every_answer_can_be_found_in_the_log_and_is_kept_by_nobody() {
    let school = School::start();
    let lead = school.lead();
    let answers = [
        lead.get("/school"),
        lead.get("/nothing"),
        school.nobody().get("/school"),
        lead.post("/pupils", json!(7)),
    ];
    let ids: BTreeSet<String> = answers.iter().map(|answer| answer.header("X-Request-Id")).collect();
    assert_eq!(ids.len(), 4, "each its own");
    let log = school.server.log();
    for (answer, id) in answers.iter().zip(answers.iter().map(|answer| answer.header("X-Request-Id"))) {
        assert!(log.contains(&id), "{id}");
        assert_eq!(answer.header("Cache-Control"), "no-store");
        // By the clock that records are dated by: this server was set to another day.
        assert!(answer.header("Date").starts_with("Wed, 25 Nov 2026 "), "{}", answer.header("Date"));
        assert_eq!(answer.header("X-Content-Type-Options"), "nosniff");
        assert!(answer.header("Content-Security-Policy").contains("default-src 'none'"));
    }
    assert_eq!(answers[2].header("WWW-Authenticate"), "Bearer");
}

#[test]
fn health_is_plain_and_open_to_all() {
    let school = School::start();
    for (path, body) in [("/health/live", "live\n"), ("/health/ready", "ready\n")] {
        let answer = school.nobody().get(path);
        assert_eq!((answer.status, answer.text.as_str()), (200, body));
        assert_eq!(answer.header("Content-Type"), "text/plain; charset=utf-8");
    }
}

#[test]
fn a_body_is_json_whole_and_of_the_known_form() {
    let school = School::start();
    let lead = school.lead();
    let send =
        |content_type: Option<&str>, body: &[u8]| lead.send("POST", "/api/v1/pupils", content_type, body);
    let json = Some("application/json");
    for body in [
        &b""[..],
        b"{",
        b"{\"given_name\": \"Zo\xeb\"}",
        b"{\"given_name\": \"Zoe\"} trailing",
        b"\xef\xbb\xbf{}",
    ] {
        send(json, body).problem(400, "malformed_body");
    }
    send(Some("text/plain"), b"{\"given_name\": \"Zoe\"}").problem(415, "unsupported_media_type");
    send(Some("application/jsonp"), b"{\"given_name\": \"Zoe\"}").problem(415, "unsupported_media_type");
    send(None, b"{\"given_name\": \"Zoe\"}").problem(415, "unsupported_media_type");
    for (body, field) in [
        (&b"7"[..], "."),
        (b"{}", "given_name"),
        (b"{\"given_name\": null}", "given_name"),
        (b"{\"given_name\": 7}", "given_name"),
        (b"{\"given_name\": \"Zoe\", \"given_name\": \"Max\"}", "given_name"),
        (b"{\"given_name\": \"Zoe\", \"class\": 1}", "class"),
    ] {
        let errors = send(json, body).problem(422, "invalid");
        assert_eq!(errors[0].split(": ").next().unwrap(), field, "{errors:?}");
    }
    // Nothing of what was typed is repeated.
    let answer = send(json, b"{\"given_name\": \"Zoe\", \"date_of_birth\": \"Zoe Bell\"}");
    answer.problem(422, "invalid");
    assert!(!answer.text.contains("Bell"), "{}", answer.text);
    send(Some("Application/JSON; charset=utf-8"), "{\"given_name\": \"Zoë\"}".as_bytes()).expect(201);
    assert_eq!(pupils(&school), ["Zoë"]);
}

#[test]
fn a_day_far_from_any_child_is_no_fault_of_the_servers() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let ids = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&ids["Zoe"]]);
    let check = school.word_check("Words", &["mop"]).0;
    let lead = school.lead();
    let (pupil, path) = (format!("/pupils/{}", ids["Zoe"]), format!("/groups/{group}"));
    let staff = school.staff_id("teacher");
    for day in ["+12026-01-01", "-0001-01-01", "0000-01-01", "+262142-12-31", "9999-12-31"] {
        let etag = |path: &str| lead.get(path).etag();
        let answers = [
            lead.patch(&pupil, &etag(&pupil), json!({"left_on": day})),
            lead.patch(&pupil, &etag(&pupil), json!({"date_of_birth": day})),
            lead.patch(&pupil, &etag(&pupil), json!({"class_id": null, "from": day})),
            lead.put(&format!("{path}/members"), &etag(&path), json!({"from": day, "pupil_ids": []})),
            lead.put(
                &format!("{path}/adults"),
                &etag(&path),
                json!({"adults": [{"staff_id": staff, "from": day}]}),
            ),
            lead.with("If-Match", &etag(&path)).post(&format!("{path}/close"), json!({"on": day})),
            school.log_lesson(&lead, &group, day, &lesson_ids(&content)[0], "delivered", &json!({})),
            lead.post(&format!("/sequences/{sequence}/versions"), json!({"effective_on": day})),
            lead.post(
                "/check-rounds",
                json!({"name": "R", "opens_on": day, "closes_on": day, "check_ids": [check]}),
            ),
            lead.post("/closures", json!({"on": day, "kind": "closure"})),
            lead.get(&format!("{path}?on={}", day.replace('+', "%2B"))),
            lead.get(&format!("/reports/attainment?as_of={}", day.replace('+', "%2B"))),
        ];
        for (n, answer) in answers.iter().enumerate() {
            assert!(answer.status < 500, "{day} {n}: {} {}", answer.status, answer.text);
        }
    }
    assert_eq!(lead.get(&format!("/reports/attainment?as_of={TODAY}")).status, 200);
    let _: Value = lead.get(&pupil).expect(200);
}
