//! Many who sign in at once, and what is said of where they come from.
#![allow(clippy::unwrap_used)]

use std::{
    io::{Read as _, Write as _},
    net::TcpStream,
};

use plumbline_tests::{Answer, School, Server, TODAY, json};

#[test]
fn a_crowd_waits_in_a_bounded_queue() {
    let school = School::on(Server::start_with(TODAY, &[("PLUMBLINE_HASH_QUEUE", "4")]));
    school.staff("teacher");
    let body = json!({"email": School::email("teacher"), "password": School::password()});
    let nobody = school.nobody();
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let crowd: Vec<_> =
            (0..200).map(|_| scope.spawn(|| nobody.post("/sessions", body.clone()))).collect();
        crowd.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let (let_in, others): (Vec<_>, Vec<_>) = answers.iter().partition(|answer| answer.status == 201);
    assert!(!let_in.is_empty());
    for answer in others {
        // Held off by the queue, or by the ten places of one account, and told when to come again.
        let code = answer.json()["code"].clone();
        assert!(matches!(
            (answer.status, code.as_str()),
            (503, Some("busy")) | (429, Some("too_many_attempts"))
        ));
        assert!(answer.header("Retry-After").parse::<u32>().is_ok_and(|seconds| seconds > 0));
    }
    school.sign_in(&School::email("administrator"));
}

#[test]
fn where_a_request_says_it_comes_from_changes_nothing() {
    let school = School::start();
    school.staff("teacher");
    let guess = |address: &str| {
        let from =
            school.nobody().with("X-Forwarded-For", address).with("Forwarded", &format!("for={address}"));
        from.with("X-Real-IP", address)
            .post("/sessions", json!({"email": School::email("teacher"), "password": "wrong horse battery"}))
    };
    for n in 0..10 {
        guess(&format!("10.1.2.{n}")).problem(401, "bad_credentials");
    }
    // No address gives more guesses, and none is held off for another's.
    guess("10.1.2.99").problem(429, "too_many_attempts");
    school.sign_in(&School::email("administrator"));
    assert!(!school.server.log().contains("10.1.2."));
}

#[test]
fn a_head_that_is_too_long_is_refused() {
    let school = School::start();
    let long = |bytes: usize| school.nobody().with("X-Long", &"a".repeat(bytes)).get("/me");
    long(8_000).problem(401, "unauthenticated");
    let address = school.server.base.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    let request = format!("GET /api/v1/me HTTP/1.1\r\nHost: x\r\nX-Long: {}\r\n\r\n", "a".repeat(1_000_000));
    // The server may have answered and closed before all is sent.
    let _ = stream.write_all(request.as_bytes());
    let mut answered = Vec::new();
    let _ = stream.read_to_end(&mut answered);
    // Refused or cut off, and in no case taken for a request.
    let answered = String::from_utf8_lossy(&answered);
    assert!(answered.is_empty() || answered.starts_with("HTTP/1.1 4"), "{answered}");
    assert!(!answered.contains("HTTP/1.1 401"), "{answered}");
    school.sign_in(&School::email("administrator"));
}
