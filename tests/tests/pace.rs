//! Planned against taught, what is forecast, and plans. The sequence has four lessons: "m and o" and "d" in its
//! first step, "e" and "review" in its second. Today is Wednesday 25 November 2026; the half terms are 1 September
//! to 23 October and 2 November to 18 December.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, Value, item_ids, json, lesson_ids};

struct Alder {
    school: School,
    group: String,
}

/// "m and o" on Tuesday 17; "d" in two parts, on Thursday 19 and Monday 23.
fn start() -> Alder {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let (lessons, items) = (lesson_ids(&content), item_ids(&content, 1));
    let teacher = school.staff("teacher");
    let log = |on: &str, lesson: usize, outcome: &str, more: Value| {
        school.log_lesson(&teacher, &group, on, &lessons[lesson], outcome, &more).expect(201);
    };
    log("2026-11-17", 0, "delivered", json!({}));
    log("2026-11-19", 1, "part", json!({"items": [items[0]]}));
    log("2026-11-23", 1, "delivered", json!({"items": [items[1]]}));
    Alder { school, group }
}

impl Alder {
    fn path(&self, rest: &str) -> String {
        format!("/groups/{}/{rest}", self.group)
    }

    fn pace(&self, query: &str) -> Value {
        self.school.staff("teacher").get(&self.path(&format!("pace{query}"))).expect(200)
    }

    /// Days, planned, finished, lessons ahead, days ahead.
    fn standing(&self) -> Value {
        let told = self.pace("")["standing"].clone();
        json!(["days", "planned", "finished", "lessons_ahead", "days_ahead"].map(|name| told[name].clone()))
    }

    fn plan(&self, plan: Value) -> String {
        let path = self.path("pace-plan");
        let lead = self.school.lead();
        let seen = lead.get(&path);
        let saved = match seen.json()["chosen"].as_bool().unwrap() {
            true => lead.put(&path, &seen.etag(), plan),
            false => lead.call("PUT", &path, Some(&plan)),
        };
        saved.expect(200);
        saved.etag()
    }
}

#[test]
fn lessons_count_once_and_days_count_where_they_are_taught() {
    let a = start();
    // Nobody planned: one lesson a teaching day since 1 September, which is 39 days before the holiday and 17
    // after it, and not more than the four there are.
    let told = a.pace("");
    assert_eq!(told["plan"], json!({"from": null, "lessons": 1, "days": 1, "chosen": false}));
    assert_eq!(told["standing"]["since"], "2026-09-01");
    assert_eq!(a.standing(), json!([56, 4, 2, -2, -2]));
    assert_eq!(told["sessions"], json!({"taught": 3, "parts": 1, "retaught": 0, "not_taught": 0}));
    assert_eq!(told["recent"], json!({"days": 40, "sessions": 40, "lessons": 2}));
    assert_eq!((&told["days_without_record"], &told["days_a_week"]), (&json!(1), &json!(5)));
    // From Monday 16 on one lesson in two days: seven days, three planned.
    a.plan(json!({"from": "2026-11-16", "lessons": 1, "days": 2}));
    assert_eq!(a.standing(), json!([7, 3, 2, -1, -2]));
    // Closed on Friday 20 and Tuesday 24: five days, two planned.
    for on in ["2026-11-20", "2026-11-24"] {
        a.school.lead().post("/closures", json!({"on": on, "kind": "closure"})).expect(201);
    }
    assert_eq!(a.standing(), json!([5, 2, 2, 0, 0]));
    assert_eq!(a.pace("")["days_without_record"], 0);
    // Taught again today: the day counts now, no lesson does.
    let body = json!({"on": "2026-11-25", "outcome": "retaught",
                      "lesson_id": a.school.lead().get(&a.path("lesson-records")).expect(200)["items"][2]["lesson_id"]});
    a.school.staff("teacher").post(&a.path("lesson-records"), body).expect(201);
    assert_eq!(a.standing(), json!([6, 3, 2, -1, -2]));
    assert_eq!(a.pace("")["sessions"], json!({"taught": 4, "parts": 1, "retaught": 1, "not_taught": 0}));
}

