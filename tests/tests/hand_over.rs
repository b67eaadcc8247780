//! A group handed from one adult to another, and what the first had not sent yet.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, column, json, text};

struct Handed {
    school: School,
    group: String,
    lesson: Value,
}

impl Handed {
    /// A group with three lessons that its teacher hands to a second one from 25 November on, today.
    fn new() -> Self {
        let (school, group) = School::with_lessons();
        let records = school.lead().get(&format!("/groups/{group}/lesson-records")).expect(200);
        let lesson = records["items"][0]["lesson_id"].clone();
        let handed = Self { school, group, lesson };
        let after = handed.hand_over("teacher", "teacher:2", "2026-11-25").expect(200);
        let after = after["items"].as_array().unwrap().iter();
        let days: Vec<Value> = after.map(|one| json!([one["name"], one["from"], one["until"]])).collect();
        let expected =
            json!([["teacher person", "2026-09-01", "2026-11-24"], ["teacher 2 person", "2026-11-25", null]]);
        assert_eq!(json!(days), expected);
        handed
    }

    fn path(&self) -> String {
        format!("/groups/{}", self.group)
    }

    fn hand_over(&self, from: &str, to: &str, on: &str) -> Answer {
        let (from, to) = (self.school.staff_id(from), self.school.staff_id(to));
        let lead = self.again("lead");
        let etag = lead.get(&self.path()).etag();
        let body = json!({"from_staff_id": from, "to_staff_id": to, "on": on});
        lead.with("If-Match", &etag).call("POST", &format!("{}/hand-over", self.path()), Some(&body))
    }

    /// Records a lesson taught again that day.
    fn record(&self, who: &Client, on: &str) -> Answer {
        let more = json!({});
        self.school.log_lesson(who, &self.group, on, self.lesson.as_str().unwrap(), "retaught", &more)
    }

    fn on(&mut self, day: &str) {
        self.school.server.stop_and_restart(day);
    }

    fn again(&self, who: &str) -> Client {
        let signed_in = self.school.sign_in(&School::email(who));
        self.school.nobody().with_token(&text(&signed_in["access_token"]))
    }
}

#[test]
fn the_group_goes_over_with_its_history() {
    let handed = Handed::new();
    let (one, two) = (handed.school.staff("teacher"), handed.school.staff("teacher:2"));
    one.get(&handed.path()).problem(404, "not_found");
    let records = two.get(&format!("{}/lesson-records", handed.path())).expect(200);
    assert_eq!(column(&records["items"], "on"), ["2026-11-23", "2026-11-20", "2026-11-19"]);
    two.get(&format!("{}/coverage", handed.path())).expect(200);
    // Today's lesson is the second one's to record, yesterday's the first one's.
    handed.record(&two, "2026-11-25").expect(201);
    handed.record(&one, "2026-11-25").problem(404, "not_found");
    handed.record(&two, "2026-11-24").problem(404, "not_found");
    handed.record(&one, "2026-11-24").expect(201);
}

#[test]
fn what_was_not_sent_is_taken_for_the_packs_days() {
    let mut handed = Handed::new();
    // The last day was 24 November; the pack takes late records for 28 days: to 22 December.
    handed.on("2026-12-22");
    let one = handed.again("teacher");
    handed.record(&one, "2026-11-24").expect(201);
    handed.record(&one, "2026-11-25").problem(404, "not_found");
    handed.on("2026-12-23");
    let one = handed.again("teacher");
    handed.record(&one, "2026-11-17").problem(404, "not_found");
    // From then on the lead enters it and says who taught.
    let more = json!({"slot": 2, "taught_by": handed.school.staff_id("teacher")});
    let lead = handed.again("lead");
    let lesson = handed.lesson.as_str().unwrap();
    let entered = handed.school.log_lesson(&lead, &handed.group, "2026-11-24", lesson, "retaught", &more);
    assert_eq!(entered.expect(201)["taught_by"], handed.school.staff_id("teacher"));
}

#[test]
fn who_has_the_group_again_sends_what_was_left_from_before() {
    let mut handed = Handed::new();
    // The first teacher's last day was 24 November; more than the pack's 28 days later it is theirs again.
    handed.on("2027-01-05");
    handed.record(&handed.again("teacher"), "2026-11-24").problem(404, "not_found");
    handed.hand_over("teacher:2", "teacher", "2027-01-06").expect(200);
    handed.record(&handed.again("teacher"), "2026-11-24").problem(404, "not_found");
    handed.on("2027-01-06");
    let one = handed.again("teacher");
    handed.record(&one, "2026-11-24").expect(201);
    let records = one.get(&format!("{}/lesson-records", handed.path())).expect(200);
    let path = format!("/lesson-records/{}", text(&records["items"][0]["id"]));
    assert_eq!(one.get(&path).expect(200)["on"], "2026-11-24");
    // The days between were the other's.
    handed.record(&one, "2026-12-07").problem(404, "not_found");
}

#[test]
fn handed_over_from_a_day_to_come_it_changes_nothing_before() {
    let mut handed = Handed::new();
    handed.hand_over("teacher:2", "assistant", "2026-11-30").expect(200);
    let sees = |who: &Client| who.get(&handed.path()).status;
    assert_eq!(
        [sees(&handed.school.staff("teacher:2")), sees(&handed.school.staff("assistant"))],
        [200, 404]
    );
    handed.on("2026-11-30");
    let sees = |who: &str| handed.again(who).get(&handed.path()).status;
    assert_eq!([sees("teacher:2"), sees("assistant")], [404, 200]);
}

#[test]
fn what_cannot_be_handed_over_is_refused_with_its_field() {
    let handed = Handed::new();
    // The first teacher's days are over.
    let refused = handed.hand_over("teacher", "teacher:2", "2026-11-25").problem(422, "invalid");
    assert_eq!(refused, ["from_staff_id: is not assigned to this group on that day or later"]);
    let refused = handed.hand_over("teacher:2", "teacher:2", "2026-11-25").problem(422, "invalid");
    assert_eq!(refused, ["to_staff_id: is the one who hands over"]);
    let stranger = json!({"from_staff_id": handed.school.staff_id("teacher:2"),
                          "to_staff_id": "0199f2c4-0000-7000-8000-000000000006", "on": "2026-11-26"});
    let lead = handed.school.lead();
    let etag = lead.get(&handed.path()).etag();
    let path = format!("{}/hand-over", handed.path());
    let refused =
        lead.clone().with("If-Match", &etag).call("POST", &path, Some(&stranger)).problem(422, "invalid");
    assert_eq!(refused, ["to_staff_id: is not of this school's staff"]);
    lead.call("POST", &path, Some(&stranger)).problem(428, "precondition_required");
}
