//! What was recorded of a lesson offline and set aside: who is told, and what settles it.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Replica, Value, json, text};

fn not_delivered(alder: &Alder, on: &str) -> Value {
    alder.lesson(0, on, &json!({"outcome": "not_delivered", "reason": "fire_drill"}))
}

/// The other tablets learn of a clash by the lesson's row, and may go on from it.
#[test]
fn a_lesson_says_that_something_is_set_aside() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    let record = || alder.lesson(0, "2026-11-23", &json!({}));
    let first = one.push("lesson.record", None, record());
    let aside = |device: &mut Replica| {
        device.pull(500);
        let lessons = device.of("lesson_record");
        assert_eq!(lessons.len(), 1);
        lessons.into_values().next().unwrap()["set_aside"].clone()
    };
    assert_eq!(aside(&mut one), false);
    assert_eq!(
        other.push("lesson.record", None, not_delivered(&alder, "2026-11-23"))["outcome"],
        "superseded"
    );
    assert_eq!((aside(&mut one), aside(&mut other)), (json!(true), json!(true)));
    // A third is told of the clash by the row's version, which is above the record's own.
    let mut third = alder.school.replica("teacher");
    let page = third.page(500).expect(200);
    let row = page["rows"].as_array().unwrap().iter().find(|row| row["kind"] == "lesson_record").unwrap();
    let (v, before) = (text(&row["v"]), text(&first["v"]));
    assert!(v.parse::<i64>().unwrap() > before.parse::<i64>().unwrap());
    // Whoever writes it without saying so has not settled what was set aside: it may not have been seen.
    assert_eq!(one.push("lesson.record", Some(&before), record())["outcome"], "applied");
    assert_eq!((aside(&mut one), aside(&mut other)), (json!(true), json!(true)));
    let otherwise = not_delivered(&alder, "2026-11-23");
    let old = third.push("lesson.record", Some(&v), otherwise.clone());
    assert_eq!(old["outcome"], "superseded", "known before that");
    let path = format!("/lesson-records/{}", text(&alder.records()[0]["id"]));
    let lead = alder.school.lead();
    assert_eq!(lead.get(&path).expect(200)["set_aside"], true);
    // By the row's version, and by no higher one: a restored server has begun to count anew.
    let told = || {
        let page = alder.school.replica("teacher").page(500).expect(200);
        let rows = page["rows"].as_array().unwrap().clone();
        text(&rows.iter().find(|row| row["kind"] == "lesson_record").unwrap()["v"])
    };
    let above = (told().parse::<i64>().unwrap() + 1).to_string();
    assert_eq!(third.push("lesson.record", Some(&above), otherwise.clone())["outcome"], "superseded");
    assert_eq!(
        third.push("lesson.delete", Some(&above), json!({"id": alder.records()[0]["id"]}))["outcome"],
        "superseded"
    );
    let mut settles = otherwise;
    settles["settles"] = json!(true);
    assert_eq!(third.push("lesson.record", Some(&told()), settles)["outcome"], "applied");
    assert_eq!((aside(&mut one), aside(&mut other)), (json!(false), json!(false)));
    // And over the API.
    assert_eq!(other.push("lesson.record", Some(&before), record())["outcome"], "superseded");
    assert_eq!(aside(&mut one), true);
    let mut report = record();
    report.as_object_mut().unwrap().remove("group_id");
    lead.put(&path, &lead.get(&path).etag(), report.clone()).expect(200);
    assert_eq!(aside(&mut one), true);
    report["settles"] = json!(true);
    lead.put(&path, &lead.get(&path).etag(), report).expect(200);
    assert_eq!(aside(&mut one), false);
}
