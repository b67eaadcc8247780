//! One child with two records, or two children alike.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, column, json, lesson_ids, text};

/// Zoe has two records, each in a group of its own and both in a third, and each was checked.
struct Twice {
    school: School,
    lead: Client,
    kept: String,
    other: String,
    groups: [String; 3],
    round: String,
    check: (String, Vec<String>),
    lessons: Vec<String>,
}

fn start() -> Twice {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (sequence, content) = school.sequence();
    let lessons = lesson_ids(&content);
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let rowan = lead.post("/classes", json!({"name": "Rowan"})).expect(201)["id"].clone();
    let again = json!({"given_name": "Zoé", "family_name": "Bell", "date_of_birth": "2020-05-31",
                       "class_id": rowan, "from": "2026-09-01"});
    let other = text(&lead.post("/pupils", again).expect(201)["id"]);
    let (kept, max) = (pupils["Zoe"].clone(), pupils["Max"].clone());
    let groups = [
        school.group("Ants", &sequence, &[&kept, &max]),
        school.group("Bees", &sequence, &[&other]),
        school.group("Crabs", &sequence, &[&kept, &other]),
    ];
    let check = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&check.0]);
    let twice = Twice { school, lead, kept, other, groups, round, check, lessons };
    // Both in Crabs: one was there, the other absent. Each in a lesson of its own at the same time.
    let log = |group: usize, on: &str, lesson: usize, more: Value| {
        twice.school.log_lesson(
            &twice.lead,
            &twice.groups[group],
            on,
            &twice.lessons[lesson],
            "delivered",
            &more,
        )
    };
    log(0, "2026-11-19", 0, json!({})).expect(201);
    log(1, "2026-11-19", 1, json!({})).expect(201);
    let absent = json!({"register": [{"pupil_id": twice.kept, "mark": "absent"}]});
    log(2, "2026-11-20", 2, absent).expect(201);
    let [m, o] = [twice.check.1[0].clone(), twice.check.1[1].clone()];
    twice.answer(&twice.kept, "2026-11-23", &[(&m, "wrong")]).expect(201);
    twice.answer(&twice.other, "2026-11-24", &[(&m, "right"), (&o, "right")]).expect(201);
    twice
}

impl Twice {
    fn answer(&self, pupil: &str, on: &str, answers: &[(&str, &str)]) -> Answer {
        self.school.answer(&self.lead, (&self.round, pupil, &self.check.0), on, answers)
    }

    fn decide(&self, body: Value) -> Answer {
        self.lead.post("/pupil-decisions", body)
    }

    fn same(&self) -> Value {
        self.decide(json!({"verdict": "same", "pupil_id": self.kept, "other_id": self.other})).expect(201)
    }

    fn take_back(&self, decision: &Value) -> Answer {
        let path = format!("/pupil-decisions/{}", text(&decision["id"]));
        self.lead.delete(&path, &text(&decision["etag"]))
    }

    /// Everything on record of a pupil, as its readers see it.
    fn on_record(&self, pupil: &str) -> Value {
        let read = |path: String| self.lead.get(&path).expect(200);
        json!({
            "page": read(format!("/pupils/{pupil}")),
            "coverage": read(format!("/pupils/{pupil}/coverage")),
            "answers": read(format!("/check-rounds/{}/pupils/{pupil}/responses", self.round)),
        })
    }

    fn groups(&self) -> Value {
        self.groups
            .iter()
            .map(|group| self.lead.get(&format!("/groups/{group}")).expect(200)["members"].clone())
            .collect()
    }
}

