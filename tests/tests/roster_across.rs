//! The parts that change the roster, one upon the other: a change of year, moves and members by hand, a
//! file, two records of one child; and what each of them may still take back.
#![allow(clippy::unwrap_used)]

mod july;

use july::{July, PATH};
use plumbline_tests::{Client, School, column, json, text};

fn members(july: &July) -> Vec<String> {
    column(&july.lead.get(&format!("/groups/{}", july.group)).expect(200)["members"], "name")
}

fn classes_of(lead: &Client, pupil: &str) -> Vec<String> {
    column(&lead.get(&format!("/pupils/{pupil}")).expect(200)["classes"], "name")
}

fn move_to(lead: &Client, pupil: &str, class: &str) -> plumbline_tests::Answer {
    let path = format!("/pupils/{pupil}");
    lead.patch(&path, &lead.get(&path).etag(), json!({"class_id": class}))
}

fn import(lead: &Client, csv: &str, answers: plumbline_tests::Value, from: &str) -> String {
    let shown = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let id = text(&shown["id"]);
    lead.put(&format!("/roster-imports/{id}/answers"), &text(&shown["etag"]), answers).expect(200);
    lead.post(&format!("/roster-imports/{id}/confirm"), json!({"from": from})).expect(200);
    id
}

fn undo(lead: &Client, import: &str) -> plumbline_tests::Answer {
    lead.call("POST", &format!("/roster-imports/{import}/undo"), None)
}

#[test]
fn members_and_adults_of_a_group_end_with_it_however_they_are_set() {
    let mut july = July::new();
    july.applied();
    let path = format!("/groups/{}", july.group);
    // In July Leo goes and Rey comes; Gil leaves the school in August, the group ends then.
    let set = |july: &July, from: &str, names: &[&str]| {
        let pupils: Vec<String> = names.iter().map(|name| july.pupil(name)).collect();
        let body = json!({"from": from, "pupil_ids": pupils});
        july.lead.put(&format!("{path}/members"), &july.lead.get(&path).etag(), body)
    };
    set(&july, "2026-07-15", &["Ada", "Gil", "Rey"]).expect(200);
    assert_eq!(members(&july), ["Gil Hart", "Rey Moor", "Ada Swift"]);
    let refused = set(&july, "2026-09-01", &["Ada"]).problem(422, "invalid");
    assert_eq!(refused, ["from: the group's last day is 2026-08-31"]);
    let adults = july.lead.put(&format!("{path}/adults"), &july.lead.get(&path).etag(), july.adults());
    assert_eq!(adults.expect(200)["items"][0]["until"], "2026-08-31");
    let hand_over = json!({"from_staff_id": july.school.staff_id("teacher"),
                           "to_staff_id": july.school.staff_id("teacher:2"), "on": "2026-07-20"});
    let handed = july.lead.clone().with("If-Match", &july.lead.get(&path).etag());
    let handed = handed.call("POST", &format!("{path}/hand-over"), Some(&hand_over)).expect(200);
    assert_eq!(column(&handed["items"], "until"), ["2026-07-19", "2026-08-31"]);
    july.on("2026-08-31");
    assert_eq!(members(&july), ["Gil Hart", "Rey Moor", "Ada Swift"]);
    july.on("2026-09-01");
    assert_eq!(members(&july), [""; 0]);
}

#[test]
fn one_who_leaves_is_in_no_group_that_goes_on_after_the_last_day() {
    let mut july = July::new();
    let mut choices = july.choices();
    choices["groups_ending"] = json!([]);
    let plan = july.lead.call("PUT", PATH, Some(&choices));
    july.act("apply", &plan.etag()).expect(200);
    let path = format!("/groups/{}", july.group);
    let body = json!({"from": "2026-07-15", "pupil_ids": [july.pupil("Uma"), july.pupil("Ada")]});
    july.lead.put(&format!("{path}/members"), &july.lead.get(&path).etag(), body).expect(200);
    assert_eq!(members(&july), ["Ada Swift", "Uma Vale"]);
    july.on("2026-09-01");
    assert_eq!(members(&july), ["Ada Swift"]);
}

