//! The change of school year: planned and rehearsed in July, in force on 1 September, reversible.
#![allow(clippy::unwrap_used)]

mod july;

use july::{July, PATH};
use plumbline_tests::{School, Value, column, json, text};

/// By name: Gil Hart, Leo Lark, Rey Moor, Ada Swift, Uma Vale.
fn before() -> Value {
    json!({"classes": [["Elm", ["Leo Lark", "Rey Moor", "Ada Swift"]], ["Oak", ["Gil Hart", "Uma Vale"]]],
           "pupils": [["Gil", "year_2", "Oak", "Elm"], ["Leo", "year_1", "Elm", "Elm"],
                      ["Rey", "reception", "Elm", null], ["Ada", "reception", "Elm", "Elm"],
                      ["Uma", "year_2", "Oak", null]],
           "group": ["Gil Hart", "Leo Lark", "Ada Swift"]})
}

fn after() -> Value {
    json!({"classes": [["Birch", ["Rey Moor"]], ["Elm", ["Ada Swift"]], ["Oak", ["Leo Lark"]]],
           "pupils": [["Leo", "year_2", "Oak", null], ["Rey", "year_1", "Birch", null],
                      ["Ada", "year_1", "Elm", null]],
           "group": []})
}

#[test]
fn the_rehearsal_shows_what_would_change_and_changes_nothing() {
    let july = July::new();
    let plan = july.plan().expect(200);
    assert_eq!(
        (&plan["status"], &plan["starts_on"], &plan["stale"]),
        (&json!("draft"), &json!("2026-09-01"), &json!(false))
    );
    assert_eq!((&plan["leaving"], &plan["staying"], &plan["questions"]), (&json!(2), &json!(3), &json!([])));
    let moves: Vec<Value> = plan["pupils"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| json!([p["name"], p["from"], p["to"], p["leaves"], p["year_group_before"], p["year_group"]]))
        .collect();
    // Leo is six on 31 August 2026, so Year 2 by birth too; Rey stays a year below the year of birth.
    let expected = json!([
        ["Gil Hart", ["Oak"], [], true, "year_2", null],
        ["Leo Lark", ["Elm"], ["Oak"], false, "year_1", "year_2"],
        ["Rey Moor", ["Elm"], ["Birch"], false, "reception", "year_1"],
        ["Ada Swift", ["Elm"], ["Elm"], false, "reception", "year_1"],
        ["Uma Vale", ["Oak"], [], true, "year_2", null],
    ]);
    assert_eq!(json!(moves), expected);
    let classes = plan["classes"].as_array().unwrap().iter();
    let classes: Vec<Value> = classes
        .map(|c| {
            json!([
                c["name"],
                c["id"].is_null(),
                c["pupils_before"],
                c["pupils"],
                column(&c["adults"], "name")
            ])
        })
        .collect();
    let expected = json!([
        ["Birch", true, 0, 1, []],
        ["Elm", false, 3, 1, ["teacher 2 person"]],
        ["Oak", false, 2, 1, []]
    ]);
    assert_eq!(json!(classes), expected);
    let years = plan["year_groups"].as_array().unwrap().iter();
    let years: Vec<Value> = years.map(|year| json!([year["name"], year["pupils"]])).collect();
    assert_eq!(json!(years), json!([["Nursery", 0], ["Reception", 0], ["Year 1", 2], ["Year 2", 1]]));
    assert_eq!(plan["groups"], json!([{"id": july.group, "name": "Elm", "ends": true}]));
    let warnings = plan["warnings"].as_array().unwrap().iter();
    let warnings: Vec<Value> = warnings.map(|w| json!([w["what"], w["pupil_id"], w["class"]])).collect();
    let expected = json!([
        ["out_of_cohort", july.pupil("Rey"), null],
        ["no_adult", null, "Birch"],
        ["no_adult", null, "Oak"]
    ]);
    assert_eq!(json!(warnings), expected);
    assert_eq!(july.today(), before());
    assert_eq!(july.lead.get(PATH).expect(200), plan);
}