/// Of 40 days 2 finished a lesson, and 4 of 5 are believed before any is seen: a day finishes one with the chance
/// 6 in 45. By five days one is finished with the chance 1 - 39*40*41*42*43 / (45*46*47*48*49) = 0.495, by six
/// 0.556; by all 18 days left 0.885, which is less than the nine in ten of the interval's end.
#[test]
fn the_way_ahead_is_told_with_an_interval_and_what_ifs_beside_it() {
    let a = start();
    let told = a.pace("");
    let steps = told["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 1);
    assert_eq!((&steps[0]["step"], &steps[0]["lessons_left"]), (&json!(2), &json!(2)));
    let reached = json!({"earliest": "2026-11-25", "middle": "2026-12-02", "latest": null});
    assert_eq!((&steps[0]["reached"], &told["what_if"]), (&reached, &Value::Null));
    let middle = |query: &str| a.pace(query)["what_if"][0]["reached"]["middle"].clone();
    assert_eq!(middle("?lost_from=2026-11-25&lost_until=2026-12-08"), "2026-12-16");
    // Four in five days: the sixth lesson held is on the eighth day.
    assert_eq!(middle("?lessons_a_week=4"), "2026-12-04");
    // Ten in five: two on the third.
    assert_eq!(middle("?lessons_a_week=10"), "2026-11-27");
    let teacher = a.school.staff("teacher");
    for (query, field) in [
        ("?lost_from=2026-12-08&lost_until=2026-11-25", "lost_until"),
        ("?lost_from=2026-12-08", "lost_until"),
        ("?lost_until=2026-12-08", "lost_from"),
        ("?lessons_a_week=0", "lessons_a_week"),
        ("?lessons_a_week=46", "lessons_a_week"),
    ] {
        let complaints = teacher.get(&a.path(&format!("pace{query}"))).problem(422, "invalid");
        assert!(complaints[0].starts_with(field), "{complaints:?}");
    }
}

#[test]
fn a_plan_made_anew_is_proposed_and_chosen_by_people() {
    let a = start();
    let (lead, teacher) = (a.school.lead(), a.school.staff("teacher"));
    let path = a.path("pace/proposals?finish_by=2026-12-18");
    let told = teacher.get(&path).expect(200);
    let p = &told["proposals"];
    assert_eq!((&p["through"], &p["lessons_left"]), (&json!({"step": 2, "lesson": 2}), &json!(2)));
    assert_eq!(
        (&p["days_left"], &p["in_time"], &p["reached_by_then"]),
        (&json!(18), &json!(false), &Value::Null)
    );
    // "e" and "review" hold e and n between them.
    assert_eq!((&p["lessons_too_many"], &p["joined"][0]["new_items"]), (&json!(2), &json!(2)));
    assert_eq!(p["joined"][0]["titles"], json!(["e", "review"]));
    // With what it says is likely, held so often, the what-if agrees.
    let likely = p["likely_with"]["lessons"].as_u64().unwrap();
    let last = |lessons: u64| {
        let told = a.pace(&format!("?lessons_a_week={lessons}"));
        told["what_if"][0]["finished"]["middle"].as_str().unwrap_or("9999").to_owned()
    };
    assert!(last(likely).as_str() <= "2026-12-18" && "2026-12-18" < last(likely - 1).as_str());
    // The first step is finished: nothing to plan.
    let done = teacher.get(&format!("{path}&through_step=1")).expect(200);
    assert_eq!(done["proposals"], Value::Null);
    let complaints = teacher.get(&format!("{path}&through_step=3")).problem(422, "invalid");
    assert!(complaints[0].starts_with("through_step"), "{complaints:?}");
    teacher.get(&a.path("pace/proposals?finish_by=2026-11-24")).problem(422, "invalid");

    let first = a.plan(json!({"lessons": 4, "days": 5}));
    let saved = teacher.get(&a.path("pace-plan"));
    assert_eq!(saved.json(), json!({"from": "2026-11-25", "lessons": 4, "days": 5, "chosen": true}));
    assert_eq!((saved.etag(), a.standing()), (first.clone(), json!([0, 0, 0, 0, 0])));
    // Somebody else was there first; and a plan replaces those of its day and later, not the one before.
    let plan = json!({"from": "2026-12-01", "lessons": 1, "days": 1});
    lead.call("PUT", &a.path("pace-plan"), Some(&plan)).problem(428, "precondition_required");
    let second = a.plan(plan.clone());
    lead.put(&a.path("pace-plan"), &first, plan).problem(412, "stale");
    lead.delete(&a.path("pace-plan"), &second).expect(204);
    assert_eq!(teacher.get(&a.path("pace-plan")).expect(200)["from"], "2026-11-25");
    lead.delete(&a.path("pace-plan"), &first).expect(204);
    assert_eq!(teacher.get(&a.path("pace-plan")).expect(200)["chosen"], false);
    for (plan, field) in [
        (json!({"lessons": 0, "days": 5}), "lessons"),
        (json!({"lessons": 46, "days": 5}), "lessons"),
        (json!({"lessons": 1, "days": 0}), "days"),
        (json!({"lessons": 1, "days": 401}), "days"),
        (json!({"from": "2028-01-10", "lessons": 1, "days": 1}), "from"),
    ] {
        let complaints = lead.call("PUT", &a.path("pace-plan"), Some(&plan)).problem(422, "invalid");
        assert!(complaints[0].starts_with(field), "{complaints:?}");
    }
}

#[test]
fn a_day_on_which_nobody_is_in_the_group_is_none_of_its_days() {
    let a = start();
    let lead = a.school.lead();
    a.plan(json!({"from": "2026-11-16", "lessons": 1, "days": 2}));
    assert_eq!(a.standing(), json!([7, 3, 2, -1, -2]));
    // Zoe is elsewhere on Friday 20: six days of the group, three lessons planned.
    let path = format!("/groups/{}", a.group);
    let zoe = lead.get(&path).expect(200)["members"][0]["id"].clone();
    for (from, pupils) in [("2026-11-20", json!([])), ("2026-11-23", json!([zoe]))] {
        let body = json!({"from": from, "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    }
    assert_eq!(a.standing(), json!([6, 3, 2, -1, -2]));
}

#[test]
fn no_plan_begins_after_the_last_day_of_the_group() {
    let a = start();
    let lead = a.school.lead();
    let path = format!("/groups/{}", a.group);
    let closed = lead.with("If-Match", &lead.get(&path).etag());
    closed.post(&format!("{path}/close"), json!({"on": "2026-11-27"})).expect(204);
    let plan = |from: &str| json!({"from": from, "lessons": 4, "days": 5});
    let refused = lead.call("PUT", &a.path("pace-plan"), Some(&plan("2026-11-30"))).problem(422, "invalid");
    assert_eq!(refused, ["from: the group's last day is 2026-11-27"]);
    assert_eq!(lead.get(&a.path("pace-plan")).expect(200)["chosen"], false);
    a.plan(plan("2026-11-27"));
}

/// From Monday 16 November two lessons on every day, as planned; all that are due are given.
#[test]
fn halves_of_days_that_are_closed_put_nobody_behind_nor_does_the_afternoon_to_come() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let (lead, path) = (school.lead(), format!("/groups/{group}"));
    let slots: Vec<Value> = ["monday", "tuesday", "wednesday", "thursday", "friday"]
        .iter()
        .flat_map(|day| ["morning", "afternoon"].map(|part| json!({"weekday": day, "part": part})))
        .collect();
    let body = json!({"from": "2026-09-01", "slots": slots});
    lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    let plan = json!({"from": "2026-11-23", "lessons": 2, "days": 1});
    lead.call("PUT", &format!("{path}/pace-plan"), Some(&plan)).expect(200);
    for on in ["2026-11-23", "2026-11-24"] {
        lead.post("/closures", json!({"from": on, "kind": "closure", "part": "afternoon"})).expect(201);
    }
    let standing = || {
        let told = lead.get(&format!("{path}/pace")).expect(200)["standing"].clone();
        json!(["days", "planned", "finished", "lessons_ahead"].map(|name| told[name].clone()))
    };
    let log = |on: &str, slot: u8, n: usize| {
        let lesson = &lesson_ids(&content)[n];
        school.log_lesson(&lead, &group, on, lesson, "delivered", &json!({"slot": slot})).expect(201);
    };
    log("2026-11-23", 1, 0);
    log("2026-11-24", 1, 1);
    assert_eq!(standing(), json!([2, 2, 2, 0]));
    // Of today's two the morning's is given: the afternoon's is still to come.
    log("2026-11-25", 1, 2);
    assert_eq!(standing(), json!([3, 3, 3, 0]));
    log("2026-11-25", 2, 3);
    assert_eq!(standing(), json!([3, 4, 4, 0]));
}
