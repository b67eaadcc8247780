//! What is refused before anything is decided: size, form, fields, ids, addresses.
#![allow(clippy::unwrap_used)]

use std::{
    io::{Read as _, Write as _},
    net::TcpStream,
};

mod operations;

use operations::{RANDOM, filled, full, none, served, with_json};
use plumbline_tests::{Answer, Client, Operation, School, Value, json};

const LIMIT: usize = 1_048_576;

/// Sends a body to an operation, its ids made up.
fn send(client: &Client, operation: Operation<'_>, kind: Option<&str>, body: &[u8]) -> Answer {
    let path = filled(operation.path, RANDOM);
    let client = client.with("If-Match", "\"v1\"");
    client.send(&operation.method.to_uppercase(), &path, kind, body)
}

/// Everything that is not a problem of this status and code.
fn others<'a>(
    answers: impl IntoIterator<Item = (String, Answer)> + 'a,
    status: u16,
    code: &'a str,
) -> Vec<String> {
    answers
        .into_iter()
        .filter(|(_, answer)| {
            answer.status != status
                || answer.json()["code"] != code
                || answer.header("Content-Type") != "application/problem+json"
        })
        .map(|(what, answer)| format!("{what}: {} {}", answer.status, answer.text))
        .collect()
}

/// The value with one more field in each of its objects in turn, with where that is.
fn with_extra(value: &Value, name: &str) -> Vec<(String, Value)> {
    match value {
        Value::Object(fields) => {
            let mut more = fields.clone();
            more.insert(name.into(), json!("x"));
            let mut all = vec![(name.to_owned(), Value::Object(more))];
            for (key, field) in fields {
                for (at, changed) in with_extra(field, name) {
                    let mut fields = fields.clone();
                    fields.insert(key.clone(), changed);
                    all.push((
                        format!("{key}{}{at}", if at.starts_with('[') { "" } else { "." }),
                        Value::Object(fields),
                    ));
                }
            }
            all
        }
        Value::Array(items) => items
            .iter()
            .enumerate()
            .flat_map(|(n, item)| {
                with_extra(item, name).into_iter().map(move |(at, changed)| {
                    let mut items = items.clone();
                    items[n] = changed;
                    (format!("[{n}]{}{at}", if at.starts_with('[') { "" } else { "." }), Value::Array(items))
                })
            })
            .collect(),
        _ => vec![],
    }
}

