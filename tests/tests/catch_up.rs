//! What was missed: catch-up records, and the list that stays open until taught and answered right.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{
    Answer, Client, Pupils, School, TODAY, Value, column, item_ids, json, lesson_ids, text,
};

/// A check's id with its items'.
type Asked = (String, Vec<String>);

/// A school with a group of two, taught m and o on Thursday the 19th of November without Max.
struct Alder {
    school: School,
    sequence: String,
    content: Value,
    pupils: Pupils,
    group: String,
}

impl Alder {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        let made = Self { school, sequence, content, pupils, group };
        made.lesson(0, "2026-11-19", "delivered", &["Max"]);
        made
    }

    fn teacher(&self) -> Client {
        self.school.staff("teacher")
    }

    /// Records the lesson that stands `n`th, without some.
    fn lesson(&self, n: usize, on: &str, outcome: &str, absent: &[&str]) -> Value {
        let register: Vec<Value> =
            absent.iter().map(|name| json!({"pupil_id": self.pupils[*name], "mark": "absent"})).collect();
        let (lesson, more) = (&lesson_ids(&self.content)[n], json!({"register": register}));
        self.school.log_lesson(&self.teacher(), &self.group, on, lesson, outcome, &more).expect(201)
    }

    fn catch_up(&self, on: &str, items: &[String], pupils: &[&str]) -> Answer {
        let pupils: Vec<&String> = pupils.iter().map(|name| &self.pupils[*name]).collect();
        let body = json!({"on": on, "items": items, "pupil_ids": pupils});
        self.teacher().post(&format!("/groups/{}/catch-up-records", self.group), body)
    }

    /// What is open, as a member of staff sees it: `name label stage missed taught asked again`, days of
    /// November, 0 for none.
    fn open_to(&self, who: &Client, group: &str, on: &str) -> Vec<String> {
        let list = who.get(&format!("/groups/{group}/catch-up?on={on}")).expect(200);
        let label = |id: &Value| {
            let items = list["items"].as_array().unwrap();
            text(&items.iter().find(|item| item["item_id"] == *id).unwrap()["label"])
        };
        let day = |on: &Value| on.as_str().map_or(0, |on| on[8..].parse::<u32>().unwrap());
        let mut said = Vec::new();
        for pupil in list["pupils"].as_array().unwrap() {
            let name = text(&pupil["name"]).split(' ').next().unwrap().to_owned();
            for line in pupil["items"].as_array().unwrap() {
                let days = ["missed_on", "taught_on", "asked_on"].map(|field| day(&line[field]).to_string());
                let again = if line["again"] == true { " again" } else { "" };
                let stage = text(&line["stage"]);
                said.push(format!("{name} {} {stage} {}{again}", label(&line["item_id"]), days.join(" ")));
            }
        }
        said
    }

    fn open(&self) -> Vec<String> {
        self.open_to(&self.school.lead(), &self.group, TODAY)
    }

    /// A round of the week with a check of m and o, and one of the word "the": the round and each check's
    /// id with its items.
    fn round(&self) -> (String, Asked, Asked) {
        let sounds = self.school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
        let words = self.school.word_check("Words", &["the", "mod"]);
        let round = self.school.round("Week", "2026-11-19", "2026-11-27", &[&sounds.0, &words.0]);
        (round, sounds, words)
    }
}

#[test]
fn absent_is_open_until_recorded_as_taught_and_answered_right() {
    let a = Alder::new();
    let missed = ["Max m /m/ to_teach 19 0 0", "Max o /ɒ/ to_teach 19 0 0"];
    assert_eq!(a.open(), missed);
    let next = a.school.next_lesson(&a.group);
    let items = item_ids(&a.content, 0);
    let made = a.catch_up("2026-11-23", &items, &["Max"]);
    let record = made.expect(201);
    assert_eq!((&record["items"], &record["pupil_ids"]), (&json!(items), &json!([a.pupils["Max"]])));
    assert_eq!((&record["on"], &record["warnings"]), (&json!("2026-11-23"), &json!([])));
    assert_eq!(made.header("Location"), format!("/api/v1/catch-up-records/{}", text(&record["id"])));
    // Taught is never known: both wait for a check. The group's place and pace are where they were.
    assert_eq!(a.open(), ["Max m /m/ to_check 19 23 0", "Max o /ɒ/ to_check 19 23 0"]);
    assert_eq!(a.school.next_lesson(&a.group), next);
    let (round, (check, asked), _) = a.round();
    let of = (round.as_str(), a.pupils["Max"].as_str(), check.as_str());
    a.school
        .answer(&a.teacher(), of, "2026-11-24", &[(&asked[0], "right"), (&asked[1], "wrong")])
        .expect(201);
    assert_eq!(a.open(), ["Max o /ɒ/ to_teach 19 23 24 again"]);
    // Taught again and answered right that very day.
    a.catch_up(TODAY, &items[1..], &["Max"]).expect(201);
    assert_eq!(a.open(), ["Max o /ɒ/ to_check 19 25 24"]);
    let right = json!({"name": "Again", "opens_on": TODAY, "closes_on": TODAY, "check_ids": [check]});
    let again = text(&a.school.lead().post("/check-rounds", right).expect(201)["id"]);
    let of = (again.as_str(), a.pupils["Max"].as_str(), check.as_str());
    a.school.answer(&a.teacher(), of, TODAY, &[(&asked[1], "right")]).expect(201);
    assert_eq!(a.open(), [""; 0]);
    // As of Tuesday it was open.
    assert_eq!(a.open_to(&a.school.lead(), &a.group, "2026-11-24"), ["Max o /ɒ/ to_teach 19 23 24 again"]);
}

