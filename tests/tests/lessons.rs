//! Logging lessons: the place of a group, absences, parts, re-teaching.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, json};

#[test]
fn a_teacher_logs_the_next_lesson_and_the_group_moves_on() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let teacher = school.staff("teacher");
    let next = teacher.get(&format!("/groups/{group}/next-lesson")).expect(200);
    assert_eq!(next["lesson"]["title"], "m and o");
    assert_eq!(next["version_id"], content["id"]);
    let logged = teacher.post(
        &format!("/groups/{group}/lesson-records"),
        json!({"on": "2026-11-24", "lesson_id": next["lesson"]["id"], "outcome": "delivered",
               "register": [{"pupil_id": pupils["Max"], "mark": "absent"}]}),
    );
    let logged = logged.expect(201);
    assert_eq!(logged["warnings"], json!([]));
    assert_eq!(logged["items"].as_array().unwrap().len(), 2);
    let next = teacher.get(&format!("/groups/{group}/next-lesson")).expect(200);
    assert_eq!(next["lesson"]["title"], "d");
    let coverage = teacher.get(&format!("/groups/{group}/coverage")).expect(200);
    assert_eq!(coverage["missed"][0]["name"], "Max Bell");
    assert_eq!(coverage["missed"][0]["items"].as_array().unwrap().len(), 2);
}