#[test]
fn an_unknown_field_is_refused_by_name_wherever_it_stands() {
    let school = School::start();
    let (document, lead) = (served(&school), school.lead());
    let (mut wrong, mut tried) = (Vec::new(), 0);
    // A file of another school's has a version of its own, and a later server may write more fields into it.
    let strict = |(one, _): &(Operation<'_>, Value)| one.id() != "receive_pupil_transfer";
    for (operation, example) in with_json(&document).into_iter().filter(strict) {
        for name in ["school_id_", "v", "created_by"] {
            for (at, body) in with_extra(&example, name) {
                tried += 1;
                let answer = send(&lead, operation, Some("application/json"), body.to_string().as_bytes());
                if answer.status != 422 || answer.json()["errors"][0]["field"] != at.as_str() {
                    wrong.push(format!("{} with {at}: {} {}", operation.id(), answer.status, answer.text));
                }
            }
        }
    }
    none(&wrong);
    assert!(tried > 120, "{tried}");
}

#[test]
fn a_field_that_stands_twice_is_refused() {
    let school = School::start();
    let document = served(&school);
    let lead = school.lead();
    let answers = with_json(&document).into_iter().map(|(operation, example)| {
        let (name, value) = example.as_object().unwrap().iter().next().unwrap();
        let once = example.to_string();
        let twice = format!("{},{}:{value}}}", once.strip_suffix('}').unwrap(), json!(name));
        (operation.id().to_owned(), send(&lead, operation, Some("application/json"), twice.as_bytes()))
    });
    none(&others(answers, 422, "invalid"));
}

#[test]
fn a_body_that_is_no_json_is_malformed() {
    let school = School::start();
    let document = served(&school);
    let lead = school.lead();
    let answers = with_json(&document).into_iter().flat_map(|(operation, example)| {
        let text = example.to_string();
        let cut = text.as_bytes()[..text.len() - 1].to_vec();
        let trailing = format!("{text} {{}}").into_bytes();
        let bodies =
            [b"".to_vec(), b"{".to_vec(), b"{'a':1}".to_vec(), cut, trailing, b"\xef\xbb\xbf{}".to_vec()];
        bodies.map(|body| {
            let what = format!("{} {}", operation.id(), String::from_utf8_lossy(&body));
            (what, send(&lead, operation, Some("application/json"), &body))
        })
    });
    none(&others(answers, 400, "malformed_body"));
    let not_text = lead.send("POST", "/api/v1/classes", Some("application/json"), b"{\"name\":\"\xff\xfe\"}");
    not_text.problem(400, "malformed_body");
    let half = lead.send("POST", "/api/v1/classes", Some("application/json"), b"{\"name\":\"\\ud800\"}");
    half.problem(400, "malformed_body");
    assert_eq!(lead.get("/classes").expect(200)["items"], json!([]));
}

#[test]
fn a_body_of_another_type_is_refused() {
    let school = School::start();
    let document = served(&school);
    let lead = school.lead();
    let kinds = [
        Some("text/plain"),
        Some("application/x-www-form-urlencoded"),
        Some("multipart/form-data; boundary=x"),
        Some("application/jsonp"),
        Some("text/csv"),
        None,
    ];
    let answers = with_json(&document).into_iter().flat_map(|(operation, example)| {
        let body = example.to_string();
        let lead = &lead;
        let takes = &operation.json["requestBody"]["content"];
        let others = kinds.into_iter().filter(|kind| kind.is_none_or(|kind| takes[kind].is_null()));
        others.collect::<Vec<_>>().into_iter().map(move |kind| {
            (format!("{} as {kind:?}", operation.id()), send(lead, operation, kind, body.as_bytes()))
        })
    });
    none(&others(answers, 415, "unsupported_media_type"));
    for kind in [Some("application/json"), Some("text/plain"), None] {
        let sent = lead.send("POST", "/api/v1/roster-imports", kind, b"given_name\nZoe\n");
        sent.problem(415, "unsupported_media_type");
    }
    let class = br#"{"name": "Alder"}"#;
    lead.send("POST", "/api/v1/classes", Some("Application/JSON; charset=utf-8"), class).expect(201);
}

#[test]
fn a_body_may_be_one_mebibyte_and_not_a_byte_more() {
    let school = School::start();
    let lead = school.lead();
    let padded = |name: &str, size: usize| {
        let mut body = json!({"name": name}).to_string().into_bytes();
        body.resize(size, b' ');
        body
    };
    let post = |body: &[u8]| lead.send("POST", "/api/v1/classes", Some("application/json"), body);
    post(&padded("Alder", LIMIT)).expect(201);
    post(&padded("Birch", LIMIT + 1)).problem(413, "too_large");
    let mut csv = b"given_name\nZoe\n".to_vec();
    csv.resize(LIMIT + 1, b'\n');
    lead.send("POST", "/api/v1/roster-imports", Some("text/csv"), &csv).problem(413, "too_large");
    lead.send("POST", "/api/v1/roster-imports", Some("text/csv"), &csv[..LIMIT]).expect(201);
    let nobody =
        school.nobody().send("POST", "/api/v1/sessions", Some("application/json"), &padded("x", LIMIT + 1));
    nobody.problem(413, "too_large");
    // Without a length said in advance.
    let chunk =
        format!("{:x}\r\n{}\r\n0\r\n\r\n", LIMIT + 1, String::from_utf8(padded("Cedar", LIMIT + 1)).unwrap());
    let head = format!(
        "POST /api/v1/classes HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/json\r\n\
         Authorization: Bearer {}\r\nTransfer-Encoding: chunked\r\n\r\n",
        lead.token()
    );
    let answered = raw(&school, format!("{head}{chunk}").as_bytes());
    assert!(answered.starts_with("HTTP/1.1 413 "), "{answered}");
    // What a small body unpacks to counts.
    let mut zipped = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    zipped.write_all(&padded("Damson", 64 * LIMIT)).unwrap();
    let zipped = zipped.finish().unwrap();
    assert!(zipped.len() < 100_000);
    let bomb = lead.with("Content-Encoding", "gzip");
    bomb.send("POST", "/api/v1/classes", Some("application/json"), &zipped).problem(413, "too_large");
    let classes = lead.get("/classes").expect(200);
    assert_eq!(classes["items"].as_array().unwrap().len(), 1);
}

/// Sends bytes as they are and reads to the end.
fn raw(school: &School, request: &[u8]) -> String {
    let address = school.server.base.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    // The server may have answered and closed before all is sent.
    let _ = stream.write_all(request);
    let mut answered = Vec::new();
    let _ = stream.read_to_end(&mut answered);
    String::from_utf8_lossy(&answered).into_owned()
}

#[test]
fn a_request_that_two_servers_would_read_differently_is_refused() {
    let school = School::start();
    let body = "0\r\n\r\nGET /api/v1/me HTTP/1.1\r\nHost: x\r\n\r\n";
    for lengths in [
        format!("Content-Length: {}\r\nTransfer-Encoding: chunked", body.len()),
        "Transfer-Encoding: chunked\r\nContent-Length: 4".into(),
        "Content-Length: 4\r\nContent-Length: 5".into(),
        "Content-Length: +4".into(),
        "Content-Length: 4, 4".into(),
        "Transfer-Encoding: xchunked".into(),
    ] {
        let request = format!(
            "POST /api/v1/sessions HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{lengths}\r\n\r\n{body}"
        );
        let answered = raw(&school, request.as_bytes());
        assert!(answered.starts_with("HTTP/1.1 400 "), "{lengths}: {answered}");
        assert_eq!(answered.matches("HTTP/1.1 ").count(), 1, "{lengths}: {answered}");
    }
}

#[test]
fn a_body_may_not_be_deep_or_crowded() {
    let school = School::start();
    let lead = school.lead();
    let put = |path: &str, body: String| {
        lead.with("If-Match", "\"v1\"").send("PUT", path, Some("application/json"), body.as_bytes())
    };
    let draft = format!("/api/v1/sequences/{RANDOM}/draft");
    for body in [
        "[".repeat(100_000),
        format!("{{\"steps\":{}", "[".repeat(100_000)),
        format!("{{\"steps\":[{}", "{\"lessons\":[".repeat(10_000)),
        format!("{{\"other\":{}{}}}", "[".repeat(5_000), "]".repeat(5_000)),
    ] {
        put(&draft, body).problem(422, "invalid");
    }
    let keys: Vec<String> = (0..10_000).map(|n| format!("\"key{n}\":{n}")).collect();
    put(&draft, format!("{{{}}}", keys.join(","))).problem(422, "invalid");
}

#[test]
fn names_hold_no_control_characters() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let bad = [
        "Zo\u{0}e",
        "\u{0}",
        "Zoe\u{1b}[2J",
        "Zo\u{202e}e",
        "Zo\u{200b}e",
        "Zo\u{feff}e",
        "two\nlines",
        "",
        "   ",
    ];
    for name in bad {
        for (path, body, field) in [
            ("/classes", json!({"name": name}), "name"),
            ("/sequences", json!({"name": name}), "name"),
            ("/pupils", json!({"given_name": name}), "given_name"),
            ("/pupils", json!({"given_name": "Zoe", "family_name": name}), "family_name"),
            ("/pupils", json!({"given_name": "Zoe", "label": name}), "label"),
            ("/checks", json!({"name": name, "kind": "word_reading", "items": [{"prompt": "mat"}]}), "name"),
            (
                "/checks",
                json!({"name": "Words", "kind": "word_reading", "items": [{"prompt": name}]}),
                "items[0].prompt",
            ),
        ] {
            let errors = lead.post(path, body).problem(422, "invalid");
            assert!(errors[0].starts_with(&format!("{field}: ")), "{name:?} {errors:?}");
            let shown = name.trim();
            assert!(shown.is_empty() || !errors[0].contains(shown), "{errors:?} repeats what was typed");
        }
    }
    for path in ["/classes", "/sequences", "/pupils", "/checks"] {
        assert_eq!(lead.get(path).expect(200)["items"], json!([]), "{path}");
    }
}

