//! What happens at the school, as it happens: for whom, what, and how long.
#![allow(clippy::unwrap_used)]

use std::time::{Duration, Instant};

use plumbline_tests::{Client, School, Value, json};

/// A sign-in of its own: a client, and what was answered.
fn fresh(school: &School, key: &str) -> (Client, Value) {
    school.staff(key);
    let signed_in = school.sign_in(&School::email(key));
    (school.nobody().with_token(signed_in["access_token"].as_str().unwrap()), signed_in)
}

/// Writes something that nobody else has to do with; the version it made.
fn write(who: &Client, n: u32) -> i64 {
    let new = json!({"id": format!("0199f2c4-7777-7000-8000-{n:012x}"), "name": format!("Tablet {n}")});
    let etag = who.post("/tablets", new).etag();
    etag.trim_matches(['"', 'v']).parse().unwrap()
}

#[test]
fn a_write_wakes_who_follows_the_school_and_tells_nothing_else() {
    let school = School::start();
    let (teacher, lead) = (school.staff("teacher"), school.lead());
    let mut stream = teacher.follow();
    let (epoch, first) = stream.head().unwrap();
    for n in 0..3 {
        let made = write(&lead, n);
        let head = stream.head().unwrap();
        assert_eq!(head, (epoch.clone(), made));
        assert!(made > first);
    }
    let other = school.neighbour();
    let mut there = other.follow();
    let (other_epoch, _) = there.head().unwrap();
    assert_ne!(other_epoch, epoch);
    write(&other, 10);
    school
        .staff("administrator")
        .post("/tablets", json!({"id": "0199f2c4-7777-7000-8000-000000000099", "name": "X"}))
        .problem(403, "forbidden");
    // Neither the other school's write nor what was refused has woken it.
    let made = write(&lead, 11);
    assert_eq!(stream.head().unwrap(), (epoch, made));
}

#[test]
fn it_is_sent_at_once_unpacked_and_kept_nowhere() {
    let school = School::start();
    let answer = school.lead().with("Accept-Encoding", "gzip, zstd").get("/sync/events");
    assert_eq!(answer.status, 200);
    assert!(answer.text.starts_with("event: head\nid: "), "{:?}", answer.text);
    assert_eq!(answer.header("Content-Type"), "text/event-stream");
    assert_eq!(answer.header("Content-Encoding"), "identity");
    assert_eq!(answer.header("Cache-Control"), "no-store");
    school.nobody().get("/sync/events").problem(401, "unauthenticated");
}

/// That a stream ends within a second of this.
#[track_caller]
fn ends(who: &Client, by: impl FnOnce()) {
    let mut stream = who.follow();
    stream.head().unwrap();
    by();
    let done = Instant::now();
    while stream.head().is_some() {}
    assert!(done.elapsed() < Duration::from_secs(1), "{:?}", done.elapsed());
}

#[test]
fn it_ends_with_the_sign_in_and_not_with_anothers() {
    let school = School::start();
    let (teacher, _) = fresh(&school, "teacher");
    let (same_person, _) = fresh(&school, "teacher");
    let mut goes_on = same_person.follow();
    goes_on.head().unwrap();
    ends(&teacher, || {
        teacher.call("DELETE", "/sessions/current", None).expect(204);
    });
    let made = write(&school.lead(), 1);
    assert!(std::iter::from_fn(|| goes_on.head()).any(|(_, version)| version == made));
    ends(&same_person, || {
        same_person.call("DELETE", "/sessions", None).expect(204);
    });
}

#[test]
fn it_ends_for_who_is_disabled() {
    let school = School::start();
    let (teacher, _) = fresh(&school, "teacher");
    let admin = school.staff("administrator");
    let path = format!("/staff/{}", school.staff_id("teacher"));
    ends(&teacher, || {
        admin.patch(&path, &admin.get(&path).etag(), json!({"disabled": true})).expect(200);
    });
}

#[test]
fn it_ends_when_a_stolen_refresh_token_comes_back() {
    let school = School::start();
    let (teacher, signed_in) = fresh(&school, "teacher");
    let refresh = |token: &Value| school.nobody().post("/sessions/refresh", json!({"refresh_token": token}));
    let second = refresh(&signed_in["refresh_token"]).expect(200);
    refresh(&second["refresh_token"]).expect(200);
    ends(&teacher, || {
        refresh(&signed_in["refresh_token"]).problem(401, "bad_refresh_token");
    });
}

#[test]
fn of_seven_streams_of_a_sign_in_the_oldest_gives_way() {
    let school = School::start();
    let (teacher, _) = fresh(&school, "teacher");
    let mut other = school.lead().follow();
    other.head().unwrap();
    let mut streams: Vec<_> = (0..7).map(|_| teacher.follow()).collect();
    for stream in &mut streams {
        stream.head().unwrap();
    }
    assert_eq!(streams[0].head(), None);
    let made = write(&school.lead(), 1);
    for stream in streams[1..].iter_mut().chain([&mut other]) {
        assert_eq!(stream.head().unwrap().1, made);
    }
}

#[test]
fn a_server_that_is_told_to_end_does_not_wait_for_streams() {
    let mut school = School::start();
    let mut stream = school.lead().follow();
    stream.head().unwrap();
    let told = Instant::now();
    school.server.stop_and_restart(plumbline_tests::TODAY);
    assert_eq!(stream.head(), None);
    assert!(told.elapsed() < Duration::from_secs(15), "{:?}", told.elapsed());
}