#[test]
fn everything_moves_and_nothing_doubles() {
    let t = start();
    t.same();
    t.lead.get(&format!("/pupils/{}", t.other)).problem(404, "not_found");
    let record = t.on_record(&t.kept);
    // Both classes go on, as the office had them; the group they shared is one.
    assert_eq!(column(&record["page"]["classes"], "name"), ["Alder", "Rowan"]);
    assert_eq!(column(&record["page"]["groups"], "name"), ["Ants", "Bees", "Crabs"]);
    let members: Vec<_> = t.groups().as_array().unwrap().iter().map(|list| column(list, "name")).collect();
    assert_eq!(members, [vec!["Max Bell", "Zoe Bell"], vec!["Zoe Bell"], vec!["Zoe Bell"]]);
    // Lesson 1 taught m and o in Ants, lesson 2 d and "the" in Bees, lesson 3 e in Crabs, where
    // the other record was there: the child was taught all, in three lessons.
    let coverage = &record["coverage"];
    assert_eq!((&coverage["lessons_attended"], &coverage["lessons_missed"]), (&json!(3), &json!(0)));
    let times = coverage["items"].as_array().unwrap().iter().filter(|item| item["times"] == 1).count();
    assert_eq!(times, 5);
    // m was asked of both: two answers, in order of their days.
    let answers = record["answers"]["items"].clone();
    assert_eq!(column(&answers, "outcome"), ["wrong", "right", "right"]);
    assert_eq!(column(&answers, "on"), ["2026-11-23", "2026-11-24", "2026-11-24"]);
    let progress = t.lead.get(&format!("/check-rounds/{}/progress", t.round)).expect(200)["items"].clone();
    let zoe = progress.as_array().unwrap().iter().find(|line| line["pupil_id"] == t.kept.as_str()).unwrap();
    assert_eq!(zoe["checks"][0]["asked"], 2, "two items, whatever the answers");
    // Who did it stands in the audit log, about a pupil.
    let audited = t.lead.get("/audit-entries").expect(200)["items"].clone();
    let entry = audited.as_array().unwrap().iter().find(|entry| entry["operation"] == "pupil.merge").unwrap();
    assert_eq!(
        (&entry["subject_kind"], &entry["staff_id"]),
        (&json!("pupil"), &json!(t.school.staff_id("lead")))
    );
    // The lesson both were in has one line for the child, and a version of its own.
    let records = t.lead.get(&format!("/groups/{}/lesson-records", t.groups[2])).expect(200)["items"].clone();
    let path = format!("/lesson-records/{}", text(&records[0]["id"]));
    assert_eq!(column(&t.lead.get(&path).expect(200)["register"], "mark"), ["present"]);
}

#[test]
fn it_is_taken_back_whole_and_later_lessons_stay() {
    let t = start();
    let before = (t.on_record(&t.kept), t.on_record(&t.other), t.groups());
    let decision = t.same();
    assert_eq!(column(&t.lead.get("/pupil-decisions").expect(200)["items"], "verdict"), ["same"]);
    assert_eq!(
        (&decision["pupil"]["name"], &decision["other"]["name"]),
        (&json!("Zoe Bell"), &json!("Zoé Bell"))
    );
    let stale = json!({"id": decision["id"], "etag": "\"v1\""});
    t.take_back(&stale).problem(412, "stale");
    assert_eq!(t.take_back(&decision).status, 204);
    let unlike_etags = |mut record: Value| {
        record["page"].as_object_mut().unwrap().remove("etag");
        record
    };
    let after = (t.on_record(&t.kept), t.on_record(&t.other), t.groups());
    assert_eq!(unlike_etags(after.0), unlike_etags(before.0));
    assert_eq!(unlike_etags(after.1), unlike_etags(before.1));
    assert_eq!(after.2, before.2);
    assert_eq!(t.lead.get("/pupil-decisions").expect(200)["items"], json!([]));
    t.take_back(&decision).problem(404, "not_found");
    // Once more, with a lesson after it: that is no reason not to, and stays with the record kept.
    let decision = t.same();
    t.school
        .log_lesson(&t.lead, &t.groups[0], "2026-11-24", &t.lessons[1], "delivered", &json!({}))
        .expect(201);
    assert_eq!(t.take_back(&decision).status, 204);
    assert_eq!(t.on_record(&t.kept)["coverage"]["lessons_attended"], 2);
    assert_eq!(t.on_record(&t.other)["coverage"]["lessons_attended"], 2);
}