#[test]
fn a_move_in_july_leaves_the_place_of_september() {
    let mut july = July::new();
    july.applied();
    let [leo, ada, uma] = ["Leo", "Ada", "Uma"].map(|name| july.pupil(name));
    // By hand, and by a file; and one who leaves in August.
    move_to(&july.lead, &leo, &july.class("Oak")).expect(200);
    let file = "given_name,family_name,date_of_birth,year_group,class_name\n\
                Ada,Swift,2021-03-04,Reception,Oak\n";
    import(&july.lead, file, json!({}), "2026-07-15");
    move_to(&july.lead, &uma, &july.class("Elm")).expect(200);
    let seen = |july: &July| [&leo, &ada, &uma].map(|pupil| classes_of(&july.lead, pupil).join(" "));
    assert_eq!(seen(&july), ["Oak", "Oak", "Elm"]);
    july.on("2026-08-31");
    assert_eq!(seen(&july), ["Oak", "Oak", "Elm"]);
    july.on("2026-09-01");
    assert_eq!(seen(&july), ["Oak", "Elm", ""]);
    let refused = move_to(&july.lead, &uma, &july.class("Elm")).problem(422, "invalid");
    assert_eq!(refused, ["class_id: the last day here is 2026-08-31"]);
    // From September on a move counts until the next.
    move_to(&july.lead, &ada, &july.class("Oak")).expect(200);
    july.on("2027-03-01");
    assert_eq!(seen(&july), ["Oak", "Oak", ""]);
}

#[test]
fn a_rollover_taken_back_leaves_earlier_imports_as_they_were() {
    let july = July::new();
    let file = "given_name,family_name,date_of_birth,year_group,class_name\n\
                Ida,Wood,2021-01-31,Reception,Elm\nAda,Swift,2021-03-04,Reception,Oak\n";
    let added = import(&july.lead, file, json!({}), "2026-07-15");
    let applied = july.applied();
    // Ida was put in Elm by the file, and has a place for September by now.
    let refused = undo(&july.lead, &added);
    refused.problem(409, "conflict");
    assert!(text(&refused.json()["detail"]).contains("2 pupils of it were changed since"));
    july.act("undo", &applied.etag()).expect(200);
    undo(&july.lead, &added).expect(200);
    assert_eq!(classes_of(&july.lead, &july.pupil("Ada")), ["Elm"]);
    assert_eq!(july.lead.get("/pupils?leavers=true").expect(200)["items"].as_array().unwrap().len(), 5);
}

#[test]
fn names_mended_since_stand_in_no_way_of_a_rollovers_undo() {
    let july = July::new();
    let applied = july.applied();
    let path = format!("/pupils/{}", july.pupil("Leo"));
    july.lead.patch(&path, &july.lead.get(&path).etag(), json!({"preferred_name": "Lee"})).expect(200);
    july.act("undo", &applied.etag()).expect(200);
    let leo = july.lead.get(&path).expect(200);
    assert_eq!((&leo["preferred_name"], &leo["year_group"]), (&json!("Lee"), &json!("year_1")));
}

#[test]
fn lessons_that_were_there_before_stand_in_no_way() {
    let mut july = July::new();
    let mut choices = july.choices();
    choices["groups_ending"] = json!([]);
    july.on("2026-09-03");
    let records = format!("/groups/{}/lesson-records", july.group);
    let lesson = july.lead.get(&records).expect(200)["items"][0]["lesson_id"].clone();
    let log = |on: &str| json!({"on": on, "lesson_id": lesson, "outcome": "retaught"});
    july.lead.post(&records, log("2026-09-02")).expect(201);
    let plan = july.lead.call("PUT", PATH, Some(&choices));
    // Gil leaves in August, and was in the register in September: somebody looks at that.
    let found = plan.expect(200)["warnings"].clone();
    let found: Vec<_> =
        found.as_array().unwrap().iter().filter(|one| one["what"] == "leaves_yet_taught").collect();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0]["pupil_id"], july.pupil("Gil"));
    let applied = july.act("apply", &plan.etag());
    applied.expect(200);
    let undone = july.act("undo", &applied.etag());
    undone.expect(200);
    july.act("apply", &undone.etag()).expect(200);
    july.lead.post(&records, log("2026-09-03")).expect(201);
    july.act("undo", &july.lead.get(PATH).etag()).problem(409, "conflict");
}

