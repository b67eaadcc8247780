//! Rounds: whom one is for, who checks whom, the live list, exemptions, and days that change. Today is Wednesday
//! 25 November 2026.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, Pupils, School, TODAY, Value, column, json, lesson_ids, text};

struct Autumn {
    school: School,
    pupils: Pupils,
    class: String,
    group: String,
    lesson: String,
    check: (String, Vec<String>),
}

fn start() -> Autumn {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan"), ("Una", "Rowan")]);
    let group = school.group("Foxes", &sequence, &[&pupils["Zoe"], &pupils["Ida"]]);
    let classes = school.lead().get("/classes").expect(200);
    let class =
        text(&classes["items"].as_array().unwrap().iter().find(|one| one["name"] == "Alder").unwrap()["id"]);
    let check = school.word_check("Words", &["mop", "dot"]);
    let lesson = lesson_ids(&content)[0].clone();
    Autumn { school, pupils, class, group, lesson, check }
}

impl Autumn {
    fn open(&self, more: Value) -> String {
        let mut body = json!({"name": "Autumn 2", "opens_on": "2026-11-16", "closes_on": "2026-11-27",
                              "check_ids": [self.check.0]});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        text(&self.school.lead().post("/check-rounds", body).expect(201)["id"])
    }

    fn list(&self, who: &Client, round: &str) -> Value {
        who.get(&format!("/check-rounds/{round}/list")).expect(200)
    }

    fn standings(&self, who: &Client, round: &str) -> Vec<(String, String)> {
        let list = self.list(who, round);
        let line = |one: &Value| (first_name(one), text(&one["checks"][0]["standing"]));
        list["pupils"].as_array().unwrap().iter().map(line).collect()
    }

    fn answer(&self, round: &str, pupil: &str, on: &str, n: usize) -> plumbline_tests::Answer {
        let of = (round, self.pupils[pupil].as_str(), self.check.0.as_str());
        self.school.answer(&self.school.lead(), of, on, &[(&self.check.1[n], "right")])
    }
}

fn first_name(line: &Value) -> String {
    text(&line["name"]).split(' ').next().unwrap().to_owned()
}

fn names(list: &Value) -> Vec<String> {
    list.as_array().unwrap().iter().map(first_name).collect()
}

#[test]
fn a_round_is_for_those_it_names() {
    let at = start();
    let lead = at.school.lead();
    let everybody = at.open(json!({}));
    assert_eq!(names(&at.list(&lead, &everybody)["pupils"]), ["Ida", "Max", "Una", "Zoe"]);
    let some = at.open(json!({"whom": {"class_ids": [at.class], "pupil_ids": [at.pupils["Una"]]}}));
    assert_eq!(names(&at.list(&lead, &some)["pupils"]), ["Max", "Una", "Zoe"]);
    let foxes = at.open(json!({"whom": {"group_ids": [at.group]}}));
    assert_eq!(names(&at.list(&lead, &foxes)["pupils"]), ["Ida", "Zoe"]);
    // The teacher sees the pupils of the group, an adult without a group nobody.
    assert_eq!(names(&at.list(&at.school.staff("teacher"), &everybody)["pupils"]), ["Ida", "Zoe"]);
    assert_eq!(names(&at.list(&at.school.staff("teacher:2"), &everybody)["pupils"]), Vec::<String>::new());
    // Who was asked although the round is for others is not hidden.
    at.answer(&foxes, "Max", TODAY, 0).expect(201);
    assert_eq!(names(&at.list(&lead, &foxes)["pupils"]), ["Ida", "Max", "Zoe"]);

    let refused = |more: Value| {
        let mut body = json!({"name": "R", "opens_on": TODAY, "closes_on": TODAY, "check_ids": [at.check.0]});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        lead.post("/check-rounds", body).problem(422, "invalid")
    };
    assert_eq!(
        refused(json!({"whom": {}})),
        ["whom: names nobody: leave it out, and the round is for everybody"]
    );
    assert_eq!(
        refused(json!({"whom": {"class_ids": [at.group]}})),
        ["whom.class_ids[0]: is not of this school"]
    );
    let teacher = at.school.staff_id("teacher");
    let line = json!({"staff_id": teacher, "class_id": at.class, "group_id": at.group});
    let one = "checkers[0]: name a class, a group or a pupil, and one of them only";
    assert_eq!(refused(json!({"checkers": [line]})), [one]);
    let line = json!({"staff_id": at.class, "class_id": at.class});
    assert_eq!(refused(json!({"checkers": [line]})), ["checkers[0].staff_id: is not of this school"]);
}

