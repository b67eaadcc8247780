//! Sets for catch-up from what is open and the adults there are; and what part-week pupils missed.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, Pupils, School, TODAY, Value, item_ids, json, lesson_ids, text};

/// A school with a sequence, some pupils and groups of them.
struct World {
    school: School,
    sequence: String,
    content: Value,
    pupils: Pupils,
}

impl World {
    fn new(names: &[&str]) -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&names.iter().map(|name| (*name, "Alder")).collect::<Vec<_>>());
        Self { school, sequence, content, pupils }
    }

    /// A group of some pupils, taught by the teacher and these.
    fn group(&self, name: &str, pupils: &[&str], adults: &[&str]) -> String {
        let ids: Vec<&String> = pupils.iter().map(|name| &self.pupils[*name]).collect();
        let group = self.school.group(name, &self.sequence, &ids);
        let adult = |key: &&str| json!({"staff_id": self.school.staff_id(key), "from": "2026-09-01"});
        let (lead, path) = (self.school.lead(), format!("/groups/{group}"));
        let body = json!({"adults": adults.iter().map(adult).collect::<Vec<_>>()});
        lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), body).expect(200);
        group
    }

    /// Records the lesson that stands `n`th, without some.
    fn lesson(&self, group: &str, n: usize, on: &str, absent: &[&str]) {
        let register: Vec<Value> =
            absent.iter().map(|name| json!({"pupil_id": self.pupils[*name], "mark": "absent"})).collect();
        let (lesson, more) = (&lesson_ids(&self.content)[n], json!({"register": register}));
        self.school.log_lesson(&self.school.lead(), group, on, lesson, "delivered", &more).expect(201);
    }

    /// Says on which weekdays a pupil comes to a group.
    fn comes(&self, group: &str, pupil: &str, weekdays: &[&str]) {
        let (lead, path) = (self.school.lead(), format!("/groups/{group}"));
        let body = json!({"from": "2026-09-01", "weekdays": weekdays});
        let days = format!("{path}/members/{}/weekdays", self.pupils[pupil]);
        lead.put(&days, &lead.get(&path).etag(), body).expect(200);
    }

    /// Asks for sets; adults as key and minutes.
    fn ask(&self, who: &Client, on: &str, adults: &[(&str, u16)], more: &Value) -> Answer {
        let adult =
            |(key, minutes): &(&str, u16)| json!({"staff_id": self.school.staff_id(key), "minutes": minutes});
        let mut body = json!({"on": on, "adults": adults.iter().map(adult).collect::<Vec<_>>()});
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        who.post("/catch-up-plans", body)
    }

    /// What is open for a pupil: label and first day missed.
    fn open(&self, group: &str, pupil: &str) -> Vec<(String, String)> {
        let list = self.school.lead().get(&format!("/groups/{group}/catch-up")).expect(200);
        let pupils = list["pupils"].as_array().unwrap();
        let Some(found) = pupils.iter().find(|line| line["pupil_id"] == self.pupils[pupil]) else {
            return vec![];
        };
        let label = |id: &Value| {
            let items = list["items"].as_array().unwrap();
            text(&items.iter().find(|item| item["item_id"] == *id).unwrap()["label"])
        };
        let open = found["items"].as_array().unwrap().iter();
        open.map(|line| (label(&line["item_id"]), text(&line["missed_on"]))).collect()
    }
}

/// Given names in a list, each in front of whatever tells it apart.
fn names(list: &Value) -> String {
    let name = |pupil: &Value| {
        let apart = pupil["apart"].as_str().map(|apart| format!("({apart})")).unwrap_or_default();
        text(&pupil["name"]).split(' ').next().unwrap().to_owned() + &apart
    };
    list.as_array().unwrap().iter().map(name).collect::<Vec<_>>().join(" ")
}

/// Labels in a list, without the sounds.
fn labels(list: &Value) -> String {
    let label = |item: &Value| text(&item["label"]).split(' ').next().unwrap().to_owned();
    list.as_array().unwrap().iter().map(label).collect::<Vec<_>>().join(" ")
}