#[test]
fn a_query_that_is_wrong_is_refused() {
    let school = School::start();
    let ids = full(&school);
    let lead = school.lead();
    let group = &ids.iter().find(|(place, _)| *place == "/groups/").unwrap().1;
    let foreign_cursor = lead.get("/audit-entries?limit=1").expect(200)["next"].as_str().unwrap().to_owned();
    let answers = [
        "/pupils?limit=0".to_owned(),
        "/pupils?limit=501".into(),
        "/pupils?limit=-1".into(),
        "/pupils?limit=many".into(),
        "/pupils?cursor=x".into(),
        "/pupils?cursor=".into(),
        format!("/pupils?cursor={foreign_cursor}"),
        "/pupils?cursor=WyJcdTAwMDAiLCIwMTk5ZjJjNC0xMjM0LTdhYmMtOGRlZi0wMTIzNDU2Nzg5YWIiXQ".into(),
        "/pupils?find=%00".into(),
        "/pupils?leavers=maybe".into(),
        "/pupils?school_id=x".into(),
        "/audit-entries?limit=99999".into(),
        "/audit-entries?page=2".into(),
        format!("/groups/{group}?on=2026-02-30"),
        format!("/groups/{group}?when=2026-11-25"),
        format!("/groups/{group}/next-lesson?on=tomorrow"),
        format!("/groups/{group}/coverage?on="),
        format!("/groups/{group}/lesson-records?limit=0"),
        "/teaching-days".into(),
        "/teaching-days?from=2026-11-25".into(),
        "/teaching-days?from=2026-11-25&to=2026-11-24".into(),
        "/teaching-days?from=2026-11-25&to=2028-11-25".into(),
        "/teaching-days?from=2026-11-25&to=2026-11-26&x=1".into(),
        "/reports/attainment?half_term_id=x".into(),
        "/reports/attainment?as_of=yesterday".into(),
        "/reports/attainment?school=x".into(),
    ]
    .map(|path| (path.clone(), lead.get(&path)));
    none(&others(answers, 422, "invalid"));
}