#[test]
fn each_adult_has_a_list_of_pupils_to_check() {
    let at = start();
    let (lead, teacher) = (at.school.lead(), at.school.staff("teacher"));
    let (me, boss) = (at.school.staff_id("teacher"), at.school.staff_id("lead"));
    let checkers = json!([{"staff_id": me, "group_id": at.group}, {"staff_id": boss, "class_id": at.class}]);
    let round = at.open(json!({"checkers": checkers}));
    let mine = |who: &Client| names(&who.get("/my-checks").expect(200)["items"]);
    assert_eq!((mine(&teacher), mine(&lead)), (vec!["Ida".into(), "Zoe".into()], vec!["Max".to_owned()]));
    let line = teacher.get("/my-checks").expect(200)["items"][0].clone();
    assert_eq!((&line["round_id"], &line["closes_on"]), (&json!(round), &json!("2026-11-27")));
    // Done is mine no longer; begun still is.
    at.answer(&round, "Ida", TODAY, 0).expect(201);
    assert_eq!(teacher.get("/my-checks").expect(200)["items"][0]["checks"][0]["standing"], "under_way");
    at.answer(&round, "Ida", TODAY, 1).expect(201);
    assert_eq!(mine(&teacher), ["Zoe"]);
    // Handed over while the round is open.
    let path = format!("/check-rounds/{round}");
    let all = json!({"checkers": [{"staff_id": boss, "pupil_id": at.pupils["Zoe"]}]});
    lead.patch(&path, &lead.get(&path).etag(), all).expect(200);
    assert_eq!((mine(&teacher), mine(&lead)), (vec![], vec!["Zoe".to_owned()]));
    // It gives no right and takes none: who was not named may still check.
    let of = (round.as_str(), at.pupils["Zoe"].as_str(), at.check.0.as_str());
    at.school.answer(&teacher, of, TODAY, &[(&at.check.1[0], "right")]).expect(201);
    let stale = lead.patch(&path, "\"v1\"", json!({"name": "Other"}));
    stale.problem(412, "stale");
}