/// Sets as `adult minutes: pupils / items`, and what is left as `pupil: items why`.
fn told(plan: &Value) -> (Vec<String>, Vec<String>) {
    let set = |set: &Value| {
        let adult = text(&set["staff_name"]).replace(" person", "");
        format!("{adult} {}: {} / {}", set["minutes"], names(&set["pupils"]), labels(&set["items"]))
    };
    let left = |left: &Value| {
        let name = names(&json!([left["pupil"]]));
        format!("{name}: {} {}", labels(&left["items"]), text(&left["why"]))
    };
    let list =
        |field: &str, of: &dyn Fn(&Value) -> String| plan[field].as_array().unwrap().iter().map(of).collect();
    (list("sets", &set), list("left", &left))
}

#[test]
fn pupils_who_missed_the_same_are_taught_together_by_an_adult_of_theirs() {
    let w = World::new(&["Max", "Zoe", "Ida", "Ben"]);
    let alder = w.group("Alder", &["Max", "Zoe", "Ida"], &["teacher"]);
    let birch = w.group("Birch", &["Ben"], &["assistant"]);
    w.lesson(&alder, 0, "2026-11-19", &["Max", "Zoe"]);
    w.lesson(&alder, 1, "2026-11-20", &["Zoe", "Ida"]);
    w.lesson(&birch, 0, "2026-11-20", &["Ben"]);
    let lead = w.school.lead();
    let none = json!({});
    // Zoe needs m, o, d and "the". With Max she shares m and o, with Ida d and "the": four needs either way,
    // m and o open longer. Zoe has her place then; of what is left Ida's is d and "the", 6 of 24 minutes,
    // and Zoe's own come after everybody has had one.
    let plan = w.ask(&lead, TODAY, &[("teacher", 18), ("assistant", 5)], &none).expect(200);
    let (sets, left) = told(&plan);
    assert_eq!(
        sets,
        [
            "teacher 6: Max Zoe / m o",
            "teacher 6: Ida / d the",
            "assistant 3: Ben / m",
            "teacher 6: Zoe / d the"
        ]
    );
    assert_eq!(left, ["Ben: o no_time"]);
    // Why: who shares which need, and since when.
    let m = &plan["sets"][0]["items"][0];
    let mut shared: Vec<Value> = m["needed_by"].as_array().unwrap().clone();
    shared.sort_by_key(|one| one["pupil_id"] != w.pupils["Max"]);
    let need = |name: &str| json!({"pupil_id": w.pupils[name], "missed_on": "2026-11-19", "again": false});
    assert_eq!(shared, [need("Max"), need("Zoe")]);
    // Without anybody of Birch, Ben has no adult; the lead may send the teacher there.
    let plan = w.ask(&lead, TODAY, &[("teacher", 24)], &none).expect(200);
    assert_eq!(told(&plan).1, ["Ben: m o no_adult"]);
    let adults =
        json!([{"staff_id": w.school.staff_id("teacher"), "minutes": 24, "also_group_ids": [birch]}]);
    let sent = lead.post("/catch-up-plans", json!({"on": TODAY, "adults": adults})).expect(200);
    assert_eq!(told(&sent).1, [""; 0]);
    // Max, Zoe and Ben need m and o: six needs in one set.
    assert_eq!(told(&sent).0[0], "teacher 6: Max Zoe Ben / m o");
    // Nothing was stored: what is taught is recorded as catch-up, and then it waits for a check.
    assert_eq!(w.open(&alder, "Max").len(), 2);
    let body = json!({"on": TODAY, "items": item_ids(&w.content, 0), "pupil_ids": [w.pupils["Max"], w.pupils["Zoe"]]});
    w.school.staff("teacher").post(&format!("/groups/{alder}/catch-up-records"), body).expect(201);
    let plan = w.ask(&lead, TODAY, &[("teacher", 30)], &json!({"group_ids": [alder]})).expect(200);
    assert_eq!(told(&plan), (vec!["teacher 6: Ida Zoe / d the".to_owned()], vec![]));
}