#[test]
fn a_right_answer_alone_clears_nothing() {
    let a = Alder::new();
    let (round, (check, asked), _) = a.round();
    let of = (round.as_str(), a.pupils["Max"].as_str(), check.as_str());
    a.school.answer(&a.teacher(), of, "2026-11-20", &[(&asked[0], "right")]).expect(201);
    assert_eq!(a.open(), ["Max m /m/ to_teach 19 0 20", "Max o /ɒ/ to_teach 19 0 0"]);
    // Nor does one of before it was taught.
    a.catch_up("2026-11-23", &item_ids(&a.content, 0)[..1], &["Max"]).expect(201);
    assert_eq!(a.open(), ["Max m /m/ to_check 19 23 20", "Max o /ɒ/ to_teach 19 0 0"]);
}

#[test]
fn caught_up_on_the_day_it_was_missed_waits_for_a_check() {
    let a = Alder::new();
    a.catch_up("2026-11-19", &item_ids(&a.content, 0), &["Max"]).expect(201);
    let waits = ["Max m /m/ to_check 19 19 0", "Max o /ɒ/ to_check 19 19 0"];
    assert_eq!(a.open(), waits);
    let (round, (check, asked), _) = a.round();
    let of = (round.as_str(), a.pupils["Max"].as_str(), check.as_str());
    a.school.answer(&a.teacher(), of, "2026-11-19", &[(&asked[0], "right")]).expect(201);
    assert_eq!(a.open(), waits[1..]);
}

#[test]
fn a_word_is_asked_where_a_check_has_it_to_read() {
    let a = Alder::new();
    a.catch_up("2026-11-20", &item_ids(&a.content, 0), &["Max"]).expect(201);
    a.lesson(1, "2026-11-20", "delivered", &["Zoe"]);
    let (round, _, (check, asked)) = a.round();
    a.catch_up("2026-11-23", &item_ids(&a.content, 1), &["Zoe"]).expect(201);
    let zoe = |open: Vec<String>| open.into_iter().filter(|line| line.starts_with("Zoe")).collect::<Vec<_>>();
    assert_eq!(zoe(a.open()), ["Zoe d /d/ to_check 20 23 0", "Zoe the to_check 20 23 0"]);
    let of = (round.as_str(), a.pupils["Zoe"].as_str(), check.as_str());
    // Of the two words one is the item's; the other is "mod", which asks for no item.
    a.school
        .answer(&a.teacher(), of, "2026-11-24", &[(&asked[0], "right"), (&asked[1], "wrong")])
        .expect(201);
    assert_eq!(zoe(a.open()), ["Zoe d /d/ to_check 20 23 0"]);
}

#[test]
fn taught_again_by_a_lesson_is_to_be_checked_and_missed_again_is_nothing_new() {
    let a = Alder::new();
    a.lesson(0, "2026-11-20", "retaught", &["Zoe"]);
    // Zoe was taught it on Thursday; Max has it since Friday.
    assert_eq!(a.open(), ["Max m /m/ to_check 19 20 0", "Max o /ɒ/ to_check 19 20 0"]);
}