#[test]
fn an_address_that_is_none_is_a_problem_too() {
    let school = School::start();
    let lead = school.lead();
    for path in [
        "/api/v1/nothing",
        "/api/v1/",
        "/api/v2/me",
        "/api/v1/me/",
        "/api/v1//me",
        "/nothing",
        "/health",
        "/../etc/passwd",
    ] {
        for client in [&lead, &school.nobody()] {
            client.send("GET", path, None, &[]).problem(404, "not_found");
        }
    }
    for (method, path, allowed) in [
        ("POST", "/api/v1/me", "GET, HEAD"),
        ("PUT", "/api/v1/pupils", "GET, POST, HEAD"),
        ("DELETE", "/api/v1/school", "GET, PATCH, HEAD"),
        ("PATCH", "/api/v1/sessions", "DELETE, POST"),
    ] {
        for client in [&lead, &school.nobody()] {
            let answer = client.send(method, path, None, &[]);
            answer.problem(405, "method_not_allowed");
            assert_eq!(answer.header("Allow"), allowed);
        }
    }
}

#[test]
fn every_answer_carries_the_headers_that_protect() {
    let school = School::start();
    let lead = school.lead();
    let mut ids = Vec::new();
    for (what, answer, is_api) in [
        ("an answer", lead.get("/me"), true),
        ("a list", lead.get("/pupils"), true),
        ("nobody", school.nobody().get("/me"), true),
        ("forbidden", lead.get("/staff/x"), true),
        ("a wrong body", lead.send("POST", "/api/v1/classes", Some("application/json"), b"{"), true),
        ("no address", lead.get("/nothing"), true),
        ("a sign-in", school.nobody().post("/sessions", json!({"email": "x", "password": "y"})), true),
        (
            "no content",
            school
                .nobody()
                .with_token(school.sign_in(&School::email("lead"))["access_token"].as_str().unwrap())
                .call("DELETE", "/sessions/current", None),
            true,
        ),
        ("the document", lead.get("/openapi.json"), false),
        ("health", lead.get("/health/live"), false),
        ("the page", lead.send("GET", "/", None, &[]), false),
    ] {
        assert_eq!(answer.header("X-Content-Type-Options"), "nosniff", "{what}");
        assert_eq!(answer.header("Referrer-Policy"), "no-referrer", "{what}");
        assert_eq!(answer.header("X-Frame-Options"), "DENY", "{what}");
        assert_eq!(answer.header("Cross-Origin-Resource-Policy"), "same-origin", "{what}");
        assert_eq!(answer.header("Access-Control-Allow-Origin"), "", "{what}");
        assert_eq!(answer.header("Server"), "", "{what}");
        if is_api {
            assert_eq!(answer.header("Cache-Control"), "no-store", "{what}");
            let policy = answer.header("Content-Security-Policy");
            assert_eq!(policy, "default-src 'none'; frame-ancestors 'none'", "{what}");
        }
        ids.push(answer.header("X-Request-Id"));
        assert!(ids.last().is_some_and(|id| id.len() == 36), "{what}");
    }
    let all = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), all);
    // A caller's own request id is not taken over into the log.
    let mine = lead.with("X-Request-Id", "mine").get("/me");
    assert_ne!(mine.header("X-Request-Id"), "mine");
    assert!(!school.server.log().contains("mine"));
}