#[test]
fn it_stays_once_other_work_depends_on_it() {
    let t = start();
    let decision = t.same();
    let refused = || {
        let answer = t.take_back(&decision);
        answer.problem(409, "conflict");
        text(&answer.json()["detail"])
    };
    let answers = t.on_record(&t.kept)["answers"]["items"].clone();
    let correction = json!({"response_id": answers[1]["id"], "outcome": "wrong"});
    t.lead.post(&format!("/check-rounds/{}/pupils/{}/corrections", t.round, t.kept), correction).expect(201);
    assert_eq!(refused(), "other work depends on it: one of its answers was corrected since");
    let path = format!("/pupils/{}", t.kept);
    t.lead.patch(&path, &t.lead.get(&path).etag(), json!({"given_name": "Zoë"})).expect(200);
    assert!(
        refused().starts_with("other work depends on it: the pupil, its classes or its groups were changed")
    );
    // A record that was kept and then merged itself: the last first.
    let third = text(&t.lead.post("/pupils", json!({"given_name": "Zoe"})).expect(201)["id"]);
    let last = t.decide(json!({"verdict": "same", "pupil_id": third, "other_id": t.kept})).expect(201);
    assert!(refused().contains("take that back first"));
    assert_eq!(t.take_back(&last).status, 204);
}

#[test]
fn two_numbers_need_a_word_and_other_things_are_refused() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let add = |upn: &str, reference: &str| {
        let body = json!({"given_name": "Lily", "family_name": "Chen", "upn": upn, "pupil_ref": reference});
        text(&lead.post("/pupils", body).expect(201)["id"])
    };
    let (one, two) = (add("K999000124301", "R01"), add("Z999000124302", "R02"));
    let decide = |body: Value| lead.post("/pupil-decisions", body);
    let same = |upn_of: Value| json!({"verdict": "same", "pupil_id": one, "other_id": two, "upn_of": upn_of});
    assert!(
        decide(same(Value::Null)).problem(422, "invalid")[0]
            .starts_with("upn_of: the two have different UPNs")
    );
    let itself = json!({"verdict": "different", "pupil_id": one, "other_id": one});
    assert_eq!(decide(itself).problem(422, "invalid"), ["other_id: is the same record: name two"]);
    let nobody =
        json!({"verdict": "same", "pupil_id": one, "other_id": "0199f2c4-0000-7000-8000-000000000007"});
    assert_eq!(decide(nobody).problem(422, "invalid"), ["other_id: is no pupil of this school"]);
    let apart = json!({"verdict": "different", "pupil_id": two, "other_id": one});
    let made = decide(apart.clone()).expect(201);
    decide(apart).problem(409, "conflict");
    decide(same(json!(two))).problem(409, "conflict");
    lead.delete(&format!("/pupil-decisions/{}", text(&made["id"])), &text(&made["etag"]));
    let merged = decide(same(json!(two))).expect(201);
    let page = lead.get(&format!("/pupils/{one}")).expect(200);
    assert_eq!((&page["upn"], &page["pupil_ref"]), (&json!("••••••••••302"), &json!("R01")));
    // Taken back, each has its own again, unless somebody else has it by now.
    let path = format!("/pupils/{one}");
    let back = || lead.delete(&format!("/pupil-decisions/{}", text(&merged["id"])), &text(&merged["etag"]));
    let third = add("M80120000500A", "R02");
    let said = back();
    said.problem(409, "conflict");
    assert!(said.text.contains("the reference it had belongs to another pupil now"), "{}", said.text);
    let path_of_third = format!("/pupils/{third}");
    lead.patch(&path_of_third, &lead.get(&path_of_third).etag(), json!({"pupil_ref": "R03"})).expect(200);
    assert_eq!(back().status, 204);
    assert_eq!(lead.get(&path).expect(200)["upn"], "••••••••••301");
    assert_eq!(lead.get(&format!("/pupils/{two}")).expect(200)["upn"], "••••••••••302");
}