#[test]
fn teachers_and_assistants_plan_for_their_own_groups() {
    let w = World::new(&["Max", "Ben"]);
    let alder = w.group("Alder", &["Max"], &["teacher", "assistant"]);
    let birch = w.group("Birch", &["Ben"], &["teacher:2"]);
    w.lesson(&alder, 0, "2026-11-19", &["Max"]);
    w.lesson(&birch, 0, "2026-11-20", &["Ben"]);
    for key in ["teacher", "assistant"] {
        let plan = w.ask(&w.school.staff(key), TODAY, &[("teacher", 10), ("teacher:2", 10)], &json!({}));
        assert_eq!(told(&plan.expect(200)), (vec!["teacher 6: Max / m o".to_owned()], vec![]), "{key}");
    }
    let teacher = w.school.staff("teacher");
    let other = w.ask(&teacher, TODAY, &[("teacher", 10)], &json!({"group_ids": [alder, birch]}));
    assert_eq!(other.problem(422, "invalid"), ["group_ids[1]: is not a group whose checks you may read"]);
    let adults =
        json!([{"staff_id": w.school.staff_id("teacher:2"), "minutes": 9, "also_group_ids": [alder]}]);
    teacher.post("/catch-up-plans", json!({"on": TODAY, "adults": adults})).problem(403, "forbidden");
    // The reading is in the log.
    let log = w.school.staff("administrator").get("/audit-entries?limit=1").expect(200);
    assert_eq!(log["items"][0]["operation"], "catch_up.plan");
}

#[test]
fn what_cannot_be_planned_is_refused_with_its_field() {
    let w = World::new(&["Max"]);
    let alder = w.group("Alder", &["Max"], &["teacher"]);
    let lead = w.school.lead();
    let teacher = w.school.staff_id("teacher");
    let refused = |adults: Value, groups: Value| {
        let body = json!({"on": TODAY, "adults": adults, "group_ids": groups});
        lead.post("/catch-up-plans", body).problem(422, "invalid")
    };
    let one = |minutes: u16, also: &[&String]| json!([{"staff_id": teacher, "minutes": minutes, "also_group_ids": also}]);
    assert_eq!(refused(json!([]), Value::Null), ["adults: give 1 to 100 adults"]);
    assert_eq!(refused(one(0, &[]), Value::Null), ["adults[0].minutes: must be 1 to 600"]);
    assert_eq!(refused(one(601, &[]), Value::Null), ["adults[0].minutes: must be 1 to 600"]);
    let twice = json!([{"staff_id": teacher, "minutes": 9}, {"staff_id": teacher, "minutes": 9}]);
    let one_place = "adults[1].staff_id: this adult stands twice: say all the minutes at one place";
    assert_eq!(refused(twice, Value::Null), [one_place]);
    let stranger = json!([{"staff_id": alder, "minutes": 10}]);
    assert_eq!(refused(stranger, Value::Null), ["adults[0].staff_id: is not of this school's staff"]);
    assert_eq!(refused(one(9, &[]), json!([alder, alder])), ["group_ids[1]: this group stands twice"]);
    assert_eq!(
        refused(one(9, &[]), json!([teacher])),
        ["group_ids[0]: is not a group whose checks you may read"]
    );
    assert_eq!(
        refused(one(9, &[&teacher]), json!([alder])),
        ["adults[0].also_group_ids[0]: is not a group of this plan"]
    );
}

#[test]
fn namesakes_are_told_apart() {
    let w = World::new(&["Max"]);
    let lead = w.school.lead();
    let add = |born: &str| {
        let body = json!({"given_name": "Ida", "family_name": "Bell", "date_of_birth": born});
        text(&lead.post("/pupils", body).expect(201)["id"])
    };
    let idas = [add("2020-05-31"), add("2020-06-01")];
    let group = w.group("Alder", &["Max"], &["teacher"]);
    let path = format!("/groups/{group}");
    let body = json!({"from": "2026-09-01", "pupil_ids": idas});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    let register: Vec<Value> = idas.iter().map(|id| json!({"pupil_id": id, "mark": "absent"})).collect();
    let (lesson, more) = (&lesson_ids(&w.content)[0], json!({"register": register}));
    w.school.log_lesson(&lead, &group, "2026-11-19", lesson, "delivered", &more).expect(201);
    let plan = w.ask(&lead, TODAY, &[("teacher", 10)], &json!({})).expect(200);
    let mut shown: Vec<String> =
        plan["sets"][0]["pupils"].as_array().unwrap().iter().map(|p| text(&p["apart"])).collect();
    shown.sort();
    assert_eq!(shown, ["1 June", "31 May"]);
}