#[test]
fn it_counts_as_taught_wherever_coverage_is_read() {
    let a = Alder::new();
    let items = item_ids(&a.content, 0);
    let lead = a.school.lead();
    let group = || {
        let coverage = lead.get(&format!("/groups/{}/coverage", a.group)).expect(200);
        let line = coverage["items"][0].clone();
        (
            line["taught"].clone(),
            line["caught_up"].clone(),
            line["carried_in"].clone(),
            coverage["missed"].clone(),
        )
    };
    let max = || {
        let coverage = lead.get(&format!("/pupils/{}/coverage", a.pupils["Max"])).expect(200);
        let line = &coverage["items"][0];
        let (days, counts) = ((&line["taught_on"], &line["missed_on"]), (&line["times"], &line["catch_ups"]));
        json!([days, counts, coverage["lessons_attended"], coverage["lessons_missed"]])
    };
    let words = || {
        let practice = lead.get(&format!("/pupils/{}/practice", a.pupils["Max"])).expect(200);
        practice["gpcs"].as_array().unwrap().len()
    };
    let of_report = || lead.get("/reports/attainment").expect(200)["school"]["gpcs"].clone();
    let missed = &group().3;
    assert_eq!((column(missed, "name"), &missed[0]["items"]), (vec!["Max Bell".to_owned()], &json!(items)));
    assert_eq!((max(), words()), (json!([[null, "2026-11-19"], [0, 0], 0, 1]), 0));
    let before = of_report();
    let record = a.catch_up("2026-11-23", &items, &["Max"]);
    assert_eq!(group(), (json!(2), json!(1), json!(0), json!([])));
    assert_eq!((max(), words()), (json!([["2026-11-23", null], [0, 1], 0, 1]), 2));
    // A pair is a pupil and a GPC of the pupil's groups: there are as many as before.
    assert_eq!(of_report(), before);
    // Deleted, it is missed again.
    let path = format!("/catch-up-records/{}", text(&record.expect(201)["id"]));
    a.teacher().call("DELETE", &path, None).problem(428, "precondition_required");
    a.teacher().delete(&path, "\"v0\"").problem(412, "stale");
    a.teacher().delete(&path, &record.etag()).expect(204);
    assert_eq!((max(), words()), (json!([[null, "2026-11-19"], [0, 0], 0, 1]), 0));
    assert_eq!(a.open(), ["Max m /m/ to_teach 19 0 0", "Max o /ɒ/ to_teach 19 0 0"]);
    a.teacher().get(&path).problem(404, "not_found");
    let history = lead.get(&format!("{path}/history")).expect(200)["items"].clone();
    assert_eq!((&history[0]["record"], &history[1]["record"]), (&record.json(), &Value::Null));
}

#[test]
fn catch_up_is_of_what_was_taught_to_who_was_there_to_be_taught() {
    let a = Alder::new();
    let (first, second) = (item_ids(&a.content, 0), item_ids(&a.content, 1));
    let refused =
        |on: &str, items: &[String], pupils: &[&str]| a.catch_up(on, items, pupils).problem(422, "invalid");
    let new =
        "items[1]: \u{201c}d /d/\u{201d} was not taught to this group by then: catch-up is no new teaching";
    assert_eq!(refused(TODAY, &[first[0].clone(), second[0].clone()], &["Max"]), [new]);
    // The day before it was taught, it was not.
    let early = refused("2026-11-18", &first[..1], &["Max"]);
    let unknown =
        "items[0]: \u{201c}m /m/\u{201d} was not taught to this group by then: catch-up is no new teaching";
    assert_eq!(early, [unknown]);
    assert_eq!(refused("2026-11-26", &first, &["Max"]), ["on: 2026-11-26 is in the future"]);
    let path = format!("/groups/{}/catch-up-records", a.group);
    let long_ago = json!({"on": "2026-08-31", "items": first, "pupil_ids": [a.pupils["Max"]]});
    let out = a.school.lead().post(&path, long_ago).problem(422, "invalid");
    assert_eq!(out, ["on: 2026-08-31 is in no school year of the calendar"]);
    assert_eq!(refused(TODAY, &[], &[]), ["items: give at least one", "pupil_ids: give at least one"]);
    let body = json!({"on": TODAY, "items": first, "pupil_ids": [a.pupils["Max"]], "taught_by": a.group});
    let stranger = a.teacher().post(&path, body.clone()).problem(422, "invalid");
    assert_eq!(stranger, ["taught_by: is not of this school's staff"]);
    let birch = a.school.group("Birch", &a.sequence, &[&a.pupils["Max"]]);
    let (lead, group) = (a.school.lead(), format!("/groups/{birch}"));
    let closed = lead.with("If-Match", &lead.get(&group).etag());
    closed.post(&format!("{group}/close"), json!({"on": "2026-11-24"})).expect(204);
    let body_there = json!({"on": TODAY, "items": first, "pupil_ids": [a.pupils["Max"]]});
    let over = lead.post(&format!("{group}/catch-up-records"), body_there).problem(409, "conflict");
    assert_eq!(over, ["on: the group was closed before that day"]);
    // An assistant taught it, the teacher enters it, once however often it is sent.
    let mut told = body;
    told["taught_by"] = json!(a.school.staff_id("assistant"));
    let keyed = a.teacher().with("Idempotency-Key", "one");
    let made = keyed.post(&path, told.clone()).expect(201);
    assert_eq!(
        (&made["taught_by"], &made["entered_by"]),
        (&told["taught_by"], &json!(a.school.staff_id("teacher")))
    );
    assert_eq!(keyed.post(&path, told).expect(201), made);
    let weekend = a.catch_up("2026-11-21", &first, &["Max"]).expect(201);
    assert_eq!(weekend["warnings"], json!(["on_weekend"]));
    let listed = a.teacher().get(&format!("{path}?limit=1")).expect(200);
    assert_eq!(listed["items"], json!([made]));
    let next = a.teacher().get(&format!("{path}?limit=1&cursor={}", text(&listed["next"]))).expect(200);
    assert_eq!((column(&next["items"], "id"), &next["next"]), (vec![text(&weekend["id"])], &Value::Null));
}

