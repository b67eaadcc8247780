//! What a cover page and the next lesson say of a day: the lessons of the group's timetable, and who is there.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, TODAY, Value, column, json, lesson_ids, text};

/// A school with a group of one, taught nothing yet: two lessons on Wednesdays, which today is, one on Fridays
/// and none on other days.
struct Alder {
    school: School,
    content: Value,
    group: String,
}

impl Alder {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
        let made = Self { school, content, group };
        made.timetable(&json!([
            {"weekday": "wednesday", "part": "morning", "starts_at": "09:00", "minutes": 30},
            {"weekday": "wednesday", "part": "afternoon", "starts_at": "13:15"},
            {"weekday": "friday", "part": "morning", "starts_at": "10:00"}]));
        made
    }

    fn timetable(&self, slots: &Value) {
        let (lead, path) = (self.school.lead(), format!("/groups/{}", self.group));
        let body = json!({"from": "2026-09-01", "slots": slots});
        lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    }

    fn page(&self, query: &str) -> Value {
        self.school.lead().get(&format!("/groups/{}/cover-page?{query}", self.group)).expect(200)
    }

    fn html(&self, on: &str) -> String {
        self.school.lead().get(&format!("/groups/{}/cover-page?on={on}&format=html", self.group)).text
    }

    /// The adults from 1 September on, exactly these.
    fn adults(&self, keys: &[&str]) {
        let adult = |key: &&str| json!({"staff_id": self.school.staff_id(key), "from": "2026-09-01"});
        let body = json!({"adults": keys.iter().map(adult).collect::<Vec<_>>()});
        let (lead, path) = (self.school.lead(), format!("/groups/{}", self.group));
        lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), body).expect(200);
    }
}

/// The lessons of a page: time, title and what to teach.
fn lessons(page: &Value) -> Vec<String> {
    let line = |one: &Value| {
        let items = one["items"].as_array().unwrap().iter().map(text).collect::<Vec<_>>().join(", ");
        format!(
            "{} {} {}: {items}",
            one["session"]["slot"],
            text(&one["session"]["starts_at"]),
            text(&one["title"])
        )
    };
    page["lessons"].as_array().unwrap().iter().map(line).collect()
}

#[test]
fn the_page_has_the_lessons_of_the_day_with_their_times() {
    let a = Alder::new();
    let page = a.page("");
    assert_eq!(lessons(&page), ["1 09:00 m and o: m /m/, o /ɒ/", "2 13:15 d: d /d/, the"]);
    assert_eq!((&page["due"], &page["recorded"]), (&json!(2), &json!(false)));
    let html = a.html(TODAY);
    for part in ["<h2>Lessons</h2>", "<b>09:00, 30 minutes: m and o, Step 1</b>", "<b>13:15: d, Step 1</b>"] {
        assert!(html.contains(part), "{part}\n{html}");
    }
    // What is recorded is not printed again.
    let lead = a.school.lead();
    let log = |slot: u8, n: usize| {
        let lesson = &lesson_ids(&a.content)[n];
        a.school.log_lesson(&lead, &a.group, TODAY, lesson, "delivered", &json!({"slot": slot})).expect(201);
    };
    log(1, 0);
    let page = a.page("");
    assert_eq!((lessons(&page), &page["recorded"]), (vec!["2 13:15 d: d /d/, the".to_owned()], &json!(true)));
    log(2, 1);
    assert_eq!(lessons(&a.page("")), [""; 0]);
    let html = a.html(TODAY);
    assert!(html.contains("What was to be taught on this day is recorded already."), "{html}");
    // On Friday the next one; with two left and more due than that, two.
    assert_eq!(lessons(&a.page("on=2026-11-27")), ["1 10:00 e: e /e/"]);
}

#[test]
fn the_afternoon_has_words_of_what_the_morning_teaches() {
    let a = Alder::new();
    let lead = a.school.lead();
    for (on, lesson) in ["2026-11-19", "2026-11-20"].into_iter().zip(lesson_ids(&a.content)) {
        a.school.log_lesson(&lead, &a.group, on, &lesson, "delivered", &json!({})).expect(201);
    }
    let page = a.page("");
    assert_eq!(lessons(&page), ["1 09:00 e: e /e/", "2 13:15 review: review of step 1, n /n/"]);
    // Of m, o, d, e and n: these need the morning's e beside the n.
    let read = column(&page["lessons"][1]["words"]["read"], "word");
    assert!(["men", "den", "end"].iter().any(|word| read.contains(&(*word).to_owned())), "{read:?}");
    let shown = lead.get(&format!("/groups/{}/next-lesson", a.group)).expect(200);
    assert_eq!(page["lessons"][0]["words"]["read"], shown["lesson"]["words"]["read"]);
}