#[test]
fn a_pupil_of_two_classes_missed_what_was_taught_on_the_days_there() {
    // Zoe is in A from Monday to Wednesday and in B on Thursday and Friday.
    let w = World::new(&["Zoe", "Max"]);
    let (a, b) = (w.group("A", &["Zoe", "Max"], &["teacher"]), w.group("B", &["Zoe"], &["assistant"]));
    w.comes(&a, "Zoe", &["monday", "tuesday", "wednesday"]);
    w.comes(&b, "Zoe", &["thursday", "friday"]);
    // On Thursday A is taught m and o without Zoe's being due, and B with her. On Friday she misses e in B,
    // on Monday d and "the" in A, and on Tuesday B is taught those without her being due.
    w.lesson(&a, 0, "2026-11-19", &[]);
    w.lesson(&b, 0, "2026-11-19", &[]);
    w.lesson(&b, 2, "2026-11-20", &["Zoe"]);
    w.lesson(&a, 1, "2026-11-23", &["Zoe"]);
    w.lesson(&b, 1, "2026-11-24", &[]);
    let open = [("e /e/", "2026-11-20"), ("d /d/", "2026-11-23"), ("the", "2026-11-23")];
    let open: Vec<_> = open.iter().map(|(label, on)| ((*label).to_owned(), (*on).to_owned())).collect();
    assert_eq!((w.open(&a, "Zoe"), w.open(&b, "Zoe")), (open.clone(), open));
    // Either adult may take her, on whatever day she is in one of the groups; once, not twice.
    let plan = w.ask(&w.school.lead(), TODAY, &[("teacher", 10), ("assistant", 10)], &json!({})).expect(200);
    assert_eq!(told(&plan), (vec!["teacher 9: Zoe / e d the".to_owned()], vec![]));
    // In A she is caught up on what she missed in B, though A was not taught it.
    let body = json!({"on": "2026-11-24", "items": item_ids(&w.content, 2), "pupil_ids": [w.pupils["Zoe"]]});
    w.school.staff("teacher").post(&format!("/groups/{a}/catch-up-records"), body).expect(201);
    let plan = w.ask(&w.school.lead(), TODAY, &[("assistant", 10)], &json!({"group_ids": [b]})).expect(200);
    // Wednesday is a day of A: of B's pupils she is not in.
    assert_eq!(told(&plan), (vec![], vec!["Zoe: d the not_in".to_owned()]));
    // On a weekday that is not hers she may be caught up all the same, where she was there.
    let body = json!({"on": "2026-11-24", "items": item_ids(&w.content, 1), "pupil_ids": [w.pupils["Zoe"]]});
    w.school.staff("assistant").post(&format!("/groups/{b}/catch-up-records"), body).expect(201);
    let list = w.school.lead().get(&format!("/groups/{b}/catch-up")).expect(200);
    let stages: Vec<&Value> =
        list["pupils"][0]["items"].as_array().unwrap().iter().map(|l| &l["stage"]).collect();
    assert_eq!(stages, ["to_check", "to_check", "to_check"]);
}

