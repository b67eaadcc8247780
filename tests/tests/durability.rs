//! Nothing acknowledged is lost, nothing is done twice: with many at once, and through a kill.
#![allow(clippy::unwrap_used)]

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::mpsc::{Sender, channel},
    thread,
};

use plumbline_tests::{Client, School, TODAY, Value, column, json, lesson_ids, text};

/// Writers at once, and what each writes.
const WRITERS: usize = 16;
const EACH: usize = 20;

/// A group of one pupil for every writer.
fn groups(school: &School, count: usize) -> (Vec<(String, String)>, String) {
    school.calendar();
    let (sequence, content) = school.sequence();
    let names: Vec<String> = (0..count).map(|n| format!("Pupil{n}")).collect();
    let rows: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "Alder")).collect();
    let pupils = school.pupils(&rows);
    let made =
        names.iter().map(|name| (school.group(name, &sequence, &[&pupils[name]]), pupils[name].clone()));
    (made.collect(), lesson_ids(&content)[0].clone())
}

/// The `n`th lesson of a group: nine a day from 2 November on, the first of them new.
fn lesson(lesson: &str, n: usize) -> Value {
    let outcome = if n == 0 { "delivered" } else { "retaught" };
    json!({"on": format!("2026-11-{:02}", 2 + n / 9), "slot": n % 9 + 1, "lesson_id": lesson, "outcome": outcome})
}

/// Every audit entry, latest first.
fn audit(school: &School) -> Vec<Value> {
    let (admin, mut path) = (school.staff("administrator"), String::from("/audit-entries?limit=500"));
    let mut entries = Vec::new();
    loop {
        let page = admin.get(&path).expect(200);
        entries.extend(page["items"].as_array().unwrap().clone());
        match page["next"].as_str() {
            Some(next) => path = format!("/audit-entries?limit=500&cursor={next}"),
            None => return entries,
        }
    }
}

/// The chain runs from its latest entry down to 1 without a gap.
fn assert_unbroken(entries: &[Value]) {
    let seqs: Vec<i64> = entries.iter().map(|entry| entry["seq"].as_i64().unwrap()).collect();
    assert_eq!(seqs, (1..=seqs[0]).rev().collect::<Vec<_>>());
}