#[test]
fn two_records_of_one_who_left_long_ago_do_not_hold_a_rollover() {
    let july = July::new();
    // Two records of one child, both in the group and gone in spring.
    let sams = ["Sam", "Samuel"].map(|given| {
        let body = json!({"given_name": given, "family_name": "Reed", "date_of_birth": "2021-02-01",
                          "class_id": july.class("Elm"), "from": "2025-09-01"});
        text(&july.lead.post("/pupils", body).expect(201)["id"])
    });
    let path = format!("/groups/{}", july.group);
    let set = |pupils: Vec<String>, from: &str| {
        let body = json!({"from": from, "pupil_ids": pupils});
        july.lead.put(&format!("{path}/members"), &july.lead.get(&path).etag(), body).expect(200);
    };
    let stay = ["Ada", "Leo", "Gil"].map(|name| july.pupil(name)).to_vec();
    set([stay.clone(), sams.to_vec()].concat(), "2025-10-01");
    set(stay, "2026-03-02");
    for sam in &sams {
        let page = format!("/pupils/{sam}");
        july.lead.patch(&page, &july.lead.get(&page).etag(), json!({"left_on": "2026-03-01"})).expect(200);
    }
    let applied = july.applied();
    let same = json!({"verdict": "same", "pupil_id": sams[0], "other_id": sams[1]});
    july.lead.post("/pupil-decisions", same).expect(201);
    july.act("undo", &applied.etag()).expect(200);
    assert_eq!(july.lead.get(&path).expect(200)["closed_on"], json!(null));
}

const ALDER: &str = "pupil_ref,given_name,family_name,date_of_birth,year_group,class_name\n\
    A1,Zoe,Bell,2020-05-31,2,Alder\nA2,Max,Bell,2020-06-30,2,Alder\n";

#[test]
fn groups_of_one_who_left_with_a_file_are_not_overwritten() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, ALDER, json!({}), "2026-11-25");
    let pupils = lead.get("/pupils").expect(200)["items"].clone();
    let of = |given: &str| {
        let found = pupils.as_array().unwrap().iter().find(|one| text(&one["name"]).starts_with(given));
        text(&found.unwrap()["id"])
    };
    let (sequence, _) = school.sequence();
    let group = school.group("Alder", &sequence, &[&of("Max"), &of("Zoe")]);
    // Max leaves with the day before; then the lead says that he was in no group since October.
    let without = ALDER.split_once("A2").unwrap().0;
    let left = import(&lead, without, json!({"leavers": 1}), "2026-11-25");
    let path = format!("/groups/{group}");
    let set = |from: &str, pupils: &[String]| {
        let body = json!({"from": from, "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    };
    set("2026-10-05", &[of("Zoe")]);
    let refused = undo(&lead, &left);
    refused.problem(409, "conflict");
    assert!(text(&refused.json()["detail"]).contains("1 pupils of it were changed since"));
}

#[test]
fn what_was_carried_in_of_an_added_pupil_is_work_that_depends_on_the_import() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (sequence, content) = school.sequence();
    let added = import(&lead, ALDER, json!({}), "2026-11-25");
    let zoe = text(&lead.get("/pupils").expect(200)["items"][1]["id"]);
    let group = school.group("Alder", &sequence, &[&zoe]);
    let path = format!("/groups/{group}");
    let item = &plumbline_tests::item_ids(&content, 0)[0];
    let answers = json!({"on": "2026-11-04", "rows": [
        {"pupil_id": zoe, "answers": [{"item_id": item, "outcome": "right"}]}]});
    lead.post(&format!("{path}/carried-in/answers"), answers).expect(200);
    // Out again, as if never in: no group names her any more.
    let body = json!({"from": "2026-09-01", "pupil_ids": []});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    let refused = undo(&lead, &added);
    refused.problem(409, "conflict");
    let said = text(&refused.json()["detail"]);
    assert!(
        said.contains("1 pupils it added are in a group, a lesson, a check or what was carried in"),
        "{said}"
    );
}

#[test]
fn an_import_is_not_taken_back_over_a_merge() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // Nelly, by hand, and once more by a file: made one, with the file's record kept.
    let by_hand =
        text(&lead.post("/pupils", json!({"given_name": "Nelly", "family_name": "Bell"})).expect(201)["id"]);
    let file = "pupil_ref,given_name,family_name,date_of_birth,year_group,class_name\n\
                N1,Nell,Bell,2020-03-31,2,Alder\n";
    let added = import(&lead, file, json!({}), "2026-11-25");
    let pupils = lead.get("/pupils").expect(200)["items"].clone();
    let kept = column(&pupils, "id").into_iter().find(|id| *id != by_hand).unwrap();
    let same = json!({"verdict": "same", "pupil_id": kept, "other_id": by_hand});
    let decided = lead.post("/pupil-decisions", same).expect(201);
    let refused = undo(&lead, &added);
    refused.problem(409, "conflict");
    assert!(text(&refused.json()["detail"]).contains("1 pupils of it were changed since"));
    let path = format!("/pupil-decisions/{}", text(&decided["id"]));
    lead.delete(&path, &text(&decided["etag"])).expect(204);
    undo(&lead, &added).expect(200);
    assert_eq!(column(&lead.get("/pupils").expect(200)["items"], "id"), [by_hand]);
}