#[test]
fn other_sites_are_told_nothing() {
    let school = School::start();
    let lead = school.lead().with("Origin", "https://elsewhere.example");
    assert_eq!(lead.get("/me").header("Access-Control-Allow-Origin"), "");
    let asked =
        lead.with("Access-Control-Request-Method", "PATCH").send("OPTIONS", "/api/v1/school", None, &[]);
    assert!(asked.status >= 400, "{}", asked.status);
    assert_eq!(asked.header("Access-Control-Allow-Methods"), "");
}

#[test]
fn a_pair_has_one_spelling_in_a_check_too() {
    let school = School::start();
    let lead = school.lead();
    let check = |grapheme: &str, phoneme: &str| {
        let item = json!({"prompt": "ch", "gpc": {"grapheme": grapheme, "phoneme": phoneme}});
        lead.post("/checks", json!({"name": "Sounds", "kind": "gpc_recognition", "items": [item]}))
    };
    let one = check("ch", "tʃ").expect(201);
    // The affricate as one letter, and white space.
    let other = check(" ch ", "ʧ ").expect(201);
    assert_eq!(one["items"][0]["gpc_id"], other["items"][0]["gpc_id"]);
    let unknown = check("ch", "m").problem(422, "invalid");
    assert!(unknown[0].starts_with("items[0].gpc: ") && unknown[0].contains("ch:tʃ"), "{unknown:?}");
    for (grapheme, phoneme, field) in [
        ("É", "eɪ", "grapheme"),
        ("e\u{0}", "eɪ", "grapheme"),
        ("", "eɪ", "grapheme"),
        ("é", "/eɪ/", "phoneme"),
    ] {
        let errors = check(grapheme, phoneme).problem(422, "invalid");
        assert!(errors[0].starts_with(&format!("items[0].gpc.{field}: ")), "{errors:?}");
    }
}