#[test]
fn applied_in_july_it_is_there_on_the_first_of_september() {
    let mut july = July::new();
    let summer = july.report();
    let of = |rows: &[(&str, u64)]| rows.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect::<Vec<_>>();
    assert_eq!(
        summer,
        [of(&[("Elm", 3), ("Oak", 2)]), of(&[("Reception", 2), ("Year 1", 1), ("Year 2", 2)])]
    );
    july.applied();
    assert_eq!(july.today(), before());
    july.on("2026-08-31");
    assert_eq!(july.today(), before());
    // The teacher of the old year still has Elm, the one of the new year not yet.
    let sees = |july: &July, who: &str| {
        let signed_in = july.school.sign_in(&School::email(who));
        let client = july.school.nobody().with_token(&text(&signed_in["access_token"]));
        column(&client.get("/classes").expect(200)["items"], "name")
    };
    assert_eq!([sees(&july, "teacher"), sees(&july, "teacher:2")], [vec!["Elm".to_owned()], vec![]]);
    july.on("2026-09-01");
    assert_eq!(july.today(), after());
    assert_eq!([sees(&july, "teacher"), sees(&july, "teacher:2")], [vec![], vec!["Elm".to_owned()]]);
    // Leavers keep their place, and everybody the class and year group, in the term that is over.
    assert_eq!(july.report(), summer);
    let group = july.lead.get(&format!("/groups/{}", july.group)).expect(200);
    assert_eq!(group["closed_on"], "2026-08-31");
    let records = july.lead.get(&format!("/groups/{}/lesson-records", july.group)).expect(200);
    assert_eq!(records["items"].as_array().unwrap().len(), 1);
}

#[test]
fn one_who_left_with_it_comes_back() {
    let mut july = July::new();
    july.applied();
    let summer = july.report();
    july.on("2026-09-14");
    let path = format!("/pupils/{}", july.pupil("Uma"));
    let left = july.lead.get(&path);
    assert_eq!((&left.expect(200)["left_on"], &left.json()["classes"]), (&json!("2026-08-31"), &json!([])));
    let body = json!({"left_on": null, "class_id": july.class("Oak"), "from": "2026-09-14"});
    july.lead.patch(&path, &left.etag(), body).expect(200);
    let listed = july.today();
    assert_eq!(listed["classes"][2], json!(["Oak", ["Leo Lark", "Uma Vale"]]));
    assert_eq!(july.report(), summer);
    // Work that depends on the rollover.
    let refused = july.act("undo", &july.lead.get(PATH).etag());
    refused.problem(409, "conflict");
    assert_eq!(refused.json()["detail"], "other work depends on it: 1 pupils were given other places since");
}

#[test]
fn it_is_taken_back_whole_and_can_be_applied_again() {
    let mut july = July::new();
    let class = |july: &July| july.lead.get(&format!("/classes/{}", july.class("Elm"))).expect(200);
    let group = |july: &July| july.lead.get(&format!("/groups/{}", july.group)).expect(200);
    let (class_before, group_before) = (class(&july), group(&july));
    let undone = july.act("undo", &july.applied().etag());
    assert_eq!((&undone.expect(200)["status"], &undone.json()["stale"]), (&json!("draft"), &json!(false)));
    assert_eq!(july.today(), before());
    assert_eq!((class(&july), group(&july)), (class_before, group_before));
    assert_eq!(column(&july.lead.get("/classes").expect(200)["items"], "name"), ["Elm", "Oak"]);
    july.act("undo", &undone.etag()).problem(409, "conflict");
    july.on("2026-09-01");
    assert_eq!(july.today(), before());
    // A day late is still in time: it is dated to the first day all the same.
    july.on("2026-09-02");
    july.act("apply", &undone.etag()).expect(200);
    assert_eq!(july.today(), after());
    july.act("undo", &july.lead.get(PATH).etag()).expect(200);
    assert_eq!(july.today(), before());
}

#[test]
fn a_plan_is_not_applied_unless_it_is_whole_and_the_latest() {
    let july = July::new();
    let whole = july.choices();
    let mut open = whole.clone();
    open["classes"].as_array_mut().unwrap().pop();
    let saved = july.lead.call("PUT", PATH, Some(&open));
    let oak = json!([{"id": july.class("Oak"), "name": "Oak", "pupils": 2}]);
    assert_eq!(saved.expect(200)["questions"], oak);
    let refused = july.act("apply", &saved.etag()).problem(422, "invalid");
    assert_eq!(refused, ["classes: say where all pupils of these classes go: Oak"]);
    // A known plan is changed with its ETag.
    july.lead.call("PUT", PATH, Some(&whole)).problem(428, "precondition_required");
    let plan = july.lead.put(PATH, &saved.etag(), whole.clone());
    plan.expect(200);
    july.lead.put(PATH, &saved.etag(), whole.clone()).problem(412, "stale");
    july.act("apply", &saved.etag()).problem(412, "stale");
    // Another child joins Elm: the plan was made without.
    let ida =
        json!({"given_name": "Ida", "class_id": july.class("Elm"), "from": "2026-07-15", "year_group": "R"});
    july.lead.post("/pupils", ida).expect(201);
    assert_eq!(july.lead.get(PATH).expect(200)["stale"], true);
    july.act("apply", &plan.etag()).problem(409, "rollover_stale");
    let plan = july.lead.put(PATH, &plan.etag(), whole.clone());
    assert_eq!(plan.expect(200)["staying"], 4);
    let applied = july.act("apply", &plan.etag());
    assert_eq!(applied.expect(200)["status"], "applied");
    // Twice is once; and what is applied is no plan any more.
    assert_eq!(july.act("apply", &plan.etag()).expect(200), applied.json());
    july.lead.put(PATH, &applied.etag(), whole).problem(409, "conflict");
}