#[test]
fn a_part_time_child_missed_only_sessions_it_was_due_at() {
    let w = World::new(&["Zoe", "Max"]);
    let group = w.group("Oak", &["Zoe", "Max"], &["teacher"]);
    w.comes(&group, "Zoe", &["monday", "tuesday"]);
    // Thursday: not due. Monday: there. Tuesday: due and away. Wednesday: not due.
    w.lesson(&group, 0, "2026-11-19", &[]);
    w.lesson(&group, 1, "2026-11-23", &[]);
    w.lesson(&group, 2, "2026-11-24", &["Zoe"]);
    w.lesson(&group, 3, TODAY, &["Max"]);
    assert_eq!(w.open(&group, "Zoe"), [("e /e/".to_owned(), "2026-11-24".to_owned())]);
    assert_eq!(w.open(&group, "Max"), [("n /n/".to_owned(), TODAY.to_owned())]);
    let lead = w.school.lead();
    let on = |day: &str| told(&w.ask(&lead, day, &[("teacher", 10)], &json!({})).expect(200));
    // On Wednesday Zoe is not in; next Monday she is.
    assert_eq!(on(TODAY), (vec!["teacher 3: Max / n".to_owned()], vec!["Zoe: e not_in".to_owned()]));
    assert_eq!(
        on("2026-11-30"),
        (vec!["teacher 3: Zoe / e".to_owned(), "teacher 3: Max / n".to_owned()], vec![])
    );
    // In the report count, of GPCs, Max's m, o, d, e and n, and Zoe's d and e. What she is taught in
    // catch-up of a day that was not hers counts from then on.
    let pairs = || lead.get("/reports/attainment").expect(200)["school"]["gpcs"]["taught"].clone();
    assert_eq!(pairs(), 7);
    let body = json!({"on": TODAY, "items": item_ids(&w.content, 0)[..1], "pupil_ids": [w.pupils["Zoe"]]});
    lead.post(&format!("/groups/{group}/catch-up-records"), body).expect(201);
    assert_eq!(pairs(), 8);
}

#[test]
fn a_day_that_is_taught_to_none_of_the_groups_is_told() {
    let w = World::new(&["Zoe", "Max"]);
    let alder = w.group("Alder", &["Zoe"], &[]);
    let birch = w.group("Birch", &["Max"], &[]);
    w.comes(&alder, "Zoe", &["monday"]);
    let lead = w.school.lead();
    lead.post("/closures", json!({"from": "2026-11-27", "kind": "inset"})).expect(201);
    let warnings = |on: &str, groups: &[&str]| {
        let more = json!({"group_ids": groups});
        w.ask(&lead, on, &[("teacher", 20)], &more).expect(200)["warnings"].clone()
    };
    assert_eq!(warnings("2026-11-26", &[&alder, &birch]), json!([]), "taught to one of them");
    assert_eq!(warnings("2026-11-26", &[&alder]), json!(["nobody_comes"]));
    assert_eq!(warnings("2026-11-27", &[&alder, &birch]), json!(["on_closed_day"]));
    assert_eq!(warnings("2026-11-28", &[&birch]), json!(["on_weekend"]));
    let out = w.ask(&lead, "2027-09-01", &[("teacher", 20)], &json!({})).problem(422, "invalid");
    assert_eq!(out, ["on: 2027-09-01 is in no school year of the calendar"]);
}

#[test]
fn whoever_reads_what_a_child_missed_is_in_the_log() {
    let w = World::new(&["Zoe", "Max"]);
    let group = format!("/groups/{}", w.group("Alder", &["Zoe", "Max"], &[]));
    w.lesson(&group["/groups/".len()..], 0, "2026-11-19", &["Max"]);
    let body = json!({"on": TODAY, "items": item_ids(&w.content, 0), "pupil_ids": [w.pupils["Max"]]});
    let lead = w.school.lead();
    let made = lead.post(&format!("{group}/catch-up-records"), body).expect(201);
    let record = format!("/catch-up-records/{}", text(&made["id"]));
    let reads = [
        (format!("{group}/catch-up-records"), "group.read_catch_up_records"),
        (record.clone(), "catch_up.read"),
        (format!("{record}/history"), "catch_up.read_history"),
        (format!("{group}/coverage"), "group.read_coverage"),
    ];
    let administrator = w.school.staff("administrator");
    for (path, operation) in reads {
        lead.get(&path).expect(200);
        let log = administrator.get("/audit-entries?limit=1").expect(200);
        let entry = &log["items"][0];
        assert_eq!(
            (&entry["operation"], &entry["subject_kind"]),
            (&json!(operation), &json!("group")),
            "{path}"
        );
    }
}
