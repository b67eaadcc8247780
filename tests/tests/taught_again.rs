//! Lessons that were taught on two days, and what teaching again rests on.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Value, item_ids, json, text};

#[test]
fn a_lesson_delivered_on_two_days_was_finished_on_the_first_and_taught_again_on_the_other() {
    let a = Alder::new();
    a.log("2026-11-20", 0, "delivered", a.mark("Max", "absent"));
    // The day before comes in late, from a device that was offline.
    let late = a.log("2026-11-17", 0, "delivered", json!({}));
    assert_eq!(late["warnings"], json!(["later_taught_again"]));
    assert_eq!(late["items"].as_array().unwrap().len(), 2);
    assert_eq!((a.next(), a.missed()), (("d".into(), 2), vec![]));
    assert_eq!(a.covered("Zoe")[0], ("m /m/".into(), "2026-11-17".into(), String::new(), 2));
    // As if it had come in order.
    assert_eq!(a.log("2026-11-23", 0, "delivered", json!({}))["warnings"], json!(["taught_again"]));
    let sessions = || {
        let pace = a.school.lead().get(&format!("/groups/{}/pace", a.group)).expect(200);
        (
            pace["sessions"]["taught"].clone(),
            pace["sessions"]["retaught"].clone(),
            pace["standing"]["finished"].clone(),
        )
    };
    assert_eq!(sessions(), (json!(3), json!(2), json!(1)));
    // Without the first the next one is the finish.
    let teacher = a.school.staff("teacher");
    let path = format!("/lesson-records/{}", text(&late["id"]));
    teacher.delete(&path, &teacher.get(&path).etag()).expect(204);
    assert_eq!((sessions(), a.missed()), ((json!(2), json!(1), json!(1)), vec![]));
}

#[test]
fn what_is_taught_again_was_taught_and_stays_so() {
    let a = Alder::new();
    let items = item_ids(&a.content, 0);
    let begun = a.log("2026-11-17", 0, "part", json!({"items": [items[0]]}));
    let refused = a.refused("2026-11-18", 0, "retaught", json!({"items": items}));
    assert_eq!(
        refused,
        ["items[1]: this group has not been taught it before: record it as a part, or as delivered"]
    );
    a.log("2026-11-18", 0, "retaught", json!({}));
    let teacher = a.school.staff("teacher");
    let path = format!("/lesson-records/{}", text(&begun["id"]));
    let rests =
        ["outcome: the record of 2026-11-18 teaches again what this one taught: delete that record first"];
    let etag = || teacher.get(&path).etag();
    assert_eq!(teacher.delete(&path, &etag()).problem(409, "conflict"), rests);
    let body = |outcome: &str, more: Value| {
        let mut body = json!({"on": "2026-11-17", "lesson_id": a.lessons[0], "outcome": outcome});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        body
    };
    let other = body("part", json!({"items": [items[1]]}));
    assert_eq!(teacher.put(&path, &etag(), other).problem(409, "conflict"), rests);
    teacher.put(&path, &etag(), body("delivered", json!({}))).expect(200);
    // Once nothing rests on it, it can go.
    let again = text(&a.records()[0]["id"]);
    let last = format!("/lesson-records/{again}");
    teacher.delete(&last, &teacher.get(&last).etag()).expect(204);
    teacher.delete(&path, &etag()).expect(204);
    assert_eq!(a.next(), ("m and o".into(), 2));
}

#[test]
fn a_part_that_was_wrong_is_put_right_though_the_lesson_was_delivered_before_it() {
    let a = Alder::new();
    let (teacher, items) = (a.school.staff("teacher"), item_ids(&a.content, 0));
    let made = |on: &str, n: usize, more: Value| {
        let body = json!({"slot": n, "items": [items[0]]});
        let body = if more.is_null() { body } else { more };
        a.school.log_lesson(&teacher, &a.group, on, &a.lessons[0], "part", &body)
    };
    a.log("2026-11-23", 0, "delivered", json!({}));
    // Entered by mistake: of a later day, and of a later lesson of the same day.
    for (on, slot) in [("2026-11-24", 1), ("2026-11-23", 2)] {
        let part = made(on, slot, Value::Null);
        let path = format!("/lesson-records/{}", text(&part.expect(201)["id"]));
        let body = json!({"on": on, "slot": slot, "lesson_id": a.lessons[1], "outcome": "delivered"});
        teacher.put(&path, &part.etag(), body).expect(200);
        teacher.delete(&path, &teacher.get(&path).etag()).expect(204);
    }
    // One that a later record finished stays; its items may be named in another order, and twice.
    let part = made("2026-11-20", 1, json!({"items": [items[0]]}));
    let path = format!("/lesson-records/{}", text(&part.expect(201)["id"]));
    let put = |items: Value| {
        let body = json!({"on": "2026-11-20", "lesson_id": a.lessons[0], "outcome": "part", "items": items});
        teacher.put(&path, &teacher.get(&path).etag(), body)
    };
    put(json!([items[1]])).problem(409, "conflict");
    put(json!([items[0], items[0]])).expect(200);
}