#[test]
fn what_cannot_be_planned_is_refused_with_its_field() {
    let july = July::new();
    let none = json!({});
    let refused = july.lead.call("PUT", "/rollovers/2027", Some(&none)).problem(422, "invalid");
    assert_eq!(refused, ["year: is no school year of the calendar; save the year first"]);
    july.lead.get("/rollovers/2026").problem(404, "not_found");
    let away =
        json!({"classes": [{"class_id": july.class("Oak")}], "adults": [{"class": "Yew", "staff_ids": []}]});
    let refused = july.lead.call("PUT", PATH, Some(&away)).problem(422, "invalid");
    let expected = [
        "classes[0]: say either `to` with a class or `leaves`",
        "adults[0].class: is no class of this school, and no pupil goes to it",
    ];
    assert_eq!(refused, expected);
}

#[test]
fn a_lesson_of_the_new_year_depends_on_it() {
    let mut july = July::new();
    let mut choices = july.choices();
    choices["groups_ending"] = json!([]);
    let plan = july.lead.call("PUT", PATH, Some(&choices));
    july.act("apply", &plan.etag()).expect(200);
    july.on("2026-09-03");
    // The group goes on, without Gil, who left.
    let path = format!("/groups/{}", july.group);
    let group = july.lead.get(&path).expect(200);
    assert_eq!(column(&group["members"], "name"), ["Leo Lark", "Ada Swift"]);
    let records = july.lead.get(&format!("{path}/lesson-records")).expect(200);
    let body =
        json!({"on": "2026-09-03", "lesson_id": records["items"][0]["lesson_id"], "outcome": "retaught"});
    let record = july.lead.post(&format!("{path}/lesson-records"), body);
    record.expect(201);
    let refused = july.act("undo", &july.lead.get(PATH).etag());
    refused.problem(409, "conflict");
    let said = "other work depends on it: 2 places in registers of lessons lie in the school year";
    assert_eq!(refused.json()["detail"], said);
    // Deleted, nothing depends on it any more.
    let record = format!("/lesson-records/{}", text(&record.json()["id"]));
    july.lead
        .clone()
        .with("If-Match", &july.lead.get(&record).etag())
        .call("DELETE", &record, None)
        .expect(204);
    july.act("undo", &july.lead.get(PATH).etag()).expect(200);
    assert_eq!(july.today(), before());
}

#[test]
fn catch_up_of_the_new_year_depends_on_it() {
    let mut july = July::new();
    let mut choices = july.choices();
    choices["groups_ending"] = json!([]);
    let plan = july.lead.call("PUT", PATH, Some(&choices));
    july.act("apply", &plan.etag()).expect(200);
    july.on("2026-09-03");
    let path = format!("/groups/{}", july.group);
    let items = july.lead.get(&format!("{path}/lesson-records")).expect(200)["items"][0]["items"].clone();
    let body = json!({"on": "2026-09-03", "items": items, "pupil_ids": [july.pupil("Ada")]});
    let record = july.lead.post(&format!("{path}/catch-up-records"), body);
    record.expect(201);
    let refused = july.act("undo", &july.lead.get(PATH).etag());
    refused.problem(409, "conflict");
    let said = "other work depends on it: 1 places in catch-up records lie in the school year";
    assert_eq!(refused.json()["detail"], said);
    let record_path = format!("/catch-up-records/{}", text(&record.json()["id"]));
    july.lead.delete(&record_path, &record.etag()).expect(204);
    july.act("undo", &july.lead.get(PATH).etag()).expect(200);
}

#[test]
fn it_can_be_taken_back_until_a_last_day() {
    let mut july = July::new();
    let applied = july.applied();
    // 28 days from 1 September on, when it takes effect.
    assert_eq!(applied.json()["undo_until"], "2026-09-29");
    july.on("2026-09-29");
    july.act("undo", "\"v1\"").problem(412, "stale");
    july.on("2026-09-30");
    let refused = july.act("undo", &applied.etag());
    refused.problem(410, "gone");
    let said = "it can no longer be taken back: what was before was kept until 2026-09-29";
    assert_eq!(refused.json()["detail"], said);
    let audited = july.lead.get("/audit-entries").expect(200)["items"].clone();
    let dropped = audited.as_array().unwrap().iter().find(|entry| entry["operation"] == "rollover.drop");
    assert_eq!(dropped.unwrap()["staff_id"], july.school.staff_id("lead"));
}