#[test]
fn a_class_stays_as_long_as_something_taken_back_would_put_a_pupil_in_it() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, ALDER, json!({}), "2026-09-01");
    let max = text(&lead.get("/pupils").expect(200)["items"][0]["id"]);
    assert_eq!(text(&lead.get(&format!("/pupils/{max}")).expect(200)["given_name"]), "Max");
    // A file adds Ida in Rowan; Max is moved there by hand, and leaves with another file.
    let rowan = format!("{ALDER}A3,Ida,Hart,2020-01-31,2,Rowan\n");
    let first = import(&lead, &rowan, json!({}), "2026-11-25");
    let classes = lead.get("/classes").expect(200)["items"].clone();
    let class = classes.as_array().unwrap().iter().find(|class| class["name"] == "Rowan").unwrap();
    move_to(&lead, &max, class["id"].as_str().unwrap()).expect(200);
    let without: String =
        rowan.lines().filter(|line| !line.starts_with("A2")).map(|line| format!("{line}\n")).collect();
    let second = import(&lead, &without, json!({"leavers": 1}), "2026-11-25");
    let refused = undo(&lead, &first);
    refused.problem(409, "conflict");
    assert!(text(&refused.json()["detail"]).contains("1 classes it added have adults or other pupils"));
    undo(&lead, &second).expect(200);
    assert_eq!(classes_of(&lead, &max), ["Rowan"]);
}

#[test]
fn nobody_is_put_back_into_a_group_beyond_its_last_day() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, ALDER, json!({}), "2026-09-01");
    let [max, zoe] = [0, 1].map(|n| text(&lead.get("/pupils").expect(200)["items"][n]["id"]));
    let (sequence, _) = school.sequence();
    let group = school.group("Alder", &sequence, &[&max, &zoe]);
    let left = import(&lead, ALDER.split_once("A2").unwrap().0, json!({"leavers": 1}), "2026-11-25");
    let path = format!("/groups/{group}");
    let close = lead.clone().with("If-Match", &lead.get(&path).etag());
    close.call("POST", &format!("{path}/close"), Some(&json!({"on": "2026-11-30"}))).expect(204);
    undo(&lead, &left).expect(200);
    let on = |day: &str| column(&lead.get(&format!("{path}?on={day}")).expect(200)["members"], "name");
    assert_eq!((on("2026-11-30").len(), on("2026-12-01").len()), (2, 0));
}

#[test]
fn who_would_leave_is_named_and_nothing_else_is_carried_out() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, ALDER, json!({}), "2026-09-01");
    let shown = lead.post_csv("/roster-imports", ALDER.split_once("A2").unwrap().0.as_bytes()).expect(201);
    assert_eq!(
        (column(&shown["missing"], "name"), column(&shown["missing"], "class_name")),
        (vec!["Max Bell".to_owned()], vec!["Alder".to_owned()])
    );
    // A colleague answers in between: what was seen is carried out, or nothing.
    let path = format!("/roster-imports/{}", text(&shown["id"]));
    lead.put(&format!("{path}/answers"), &text(&shown["etag"]), json!({"leavers": 1})).expect(200);
    let seen = lead.clone().with("If-Match", &text(&shown["etag"]));
    let from = json!({"from": "2026-11-25"});
    seen.call("POST", &format!("{path}/confirm"), Some(&from)).problem(412, "stale");
    let seen = lead.clone().with("If-Match", &lead.get(&path).etag());
    let done = seen.call("POST", &format!("{path}/confirm"), Some(&from)).expect(200);
    assert_eq!(
        (&done["leavers"], column(&done["missing"], "name")),
        (&json!(1), vec!["Max Bell".to_owned()])
    );
}
