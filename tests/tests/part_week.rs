//! Pupils who come on certain weekdays only.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Pupils, School, Value, column, json, lesson_ids, text};

struct PartWeek {
    school: School,
    group: String,
    pupils: Pupils,
    lessons: Vec<String>,
}

impl PartWeek {
    /// A group of Max, who comes every day, and Zoe, who comes from Monday to Wednesday.
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        let made = Self { school, group, pupils, lessons: lesson_ids(&content) };
        let body = json!({"from": "2026-09-01", "weekdays": ["wednesday", "monday", "tuesday"]});
        made.set("Zoe", body).expect(200);
        made
    }

    fn set(&self, pupil: &str, body: Value) -> Answer {
        let path = format!("/groups/{}", self.group);
        let etag = self.school.lead().get(&path).etag();
        self.school.lead().put(&format!("{path}/members/{}/weekdays", self.pupils[pupil]), &etag, body)
    }

    /// Makes the members, from a day on, these.
    fn members_are(&self, from: &str, names: &[&str]) {
        let (lead, path) = (self.school.lead(), format!("/groups/{}", self.group));
        let pupils: Vec<&String> = names.iter().map(|name| &self.pupils[*name]).collect();
        let body = json!({"from": from, "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    }

    /// Name and weekdays of each member on a day.
    fn members(&self, on: &str) -> Value {
        let group = self.school.lead().get(&format!("/groups/{}?on={on}", self.group)).expect(200);
        let members = group["members"].as_array().unwrap().iter();
        members.map(|member| json!([member["name"], member["weekdays"]])).collect()
    }

    /// Records the lesson that stands `n`th; answers the register's pupils and marks, by name.
    fn lesson(&self, n: usize, on: &str, more: &Value) -> Vec<(String, String)> {
        let teacher = self.school.staff("teacher");
        let made = self
            .school
            .log_lesson(&teacher, &self.group, on, &self.lessons[n], "delivered", more)
            .expect(201);
        let name = |id: &str| self.pupils.iter().find(|(_, known)| *known == id).unwrap().0.clone();
        let register = made["register"].as_array().unwrap().iter();
        let mut lines: Vec<_> =
            register.map(|entry| (name(&text(&entry["pupil_id"])), text(&entry["mark"]))).collect();
        lines.sort();
        lines
    }
}

fn lines(lines: &[(&str, &str)]) -> Vec<(String, String)> {
    lines.iter().map(|(name, mark)| ((*name).to_owned(), (*mark).to_owned())).collect()
}

#[test]
fn a_lesson_on_another_weekday_is_neither_taught_nor_missed() {
    let part = PartWeek::new();
    // Thursday: not Zoe's day. Friday: not hers either, but she was there. Monday: both.
    assert_eq!(part.lesson(0, "2026-11-19", &json!({})), lines(&[("Max", "present")]));
    let there = json!({"register": [{"pupil_id": part.pupils["Zoe"], "mark": "present"}]});
    assert_eq!(part.lesson(1, "2026-11-20", &there), lines(&[("Max", "present"), ("Zoe", "present")]));
    assert_eq!(part.lesson(2, "2026-11-23", &json!({})), lines(&[("Max", "present"), ("Zoe", "present")]));
    let lead = part.school.lead();
    let coverage = lead.get(&format!("/groups/{}/coverage", part.group)).expect(200);
    let items = coverage["items"].as_array().unwrap().iter();
    let taught: Vec<Value> =
        items.map(|item| json!([item["label"], item["taught"], item["missed_by"]])).collect();
    // m and o were Thursday's, d and "the" Friday's, e Monday's.
    assert_eq!(taught.iter().map(|line| line[1].clone()).collect::<Vec<_>>(), [1, 1, 2, 2, 2]);
    assert!(taught.iter().all(|line| line[2] == json!([])), "{taught:?}");
    assert_eq!(coverage["missed"], json!([]));
    // GPCs that count: of Max m, o, d, e; of Zoe d and e.
    let report = lead.get("/reports/attainment").expect(200);
    assert_eq!(report["school"]["gpcs"]["taught"], 6);
}

#[test]
fn an_absence_on_ones_own_day_is_missed() {
    let part = PartWeek::new();
    let absent = json!({"register": [{"pupil_id": part.pupils["Zoe"], "mark": "absent"}]});
    assert_eq!(part.lesson(0, "2026-11-23", &absent), lines(&[("Max", "present"), ("Zoe", "absent")]));
    let coverage = part.school.lead().get(&format!("/groups/{}/coverage", part.group)).expect(200);
    assert_eq!(column(&coverage["missed"], "name"), ["Zoe Bell"]);
}

#[test]
fn the_days_count_from_a_day_on() {
    let part = PartWeek::new();
    let early = json!([["Max Bell", null], ["Zoe Bell", ["monday", "tuesday", "wednesday"]]]);
    let set = part.set("Zoe", json!({"from": "2026-11-20", "weekdays": null})).expect(200);
    assert_eq!((&set["on"], &set["members"][1]["weekdays"]), (&json!("2026-11-20"), &Value::Null));
    assert_eq!(part.members("2026-11-19"), early);
    assert_eq!(part.members("2026-11-20"), json!([["Max Bell", null], ["Zoe Bell", null]]));
    assert_eq!(part.lesson(0, "2026-11-19", &json!({})), lines(&[("Max", "present")]));
    assert_eq!(part.lesson(1, "2026-11-20", &json!({})), lines(&[("Max", "present"), ("Zoe", "present")]));
    // Said again from before, what was said of later days is gone.
    part.set("Zoe", json!({"from": "2026-09-01", "weekdays": ["friday"]})).expect(200);
    assert_eq!(part.members("2026-11-20")[1], json!(["Zoe Bell", ["friday"]]));
}

#[test]
fn a_mistake_put_right_leaves_them_as_they_were() {
    let part = PartWeek::new();
    let days = json!(["Zoe Bell", ["monday", "tuesday", "wednesday"]]);
    // Left out from 1 December and put back: Zoe was never away.
    part.members_are("2026-12-01", &["Max"]);
    part.members_are("2026-12-01", &["Zoe", "Max"]);
    assert_eq!(part.members("2026-12-01")[1], days);
    // The two stretches are one time in the group: what is said from before counts in both.
    part.set("Zoe", json!({"from": "2026-11-02", "weekdays": ["friday"]})).expect(200);
    for on in ["2026-11-02", "2026-11-30", "2026-12-01"] {
        assert_eq!(part.members(on)[1], json!(["Zoe Bell", ["friday"]]), "{on}");
    }
}

#[test]
fn they_follow_the_child_from_one_record_to_another_and_back() {
    let part = PartWeek::new();
    let lead = part.school.lead();
    let twice = lead.post("/pupils", json!({"given_name": "Zoe", "family_name": "Bell"})).expect(201);
    let same = json!({"verdict": "same", "pupil_id": twice["id"], "other_id": part.pupils["Zoe"]});
    let decided = lead.post("/pupil-decisions", same).expect(201);
    let group = || lead.get(&format!("/groups/{}", part.group)).expect(200)["members"][1].clone();
    let days = json!(["monday", "tuesday", "wednesday"]);
    assert_eq!((&group()["id"], &group()["weekdays"]), (&twice["id"], &days));
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.clone().with("If-Match", &text(&decided["etag"])).call("DELETE", &path, None).expect(204);
    assert_eq!((&group()["id"], &group()["weekdays"]), (&json!(part.pupils["Zoe"]), &days));
}

#[test]
fn what_is_said_of_days_before_the_first_counts_from_the_first() {
    let part = PartWeek::new();
    let set = part.set("Zoe", json!({"from": "2020-01-06", "weekdays": ["thursday"]})).expect(200);
    assert_eq!((&set["on"], &set["members"][1]["weekdays"]), (&json!("2026-09-01"), &json!(["thursday"])));
}

#[test]
fn who_leaves_and_comes_again_comes_every_day_until_something_is_said() {
    let part = PartWeek::new();
    let (both, max) = (["Zoe", "Max"], ["Max"]);
    let days = json!(["monday", "tuesday", "wednesday"]);
    part.members_are("2026-11-23", &max);
    part.members_are("2026-11-25", &both);
    assert_eq!(part.members("2026-11-20")[1], json!(["Zoe Bell", days]));
    assert_eq!(part.members("2026-11-25")[1], json!(["Zoe Bell", null]));
    // What was said of a day that was never reached goes too.
    part.set("Zoe", json!({"from": "2026-12-07", "weekdays": ["friday"]})).expect(200);
    part.members_are("2026-11-30", &max);
    part.members_are("2026-12-01", &both);
    assert_eq!(part.members("2026-12-11")[1], json!(["Zoe Bell", null]));
    // Said for the days until the 29th, it is not said for those from 1 December on.
    part.set("Zoe", json!({"from": "2026-11-26", "weekdays": ["monday"]})).expect(200);
    let on = |day: &str| part.members(day)[1][1].clone();
    assert_eq!(
        [on("2026-11-25"), on("2026-11-27"), on("2026-12-01")],
        [json!(null), json!(["monday"]), json!(null)]
    );
    // Said of a time away it counts from the first day back.
    part.set("Zoe", json!({"from": "2026-11-30", "weekdays": ["tuesday"]})).expect(200);
    assert_eq!([on("2026-11-27"), on("2026-12-01")], [json!(["monday"]), json!(["tuesday"])]);
    // Named again, a member stays and so do the weekdays.
    part.members_are("2026-12-14", &both);
    assert_eq!(on("2026-12-14"), json!(["tuesday"]));
}

#[test]
fn where_both_records_were_in_the_group_the_kept_ones_days_count() {
    let part = PartWeek::new();
    let lead = part.school.lead();
    let path = format!("/groups/{}", part.group);
    let twice = text(&lead.post("/pupils", json!({"given_name": "Zoe"})).expect(201)["id"]);
    // The other record is in the group from 2 November on, every day.
    let pupils = json!([part.pupils["Zoe"], part.pupils["Max"], twice]);
    let body = json!({"from": "2026-11-02", "pupil_ids": pupils});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    let same = json!({"verdict": "same", "pupil_id": twice, "other_id": part.pupils["Zoe"]});
    let decided = lead.post("/pupil-decisions", same).expect(201);
    let days = json!(["monday", "tuesday", "wednesday"]);
    let on = |day: &str| {
        let group = lead.get(&format!("{path}?on={day}")).expect(200);
        let members = group["members"].as_array().unwrap().clone();
        let zoe = members.iter().find(|member| text(&member["name"]).starts_with("Zoe"));
        (zoe.unwrap()["id"].clone(), zoe.unwrap()["weekdays"].clone())
    };
    assert_eq!(on("2026-10-30"), (json!(twice), days.clone()));
    assert_eq!(on("2026-11-02"), (json!(twice), Value::Null));
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.with("If-Match", &text(&decided["etag"])).call("DELETE", &path, None).expect(204);
    assert_eq!(on("2026-10-30"), (json!(part.pupils["Zoe"]), days));
}

#[test]
fn a_day_on_which_none_of_the_group_comes_is_not_due() {
    let part = PartWeek::new();
    let lead = part.school.lead();
    part.members_are("2026-11-16", &["Zoe"]);
    let week = "from=2026-11-16&to=2026-11-21";
    let days = lead.get(&format!("/teaching-days?{week}&group_id={}", part.group)).expect(200);
    assert_eq!(
        column(&days["days"], "kind"),
        ["teaching", "teaching", "teaching", "not_due", "not_due", "weekend"]
    );
    assert_eq!((&days["teaching_days"], &days["teaching_half_days"]), (&json!(3), &json!(6)));
    let due = |group: &str| {
        let due = lead.get(&format!("/groups/{group}/sessions?{week}")).expect(200);
        column(&due["items"], "on")
    };
    assert_eq!(due(&part.group), ["2026-11-16", "2026-11-17", "2026-11-18"]);
    // A lesson on Thursday is kept, with a word.
    let teacher = part.school.staff("teacher");
    let log = part.school.log_lesson(
        &teacher,
        &part.group,
        "2026-11-19",
        &part.lessons[0],
        "delivered",
        &json!({}),
    );
    assert_eq!(log.expect(201)["warnings"], json!(["nobody_comes"]));
    // Without any pupils no lesson is due, whatever the school does.
    let sequence = text(&lead.get("/sequences").expect(200)["items"][0]["id"]);
    let empty = part.school.group("Birch", &sequence, &[]);
    assert_eq!(due(&empty), [""; 0]);
    let days = lead.get(&format!("/teaching-days?{week}&group_id={empty}")).expect(200);
    assert_eq!(days["teaching_days"], 5);
}

#[test]
fn what_is_said_of_days_to_come_is_back_when_a_rollover_is_taken_back() {
    let part = PartWeek::new();
    let lead = part.school.lead();
    let year = json!({"starts_on": "2027-09-01", "ends_on": "2028-08-31",
                      "half_terms": [{"name": "Autumn", "starts_on": "2027-09-01", "ends_on": "2027-12-17"}]});
    lead.call("PUT", "/school-years/2027", Some(&year)).expect(200);
    part.set("Zoe", json!({"from": "2027-09-06", "weekdays": ["friday"]})).expect(200);
    let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
    let choices = json!({"classes": [{"class_id": class, "leaves": true}], "pupils": [],
                         "groups_ending": [part.group], "adults": []});
    let act = |what: &str, etag: &str| {
        lead.with("If-Match", etag).call("POST", &format!("/rollovers/2027/{what}"), None)
    };
    let planned = lead.call("PUT", "/rollovers/2027", Some(&choices));
    planned.expect(200);
    let applied = act("apply", &planned.etag());
    assert_eq!(applied.expect(200)["leaving"], 2);
    assert_eq!(part.members("2027-09-10"), json!([]));
    act("undo", &applied.etag()).expect(200);
    assert_eq!(part.members("2027-09-10")[1], json!(["Zoe Bell", ["friday"]]));
}

#[test]
fn what_is_no_weekday_or_no_member_is_refused() {
    let part = PartWeek::new();
    let none = part.set("Zoe", json!({"weekdays": []})).problem(422, "invalid");
    assert_eq!(none, ["weekdays: names no day; null is for every day"]);
    part.set("Zoe", json!({"weekdays": ["someday"]})).problem(422, "invalid");
    part.set("Zoe", json!({"from": "2026-11-25"})).problem(422, "invalid");
    let lead = part.school.lead();
    let path = format!("/groups/{}", part.group);
    let ida = text(&lead.post("/pupils", json!({"given_name": "Ida"})).expect(201)["id"]);
    let etag = lead.get(&path).etag();
    let body = json!({"weekdays": ["monday"]});
    let refused =
        lead.put(&format!("{path}/members/{ida}/weekdays"), &etag, body.clone()).problem(422, "invalid");
    assert_eq!(refused, ["pupil_id: is not in this group on that day or later"]);
    let path = format!("{path}/members/{}/weekdays", part.pupils["Zoe"]);
    lead.call("PUT", &path, Some(&body)).problem(428, "precondition_required");
    lead.put(&path, "\"v1\"", body).problem(412, "stale");
}

#[test]
fn who_is_marked_absent_on_another_weekday_missed_nothing() {
    let part = PartWeek::new();
    let teacher = part.school.staff("teacher");
    let absent = json!({"register": [{"pupil_id": part.pupils["Zoe"], "mark": "absent"}]});
    // Thursday is not Zoe's day: the mark is not kept, and the answer says so.
    let thursday =
        part.school.log_lesson(&teacher, &part.group, "2026-11-19", &part.lessons[0], "delivered", &absent);
    let made = thursday.expect(201);
    assert_eq!(made["warnings"], json!(["absent_not_expected"]));
    assert_eq!(column(&made["register"], "pupil_id"), [part.pupils["Max"].clone()]);
    let missed = || {
        let coverage = part.school.lead().get(&format!("/groups/{}/coverage", part.group)).expect(200);
        let open = part.school.lead().get(&format!("/groups/{}/catch-up", part.group)).expect(200);
        (column(&coverage["missed"], "name"), column(&open["pupils"], "name"))
    };
    assert_eq!(missed(), (vec![], vec![]));
    // A Monday is hers; said afterwards that it was not, it is no miss any more, and a miss again when that was wrong.
    part.lesson(1, "2026-11-16", &absent);
    assert_eq!(missed(), (vec!["Zoe Bell".into()], vec!["Zoe Bell".into()]));
    part.set("Zoe", json!({"from": "2026-11-16", "weekdays": ["friday"]})).expect(200);
    assert_eq!(missed(), (vec![], vec![]));
    part.set("Zoe", json!({"from": "2026-11-16", "weekdays": null})).expect(200);
    assert_eq!(missed().0, ["Zoe Bell"]);
    let zoe = part.school.lead().get(&format!("/pupils/{}/coverage", part.pupils["Zoe"])).expect(200);
    assert_eq!(zoe["items"].as_array().unwrap().iter().filter(|one| !one["missed_on"].is_null()).count(), 2);
}

#[test]
fn a_nursery_child_comes_five_mornings() {
    let part = PartWeek::new();
    let (lead, path) = (part.school.lead(), format!("/groups/{}", part.group));
    let slot = |weekday: &str, half: &str| json!({"weekday": weekday, "part": half});
    let slots = json!([slot("monday", "morning"), slot("monday", "afternoon")]);
    let body = json!({"from": "2026-09-01", "slots": slots});
    lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    let week = json!(["monday", "tuesday", "wednesday", "thursday", "friday"]);
    let mornings = json!({"from": "2026-09-01", "weekdays": week, "mornings_only": week});
    let set = part.set("Zoe", mornings).expect(200);
    let zoe = &set["members"][1];
    assert_eq!(
        (&zoe["weekdays"], &zoe["mornings_only"], &zoe["afternoons_only"]),
        (&week, &week, &json!([]))
    );
    let both = lines(&[("Max", "present"), ("Zoe", "present")]);
    assert_eq!(part.lesson(0, "2026-11-23", &json!({})), both);
    // The afternoon's lesson is not hers: neither taught nor missed.
    assert_eq!(part.lesson(1, "2026-11-23", &json!({"slot": 2})), lines(&[("Max", "present")]));
    let coverage = lead.get(&format!("{path}/coverage")).expect(200);
    let taught = coverage["items"].as_array().unwrap().iter().map(|item| item["taught"].clone());
    assert_eq!(taught.collect::<Vec<_>>(), [2, 2, 1, 1]);
    assert_eq!(coverage["missed"], json!([]));
    // The cover page says who comes to which lesson.
    let page = lead.get(&format!("{path}/cover-page?on=2026-11-30")).expect(200);
    let comes: Vec<Value> = page["members"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| json!([one["name"], one["slots"], one["only"]]))
        .collect();
    assert_eq!(comes, [json!(["Max Bell", [1, 2], null]), json!(["Zoe Bell", [1], "morning"])]);
    let sheet = lead.get(&format!("{path}/cover-page?on=2026-11-30&format=html")).text;
    assert!(sheet.contains("Zoe Bell, morning only") && sheet.contains(">Max Bell<"), "{sheet}");
    // A tablet holds the halves.
    let mut tablet = part.school.replica("teacher");
    tablet.pull(500);
    let held = tablet.of("group_member");
    let zoe = held.values().find(|one| one["pupil_id"] == *part.pupils["Zoe"]).unwrap();
    assert_eq!(
        (&zoe["weekdays"], &zoe["mornings_only"], &zoe["afternoons_only"]),
        (&week, &week, &json!([]))
    );
    // With her alone no afternoon is due.
    part.members_are("2026-11-24", &["Zoe"]);
    part.set("Zoe", json!({"from": "2026-11-24", "weekdays": week, "mornings_only": week})).expect(200);
    let due = lead.get(&format!("{path}/sessions?from=2026-11-30&to=2026-11-30")).expect(200);
    assert_eq!(column(&due["items"], "part"), ["morning"]);
    for (body, message) in [
        (
            json!({"weekdays": ["monday"], "mornings_only": ["friday"]}),
            "mornings_only: names friday, which is none of the weekdays",
        ),
        (
            json!({"weekdays": ["monday"], "mornings_only": ["monday"], "afternoons_only": ["monday"]}),
            "afternoons_only: names monday, as mornings_only does: leave both out for the whole day",
        ),
        (
            json!({"weekdays": null, "afternoons_only": ["monday"]}),
            "afternoons_only: needs the weekdays named",
        ),
    ] {
        assert_eq!(part.set("Zoe", body).problem(422, "invalid"), [message]);
    }
}