#[test]
fn many_writers_at_once_are_each_stored_once() {
    let school = School::start();
    let (groups, first) = groups(&school, WRITERS);
    let words: Vec<String> = (0..EACH).map(|n| format!("word {n}")).collect();
    let (check, items) = school.word_check("Words", &words.iter().map(String::as_str).collect::<Vec<_>>());
    let round = school.round("R", "2026-11-02", TODAY, &[&check]);
    let lead = school.lead();
    let answers: Vec<_> = thread::scope(|scope| {
        let write = |(group, pupil): &(String, String)| {
            let (lead, group, pupil) = (lead.clone(), group.clone(), pupil.clone());
            let (first, check, items, round) = (&first, &check, &items, &round);
            scope.spawn(move || {
                let mut answers = Vec::new();
                for (n, item) in items.iter().enumerate() {
                    answers.push(lead.post(&format!("/groups/{group}/lesson-records"), lesson(first, n)));
                    let body = json!({"check_id": check, "on": TODAY,
                                      "answers": [{"item_id": item, "outcome": "right"}]});
                    let path = format!("/check-rounds/{round}/pupils/{pupil}/responses");
                    answers.push(lead.post(&path, body));
                }
                answers
            })
        };
        let threads: Vec<_> = groups.iter().map(write).collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    let statuses: BTreeMap<u16, usize> = answers.iter().fold(BTreeMap::new(), |mut counts, answer| {
        *counts.entry(answer.status).or_default() += 1;
        counts
    });
    assert_eq!(statuses, BTreeMap::from([(201, 2 * WRITERS * EACH)]));
    // No two writes made the same version.
    let versions: BTreeSet<String> =
        answers.iter().map(|a| a.header("ETag")).filter(|tag| !tag.is_empty()).collect();
    assert_eq!(versions.len(), WRITERS * EACH);
    for (group, pupil) in &groups {
        let records = lead.get(&format!("/groups/{group}/lesson-records?limit=500")).expect(200);
        let ids: BTreeSet<String> = column(&records["items"], "id").into_iter().collect();
        assert_eq!((records["items"].as_array().unwrap().len(), ids.len()), (EACH, EACH));
        let responses = lead.get(&format!("/check-rounds/{round}/pupils/{pupil}/responses")).expect(200);
        assert_eq!(column(&responses["items"], "item_id"), items);
    }
    let entries = audit(&school);
    assert_unbroken(&entries);
    for operation in ["lesson.record", "check.record"] {
        let count = entries.iter().filter(|entry| entry["operation"] == operation).count();
        assert_eq!(count, WRITERS * EACH, "{operation}");
    }
}

#[test]
fn of_many_who_want_one_slot_one_gets_it() {
    let school = School::start();
    let (groups, first) = groups(&school, 1);
    let lead = school.lead();
    let statuses: Vec<u16> = thread::scope(|scope| {
        let post = || {
            scope.spawn(|| lead.post(&format!("/groups/{}/lesson-records", groups[0].0), lesson(&first, 0)))
        };
        let threads: Vec<_> = (0..8).map(|_| post()).collect();
        threads.into_iter().map(|thread| thread.join().unwrap().status).collect()
    });
    let mut sorted = statuses.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, [201, 409, 409, 409, 409, 409, 409, 409]);
}

#[test]
fn of_many_edits_of_one_version_one_stands() {
    let school = School::start();
    let lead = school.lead();
    let made = lead.post("/pupils", json!({"given_name": "Zoë"}));
    let path = format!("/pupils/{}", text(&made.expect(201)["id"]));
    let answers: Vec<_> = thread::scope(|scope| {
        let patch = |n: usize| {
            let (lead, path, etag) = (&lead, &path, made.etag());
            scope.spawn(move || lead.patch(path, &etag, json!({"given_name": format!("Zoë {n}")})))
        };
        let threads: Vec<_> = (0..8).map(patch).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    let (stood, stale): (Vec<_>, Vec<_>) = answers.into_iter().partition(|answer| answer.status == 200);
    assert_eq!((stood.len(), stale.len()), (1, 7));
    stale.iter().for_each(|answer| assert!(answer.problem(412, "stale").is_empty()));
    assert_eq!(lead.get(&path).text, stood[0].text);
}

/// A write of the stream: its key, its address, its body.
type Write = (String, String, Value);

/// What became of a writer's stream: ids by key, and the one write that nobody answered.
type Streamed = (Vec<(Write, String)>, Option<Write>);

/// Writes one after the other until the server is gone.
fn stream(client: &Client, writes: Vec<Write>, told: &Sender<()>) -> Streamed {
    let mut answered = Vec::new();
    for write in writes {
        let (key, path, body) = &write;
        let body = body.to_string();
        let sent = client.with("Idempotency-Key", key).try_send(
            "POST",
            &format!("/api/v1{path}"),
            Some("application/json"),
            body.as_bytes(),
        );
        let Some(answer) = sent else { return (answered, Some(write)) };
        let id = text(&answer.expect(201)["id"]);
        answered.push((write, id));
        told.send(()).unwrap();
    }
    (answered, None)
}

/// How many of everything there is under each key's mark: pupils by name, lessons by day and slot.
fn stored(lead: &Client, groups: &[(String, String)]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    let pupils = lead.get("/pupils?limit=500&find=stream").expect(200);
    assert_eq!(pupils["next"], Value::Null);
    for name in column(&pupils["items"], "name") {
        *counts.entry(name).or_default() += 1;
    }
    for (group, _) in groups {
        let records = lead.get(&format!("/groups/{group}/lesson-records?limit=500")).expect(200);
        for record in records["items"].as_array().unwrap() {
            *counts.entry(format!("{group} {} {}", text(&record["on"]), record["slot"])).or_default() += 1;
        }
    }
    counts
}

/// What [`stored`] calls a write.
fn mark((_, path, body): &Write) -> String {
    match path.strip_prefix("/groups/").and_then(|rest| rest.split_once('/')) {
        Some((group, _)) => format!("{group} {} {}", text(&body["on"]), body["slot"]),
        None => text(&body["given_name"]),
    }
}

#[test]
fn a_kill_in_the_middle_loses_nothing_acknowledged_and_doubles_nothing() {
    let mut school = School::start();
    let (groups, first) = groups(&school, 4);
    let lead = school.lead();
    let (told, heard) = channel();
    let mut threads = Vec::new();
    // Four write lessons of their own group, four add pupils: 640 writes if nobody stops them.
    for writer in 0..8 {
        let write = |n: usize| match groups.get(writer) {
            Some((group, _)) => {
                (format!("{writer}-{n}"), format!("/groups/{group}/lesson-records"), lesson(&first, n))
            }
            None => (
                format!("{writer}-{n}"),
                "/pupils".into(),
                json!({"given_name": format!("stream {writer} {n}")}),
            ),
        };
        let writes: Vec<Write> = (0..80).map(write).collect();
        let (client, told) = (lead.clone(), told.clone());
        threads.push(thread::spawn(move || stream(&client, writes, &told)));
    }
    for _ in 0..100 {
        heard.recv().unwrap();
    }
    school.server.kill_and_restart(TODAY);
    let streams: Vec<Streamed> = threads.into_iter().map(|thread| thread.join().unwrap()).collect();
    let answered: Vec<&(Write, String)> = streams.iter().flat_map(|(answered, _)| answered).collect();
    let unanswered: Vec<&Write> = streams.iter().filter_map(|(_, write)| write.as_ref()).collect();
    assert!(answered.len() >= 100 && !unanswered.is_empty(), "the kill came in the middle");

    let token = text(&school.sign_in(&School::email("lead"))["access_token"]);
    let lead = school.nobody().with_token(&token);
    let counts = stored(&lead, &groups);
    for (write, _) in &answered {
        assert_eq!(counts.get(&mark(write)), Some(&1), "{write:?}");
    }
    for write in &unanswered {
        assert!(counts.get(&mark(write)).is_none_or(|count| *count == 1), "{write:?}");
    }
    // Whoever got no answer asks again; so does, for once, who got one.
    let again = |write: &Write| {
        let answer = lead.with("Idempotency-Key", &write.0).post(&write.1, write.2.clone());
        text(&answer.expect(201)["id"])
    };
    for (write, id) in answered.iter().rev().take(20) {
        assert_eq!(again(write), *id);
    }
    unanswered.iter().for_each(|write| assert!(!again(write).is_empty()));
    let counts = stored(&lead, &groups);
    let expected =
        answered.iter().map(|(write, _)| mark(write)).chain(unanswered.iter().map(|write| mark(write)));
    assert_eq!(counts, expected.map(|mark| (mark, 1)).collect());
    let log = lead.get("/audit-entries?limit=500").expect(200);
    let seqs: Vec<i64> =
        log["items"].as_array().unwrap().iter().map(|entry| entry["seq"].as_i64().unwrap()).collect();
    assert!(seqs.windows(2).all(|two| two[0] == two[1] + 1), "the chain goes on without a gap");
}