#[test]
fn the_list_says_who_is_left_and_not_how_it_went() {
    let at = start();
    let (lead, teacher) = (at.school.lead(), at.school.staff("teacher"));
    let round = at.open(json!({}));
    let left = |name: &str| (name.to_owned(), "left_to_do".to_owned());
    let is = |name: &str, standing: &str| (name.to_owned(), standing.to_owned());
    assert_eq!(at.standings(&lead, &round), [left("Ida"), left("Max"), left("Una"), left("Zoe")]);
    at.answer(&round, "Una", TODAY, 0).expect(201);
    at.answer(&round, "Una", TODAY, 1).expect(201);
    let sitting = at.school.sitting(&teacher, (&round, &at.pupils["Zoe"], &at.check.0));
    let register = json!({"register": [{"pupil_id": at.pupils["Ida"], "mark": "absent"}]});
    at.school.log_lesson(&teacher, &at.group, TODAY, &at.lesson, "delivered", &register).expect(201);
    let exempt = format!("/check-rounds/{round}/pupils/{}/exemptions", at.pupils["Max"]);
    let new = |reason: &str, on: &str| json!({"reason": reason, "review_on": on});
    let first = lead.post(&exempt, new("newly_arrived", "2026-12-04")).expect(201);
    let expected =
        [is("Ida", "absent_today"), is("Max", "exempt"), is("Una", "done"), is("Zoe", "under_way")];
    assert_eq!(at.standings(&lead, &round), expected);
    let list = at.list(&lead, &round);
    let held = &list["pupils"][3]["checks"][0]["sitting"];
    assert_eq!((&held["held_by"], &held["paused_at"]), (&json!(at.school.staff_id("teacher")), &json!(null)));
    assert_eq!(
        format!("/check-rounds/{round}/pupils/{}/sittings/{}", at.pupils["Zoe"], text(&held["id"])),
        sitting
    );
    let counts = json!({"check_id": at.check.0, "left_to_do": 0, "under_way": 1, "done": 1, "absent_today": 1,
                        "exempt": 1, "not_accessible": 0});
    assert_eq!(list["counts"], json!([counts]));
    assert_eq!(
        list["adults"],
        json!([{"staff_id": at.school.staff_id("teacher"), "name": "teacher person"}])
    );

    // Looked at again, then ended; each word stays on record.
    let due = list["pupils"][1]["checks"][0]["exemption"].clone();
    assert_eq!((&due["reason"], &due["review_due"]), (&json!("newly_arrived"), &json!(false)));
    let second = lead.post(&exempt, new("checked_lately", "2026-11-26")).expect(201);
    lead.call("DELETE", &format!("{exempt}/{}", text(&first["id"])), None).problem(404, "not_found");
    assert_eq!(lead.call("DELETE", &format!("{exempt}/{}", text(&second["id"])), None).status, 204);
    assert_eq!(at.standings(&lead, &round)[1], left("Max"));
    let said = lead.get(&exempt).expect(200)["items"].clone();
    assert_eq!(column(&said, "reason"), ["newly_arrived", "checked_lately"]);
    assert!(said.as_array().unwrap().iter().all(|one| one["ended_by"] == at.school.staff_id("lead")));
    let wrong = lead.post(&exempt, new("sleepy", "2026-12-04")).problem(422, "invalid");
    assert!(wrong[0].starts_with("reason: must be one of newly_arrived, not_here, "), "{wrong:?}");
    for day in [TODAY, "2027-02-26"] {
        let wrong = lead.post(&exempt, new("newly_arrived", day)).problem(422, "invalid");
        assert_eq!(wrong, ["review_on: must be 1 to 92 days from today"]);
    }
    // A sitting that was finished with items left out is done, and the pupil is back.
    let one =
        json!({"id": "0199f2c4-5555-7000-8000-000000000001", "item_id": at.check.1[0], "outcome": "right"});
    teacher.post(&format!("{sitting}/answers"), json!({"answers": [one]})).expect(200);
    teacher.call("POST", &format!("{sitting}/finish"), None).expect(200);
    assert_eq!(at.standings(&lead, &round)[3], is("Zoe", "done"));
}

#[test]
fn the_list_is_sent_again_only_when_something_changed() {
    let at = start();
    let (lead, teacher) = (at.school.lead(), at.school.staff("teacher"));
    let round = at.open(json!({}));
    let path = format!("/check-rounds/{round}/list");
    let etag = lead.get(&path).etag();
    let again = lead.with("If-None-Match", &etag).get(&path);
    assert_eq!((again.status, again.text.as_str(), again.etag()), (304, "", etag.clone()));
    let twice = lead.with("If-None-Match", &format!("\"v1\", {etag}")).get(&path);
    assert_eq!(twice.status, 304);
    // What one adult has is not another's.
    assert_eq!(teacher.with("If-None-Match", &etag).get(&path).status, 200);
    at.answer(&round, "Una", TODAY, 0).expect(201);
    let changed = lead.with("If-None-Match", &etag).get(&path);
    assert_eq!(changed.status, 200);
    assert_ne!(changed.etag(), etag);
}