#[test]
fn who_may_be_one_child_is_listed_until_somebody_decides() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let file = "pupil_ref,given_name,family_name,date_of_birth,class_name\n\
        R01,Rory,Hale,2020-05-31,Alder\nR02,Rory,Hale,2020-05-31,Rowan\n\
        T1,Ada,Hart,2020-03-01,Alder\nT2,Ida,Hart,2020-03-01,Alder\n";
    let import = |file: &str| lead.post_csv("/roster-imports", file.as_bytes()).expect(201);
    let confirm = |shown: &Value| {
        lead.post(&format!("/roster-imports/{}/confirm", text(&shown["id"])), json!({})).expect(200)
    };
    let first = confirm(&import(file));
    let suspects = || lead.get("/suspected-duplicates").expect(200)["items"].clone();
    let listed = suspects();
    assert_eq!(listed.as_array().unwrap().len(), 1, "twins are not asked about");
    assert_eq!(
        (&listed[0]["why"], &listed[0]["says"]),
        (&json!("name_and_birth"), &json!("the same name and date of birth; different references"))
    );
    let mut apart = column(&listed[0]["pupils"], "apart");
    apart.sort();
    assert_eq!(apart, ["Alder", "Rowan"]);
    let ids = column(&listed[0]["pupils"], "id");
    let decide = |verdict: &str| {
        let body = json!({"verdict": verdict, "pupil_id": ids[0], "other_id": ids[1]});
        lead.post("/pupil-decisions", body).expect(201)
    };
    let two = decide("different");
    assert_eq!(suspects(), json!([]));
    lead.delete(&format!("/pupil-decisions/{}", text(&two["id"])), &text(&two["etag"]));
    assert_eq!(suspects(), listed);
    decide("same");
    assert_eq!(suspects(), json!([]));
    // Other work depends on the import by now.
    lead.call("POST", &format!("/roster-imports/{}/undo", text(&first["id"])), None).problem(409, "conflict");
    // The file still has both rows: the second is the same child, and adds nobody.
    let again = import(file);
    let counts = ["created", "updated", "rejected"].map(|list| again[list].as_array().unwrap().len());
    // Both classes are the child's; each row is about it, and the one read second is left out.
    assert_eq!(counts[0], 0);
    assert!(text(&again["rejected"][0]["message"]).contains("about the same pupil"), "{}", again["rejected"]);
}

#[test]
fn an_import_remembers_whom_it_told_apart() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let body = json!({"given_name": "Leo", "family_name": "Reed", "pupil_ref": "R01", "date_of_birth": "2020-05-01"});
    lead.post("/pupils", body).expect(201);
    // The office knows that this Leo is another, who shares the birthday.
    let file = "given_name,family_name,date_of_birth\nLeo,Reed,2020-05-01\n".as_bytes();
    let shown = lead.post_csv("/roster-imports", file).expect(201);
    let path = format!("/roster-imports/{}", text(&shown["id"]));
    let answers = json!({"whose": [{"line": 2, "whose": "somebody"}]});
    lead.put(&format!("{path}/answers"), &text(&shown["etag"]), answers).expect(200);
    lead.post(&format!("{path}/confirm"), json!({})).expect(200);
    assert_eq!(lead.get("/suspected-duplicates").expect(200)["items"], json!([]));
    assert_eq!(column(&lead.get("/pupil-decisions").expect(200)["items"], "verdict"), ["different"]);
    let again = lead.post_csv("/roster-imports", file).expect(201);
    assert_eq!((&again["unchanged"], &again["held"], &again["created"]), (&json!(1), &json!([]), &json!([])));
    // Taken back, the import leaves no decision about a pupil who never was.
    lead.call("POST", &format!("{path}/undo"), None).expect(200);
    assert_eq!(lead.get("/pupil-decisions").expect(200)["items"], json!([]));
}