#[test]
fn a_day_without_a_lesson_of_the_group_says_so() {
    let a = Alder::new();
    let lead = a.school.lead();
    let page = a.page("on=2026-11-26");
    assert_eq!((&page["day"], &page["due"], &page["lessons"]), (&json!("teaching"), &json!(0), &json!([])));
    let html = a.html("2026-11-26");
    assert!(html.contains("This group has no lesson on this day.") && !html.contains("Teach"), "{html}");
    let links = format!("/groups/{}/cover-links", a.group);
    let refused = lead.post(&links, json!({"on": "2026-11-26"})).problem(422, "invalid");
    assert_eq!(refused, ["on: is a day on which the group has no lesson"]);
    let link = lead.post(&links, json!({"on": TODAY})).expect(201);
    let open = || a.school.nobody().post("/cover-pages", json!({"token": link["token"]})).expect(200);
    assert_eq!(lessons(&open()), lessons(&a.page("")));
    // The afternoon closes, then the timetable changes: what the link opens follows.
    lead.post("/closures", json!({"from": TODAY, "kind": "closure", "part": "afternoon"})).expect(201);
    assert_eq!(lessons(&open()), ["1 09:00 m and o: m /m/, o /ɒ/"]);
    a.timetable(&json!([{"weekday": "monday", "part": "morning"}]));
    assert_eq!((open()["due"].clone(), lessons(&open())), (json!(0), vec![]));
    let weekend = a.html("2026-11-28");
    assert!(weekend.contains("This is not a teaching day of the group"), "{weekend}");
}

#[test]
fn the_next_lesson_is_due_when_the_timetable_says() {
    let a = Alder::new();
    let lead = a.school.lead();
    let next = |on: &str| {
        let next = lead.get(&format!("/groups/{}/next-lesson?on={on}", a.group)).expect(200);
        let when = |one: &Value| match one {
            Value::Null => "-".to_owned(),
            one => format!("{} {}", text(&one["on"]), one["starts_at"].as_str().unwrap_or("-")),
        };
        let due: Vec<String> = next["due"].as_array().unwrap().iter().map(when).collect();
        (due, when(&next["next_due"]), text(&next["lesson"]["title"]))
    };
    let title = || "m and o".to_owned();
    let wednesday = ["2026-11-25 09:00", "2026-11-25 13:15"].map(str::to_owned).to_vec();
    assert_eq!(next(TODAY), (wednesday.clone(), "2026-11-25 09:00".into(), title()));
    assert_eq!(next("2026-11-26"), (vec![], "2026-11-27 10:00".into(), title()));
    let lesson = &lesson_ids(&a.content)[0];
    a.school.log_lesson(&lead, &a.group, TODAY, lesson, "delivered", &json!({})).expect(201);
    assert_eq!(next(TODAY), (wednesday, "2026-11-25 13:15".into(), "d".into()));
    // Nobody is in the group from Friday on.
    let path = format!("/groups/{}", a.group);
    let none = json!({"from": "2026-11-27", "pupil_ids": []});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), none).expect(200);
    assert_eq!(next("2026-11-26"), (vec![], "-".into(), "d".into()));
}

#[test]
fn who_teaches_as_a_rule_is_not_listed_when_away() {
    let a = Alder::new();
    a.adults(&["teacher", "assistant"]);
    let there = |page: &Value| {
        let mut names: Vec<String> = page["adults"].as_array().unwrap().iter().map(text).collect();
        names.sort();
        names
    };
    assert_eq!(there(&a.page("")), ["assistant person", "teacher person"]);
    // Said.
    let teacher = a.school.staff_id("teacher");
    assert_eq!(there(&a.page(&format!("away={teacher}"))), ["assistant person"]);
    let lead = a.school.lead();
    let path = format!("/groups/{}", a.group);
    let stranger = a.school.staff_id("lead");
    let refused = lead.get(&format!("{path}/cover-page?away={stranger}")).problem(422, "invalid");
    assert_eq!(refused, ["away: is not an adult of the group on that day"]);
    // Implied by a link.
    let link = lead.post(&format!("{path}/cover-links"), json!({"on": TODAY})).expect(201);
    let open = a.school.nobody().post("/cover-pages", json!({"token": link["token"]})).expect(200);
    assert_eq!(there(&open), ["assistant person"]);
    // Implied by somebody who has the group to cover.
    a.adults(&["teacher", "assistant", "cover"]);
    assert_eq!(there(&a.page("")), ["assistant person", "cover person"]);
}