#[test]
fn who_moves_to_another_group_keeps_what_is_open() {
    let a = Alder::new();
    let lead = a.school.lead();
    let birch = a.school.group("Birch", &a.sequence, &[]);
    let members = |group: &str, from: &str, names: &[&str]| {
        let path = format!("/groups/{group}");
        let pupils: Vec<&String> = names.iter().map(|name| &a.pupils[*name]).collect();
        let body = json!({"from": from, "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    };
    members(&a.group, "2026-11-23", &["Zoe"]);
    members(&birch, "2026-11-23", &["Max"]);
    assert_eq!(a.open(), [""; 0]);
    let missed = ["Max m /m/ to_teach 19 0 0", "Max o /ɒ/ to_teach 19 0 0"];
    assert_eq!(a.open_to(&lead, &birch, TODAY), missed);
    // Birch was taught nothing yet; what Max was to be taught in the other group is no new teaching.
    let path = format!("/groups/{birch}/catch-up-records");
    let record = |items: &[String]| {
        a.teacher().post(&path, json!({"on": TODAY, "items": items, "pupil_ids": [a.pupils["Max"]]}))
    };
    record(&item_ids(&a.content, 1)).problem(422, "invalid");
    record(&item_ids(&a.content, 0)).expect(201);
    assert_eq!(
        a.open_to(&lead, &birch, TODAY),
        missed.map(|line| line.replace("to_teach 19 0", "to_check 19 25"))
    );
    // In the group of before it is too late.
    let there = a.catch_up(TODAY, &item_ids(&a.content, 0), &["Max"]).problem(422, "invalid");
    assert_eq!(there, ["pupil_ids[0]: this pupil was not in the group that day"]);
}

#[test]
fn who_joins_later_missed_nothing_and_can_be_caught_up() {
    let a = Alder::new();
    let lead = a.school.lead();
    let ida = text(&lead.post("/pupils", json!({"given_name": "Ida"})).expect(201)["id"]);
    let path = format!("/groups/{}", a.group);
    let body = json!({"from": "2026-11-23", "pupil_ids": [a.pupils["Zoe"], a.pupils["Max"], ida]});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    assert!(a.open().iter().all(|line| line.starts_with("Max")), "{:?}", a.open());
    let items = item_ids(&a.content, 0);
    let body = json!({"on": "2026-11-24", "items": items, "pupil_ids": [ida]});
    a.teacher().post(&format!("{path}/catch-up-records"), body).expect(201);
    let coverage = lead.get(&format!("/pupils/{ida}/coverage")).expect(200);
    assert_eq!(
        (column(&coverage["items"], "label"), &coverage["lessons_attended"]),
        (vec!["m /m/".into(), "o /ɒ/".into()], &json!(0))
    );
    assert_eq!(column(&coverage["items"], "taught_on"), ["2026-11-24", "2026-11-24"]);
}

#[test]
fn cover_sees_what_was_not_taught_since_and_nothing_of_checks() {
    let a = Alder::new();
    let path = format!("/groups/{}", a.group);
    let lead = a.school.lead();
    let adults =
        ["teacher", "cover"].map(|key| json!({"staff_id": a.school.staff_id(key), "from": "2026-09-01"}));
    lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), json!({"adults": adults})).expect(200);
    let (round, (check, asked), _) = a.round();
    a.catch_up("2026-11-20", &item_ids(&a.content, 0)[..1], &["Max"]).expect(201);
    let of = (round.as_str(), a.pupils["Max"].as_str(), check.as_str());
    a.school
        .answer(&a.teacher(), of, "2026-11-23", &[(&asked[0], "wrong"), (&asked[1], "wrong")])
        .expect(201);
    assert_eq!(a.open(), ["Max m /m/ to_teach 19 20 23 again", "Max o /ɒ/ to_teach 19 0 23"]);
    let cover = a.school.staff("cover");
    assert_eq!(a.open_to(&cover, &a.group, TODAY), ["Max o /ɒ/ to_teach 19 0 0"]);
    let seen = |who: &Client| who.get(&format!("{path}/catch-up")).expect(200)["with_checks"].clone();
    assert_eq!((seen(&cover), seen(&a.teacher())), (json!(false), json!(true)));
    // Each reading is in the log, about the group.
    let log = a.school.staff("administrator").get("/audit-entries?limit=4").expect(200);
    let read = column(&log["items"], "operation").iter().filter(|one| *one == "group.read_catch_up").count();
    assert_eq!(read, 4, "{log}");
}

#[test]
fn it_follows_the_child_from_one_record_to_another_and_back() {
    let a = Alder::new();
    let lead = a.school.lead();
    let record = a.catch_up("2026-11-23", &item_ids(&a.content, 0), &["Max", "Zoe"]);
    let path = format!("/catch-up-records/{}", text(&record.expect(201)["id"]));
    let pupils = || lead.get(&path).expect(200)["pupil_ids"].clone();
    let with = |pupil: &str| {
        let mut ids = [pupil.to_owned(), a.pupils["Zoe"].clone()];
        ids.sort();
        json!(ids)
    };
    let twice = text(&lead.post("/pupils", json!({"given_name": "Max"})).expect(201)["id"]);
    let same = json!({"verdict": "same", "pupil_id": twice, "other_id": a.pupils["Max"]});
    let decided = lead.post("/pupil-decisions", same).expect(201);
    assert_eq!(pupils(), with(&twice));
    assert_eq!(a.open(), ["Max m /m/ to_check 19 23 0", "Max o /ɒ/ to_check 19 23 0"]);
    let history = lead.get(&format!("{path}/history")).expect(200);
    assert_eq!(history["items"][1]["record"]["pupil_ids"], with(&twice));
    // A device that knows the record of before names it still.
    let late = a.catch_up("2026-11-24", &item_ids(&a.content, 0), &["Max"]).expect(201);
    assert_eq!(late["pupil_ids"], json!([twice]));
    let back = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.delete(&back, &text(&decided["etag"])).expect(204);
    assert_eq!(pupils(), with(&a.pupils["Max"]));
    // What came in since stays with the record kept.
    let since = lead.get(&format!("/catch-up-records/{}", text(&late["id"]))).expect(200);
    assert_eq!(since["pupil_ids"], json!([twice]));
}

#[test]
fn an_import_with_catch_up_on_record_of_its_pupils_is_not_undone() {
    let a = Alder::new();
    let lead = a.school.lead();
    let csv =
        b"given_name,family_name,date_of_birth,year_group,class_name\nIda,Bell,2020-04-01,Year 1,Alder\n";
    let import = text(&lead.post_csv("/roster-imports", csv).expect(201)["id"]);
    let path = format!("/roster-imports/{import}");
    lead.post(&format!("{path}/confirm"), json!({"from": "2026-09-01"})).expect(200);
    let found = lead.get("/pupils?limit=500").expect(200);
    let ida =
        found["items"].as_array().unwrap().iter().find(|p| text(&p["name"]).starts_with("Ida")).unwrap();
    let members = |from: &str, ids: Value| {
        let path = format!("/groups/{}", a.group);
        let body = json!({"from": from, "pupil_ids": ids});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    };
    members("2026-11-23", json!([a.pupils["Zoe"], a.pupils["Max"], ida["id"]]));
    let body = json!({"on": "2026-11-23", "items": item_ids(&a.content, 0), "pupil_ids": [ida["id"]]});
    a.teacher().post(&format!("/groups/{}/catch-up-records", a.group), body).expect(201);
    // Out of the group again: only the catch-up is left.
    members("2026-11-23", json!([a.pupils["Zoe"], a.pupils["Max"]]));
    lead.call("POST", &format!("{path}/undo"), None).problem(409, "conflict");
}