#[test]
fn days_change_without_leaving_an_answer_outside() {
    let at = start();
    let lead = at.school.lead();
    let round = at.open(json!({}));
    let path = format!("/check-rounds/{round}");
    let change = |body: Value| lead.patch(&path, &lead.get(&path).etag(), body);
    for (pupil, on, n) in [("Una", "2026-11-17", 0), ("Una", "2026-11-24", 1), ("Zoe", "2026-11-24", 0)] {
        at.answer(&round, pupil, on, n).expect(201);
    }
    let early = change(json!({"closes_on": "2026-11-23"})).problem(409, "conflict");
    let said = "closes_on: would leave answers outside the round, given after it closes: 2";
    assert_eq!(early, [said]);
    let late = change(json!({"opens_on": "2026-11-18"})).problem(409, "conflict");
    let said = "opens_on: would leave answers outside the round, given before it opens: 1";
    assert_eq!(late, [said]);
    assert_eq!(
        change(json!({"closes_on": "2026-11-13"})).problem(422, "invalid"),
        ["closes_on: lies before the round opens"]
    );
    // Closed early: today is no day of it, yesterday is, and comes late.
    let closed = change(json!({"closes_on": "2026-11-24"}));
    assert_eq!(closed.expect(200)["closes_on"], "2026-11-24");
    let outside = at.answer(&round, "Zoe", TODAY, 1).problem(422, "invalid");
    assert_eq!(
        outside,
        ["on: 2026-11-25 is not a day of this round, which is from 2026-11-16 to 2026-11-24"]
    );
    let taken = at.answer(&round, "Zoe", "2026-11-24", 1).expect(201);
    assert_eq!(taken["items"][0]["late"], true);
    let checkers = json!({"checkers": [{"staff_id": at.school.staff_id("teacher"), "class_id": at.class}]});
    let message = "checkers: the round is closed: say a later last day to open it again";
    assert_eq!(change(checkers.clone()).problem(409, "conflict"), [message]);
    // Opened again.
    change(json!({"closes_on": "2026-11-25"})).expect(200);
    change(checkers).expect(200);
    let taken = at.answer(&round, "Max", TODAY, 0).expect(201);
    assert_eq!(taken["items"][0]["late"], false);
}

#[test]
fn a_tablet_that_was_offline_sends_late_for_some_days_and_then_keeps_its_answers() {
    let mut at = start();
    let round = at.open(json!({}));
    let lead = at.school.lead();
    let zoe = at.school.sitting(&lead, (&round, &at.pupils["Zoe"], &at.check.0));
    let send = |at: &Autumn, n: usize| {
        let lead = at
            .school
            .nobody()
            .with_token(text(&at.school.sign_in("lead@farholt.example")["access_token"]).as_str());
        let id = format!("0199f2c4-4444-7000-8000-{n:012}");
        let answer = json!({"id": id, "item_id": at.check.1[n], "outcome": "right"});
        lead.post(&format!("{zoe}/answers"), json!({"on": "2026-11-26", "answers": [answer]})).expect(200)
    };
    assert_eq!(send(&at, 0)["answers"][0]["refusal"]["code"], "future");
    // Closed on Friday 27 November; fourteen days are until 11 December.
    at.school.server.stop_and_restart("2026-12-11");
    let taken = send(&at, 0);
    assert_eq!(taken["answers"][0]["fate"], "taken_late");
    at.school.server.stop_and_restart("2026-12-12");
    let refused = send(&at, 1);
    let refusal = &refused["answers"][0]["refusal"];
    let message = "this round is closed, and answers given in it were taken until 2026-12-11";
    assert_eq!((&refusal["code"], &refusal["message"]), (&json!("round_closed"), &json!(message)));
    assert_eq!(send(&at, 0)["answers"][0]["fate"], "already_there", "what came in time is known for good");
    // Opened again by the lead, the answers the tablet kept come in.
    let lead = at
        .school
        .nobody()
        .with_token(text(&at.school.sign_in("lead@farholt.example")["access_token"]).as_str());
    let path = format!("/check-rounds/{round}");
    lead.patch(&path, &lead.get(&path).etag(), json!({"closes_on": "2026-12-11"})).expect(200);
    assert_eq!(send(&at, 1)["answers"][0]["fate"], "taken_late");
}

/// Whom a round is for is so wherever it is asked.
#[test]
fn a_round_asks_nobody_else_anywhere() {
    let at = start();
    let (lead, teacher) = (at.school.lead(), at.school.staff("teacher"));
    // Of Alder are Zoe and Max; the teacher has Zoe and Ida.
    let round = at.open(json!({"whom": {"class_ids": [at.class]}}));
    let in_progress = || {
        let seen = lead.get(&format!("/check-rounds/{round}/progress")).expect(200);
        names(&seen["items"])
    };
    assert_eq!(in_progress(), ["Max", "Zoe"]);
    let sheet = || lead.get(&format!("/check-rounds/{round}/log-sheet?check_id={}", at.check.0)).text;
    let on_sheet = sheet();
    assert!(on_sheet.contains("Zoe Bell") && on_sheet.contains("Max Bell"), "{on_sheet}");
    assert!(!on_sheet.contains("Ida Bell") && !on_sheet.contains("Una Bell"), "{on_sheet}");

    // Another pupil is not begun with, nor entered, but by the lead.
    let of_ida = format!("/check-rounds/{round}/pupils/{}", at.pupils["Ida"]);
    let begin = |who: &Client| who.post(&format!("{of_ida}/sittings"), json!({"check_id": at.check.0}));
    let said = "pupil_id: this round is for other pupils: the lead can say that it is for this one too, or ask the pupil";
    assert_eq!(begin(&teacher).problem(409, "conflict"), [said]);
    let of = (round.as_str(), at.pupils["Ida"].as_str(), at.check.0.as_str());
    let answers = [(at.check.1[0].as_str(), "right")];
    assert_eq!(at.school.answer(&teacher, of, TODAY, &answers).problem(409, "conflict"), [said]);
    let sheet_of = json!({"check_id": at.check.0, "on": TODAY, "pupils": [
        {"pupil_id": at.pupils["Zoe"], "answers": [{"item_id": at.check.1[0], "outcome": "right"}]},
        {"pupil_id": at.pupils["Ida"], "answers": [{"item_id": at.check.1[0], "outcome": "right"}]}]});
    let entered = teacher.post(&format!("/check-rounds/{round}/responses"), sheet_of);
    assert_eq!(entered.problem(409, "conflict"), [format!("pupils[1].{said}")]);
    assert_eq!(in_progress(), ["Max", "Zoe"]);
    begin(&lead).expect(201);
    assert_eq!(in_progress(), ["Ida", "Max", "Zoe"], "whom somebody asks is not hidden");
    // Begun, the teacher goes on.
    at.school.answer(&teacher, of, TODAY, &answers).expect(201);

    // Who is exempt is left to nobody to ask.
    let exempt = format!("/check-rounds/{round}/pupils/{}/exemptions", at.pupils["Max"]);
    lead.post(&exempt, json!({"reason": "newly_arrived", "review_on": "2026-12-04"})).expect(201);
    let seen = lead.get(&format!("/check-rounds/{round}/progress")).expect(200);
    let exempt: Vec<&Value> = seen["items"].as_array().unwrap().iter().map(|one| &one["exempt"]).collect();
    assert_eq!(exempt, [&json!([]), &json!([at.check.0]), &json!([])]);
    let on_sheet = sheet();
    assert!(
        !on_sheet.contains("Max Bell") && on_sheet.contains("Not on this sheet: 1 exempt."),
        "{on_sheet}"
    );
}

/// A round of a class, from which one pupil is exempt: of four pupils two are drawn from.
#[test]
fn a_sample_is_drawn_from_the_rounds_pupils() {
    let at = start();
    let lead = at.school.lead();
    let round = at.open(json!({"whom": {"class_ids": [at.class], "pupil_ids": [at.pupils["Una"]]}}));
    let exempt = format!("/check-rounds/{round}/pupils/{}/exemptions", at.pupils["Max"]);
    lead.post(&exempt, json!({"reason": "newly_arrived", "review_on": "2026-12-04"})).expect(201);
    let ask = |round: &str| {
        let body = json!({"check_id": at.check.0, "seed": 11, "percent": 100, "staff_ids": [at.school.staff_id("lead")]});
        lead.post(&format!("/check-rounds/{round}/second-markings"), body)
    };
    let drawn = ask(&round).expect(201);
    let mut pupils = column(&drawn["pupils"], "pupil_id");
    pupils.sort();
    let mut expected = vec![at.pupils["Una"].clone(), at.pupils["Zoe"].clone()];
    expected.sort();
    assert_eq!((pupils, &drawn["drawn_from"]), (expected, &json!(2)));
    // Whom an adult has begun with, that adult does not mark a second time.
    let begun = at.open(json!({"whom": {"pupil_ids": [at.pupils["Una"]]}}));
    at.school.sitting(&lead, (&begun, &at.pupils["Una"], &at.check.0));
    let said = ask(&begun).problem(422, "invalid");
    assert!(said[0].starts_with("staff_ids: none of them may mark"), "{said:?}");
}
