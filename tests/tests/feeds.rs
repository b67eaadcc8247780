//! OneRoster archives, whole and of changes.
#![allow(clippy::unwrap_used)]

mod feed;

use feed::{CLASSES, DEMOGRAPHICS, ENROLLMENTS, ROLES, USERS_1_1, USERS_1_2, archive};
use plumbline_tests::{Answer, Client, School, Value, column, json, text};

fn send(who: &Client, bytes: &[u8]) -> Answer {
    who.send("POST", "/api/v1/roster-imports", Some("application/zip"), bytes)
}

fn preview(who: &Client, bytes: &[u8]) -> Value {
    send(who, bytes).expect(201)
}

fn answer(who: &Client, shown: &Value, answers: Value) -> Value {
    who.put(&format!("/roster-imports/{}/answers", text(&shown["id"])), &text(&shown["etag"]), answers)
        .expect(200)
}

fn confirm(who: &Client, shown: &Value, from: &str) -> Answer {
    who.post(&format!("/roster-imports/{}/confirm", text(&shown["id"])), json!({"from": from}))
}

fn pupils(who: &Client) -> Value {
    who.get("/pupils?limit=500").expect(200)["items"].clone()
}

fn pupil(who: &Client, name: &str) -> Value {
    let all = pupils(who);
    let found = all.as_array().unwrap().iter().find(|line| line["name"] == name).unwrap();
    who.get(&format!("/pupils/{}", text(&found["id"]))).expect(200)
}

/// Names of the pupils with their classes.
fn places(who: &Client) -> Vec<(String, String)> {
    let names = column(&pupils(who), "name");
    names
        .into_iter()
        .map(|name| (name.clone(), column(&pupil(who, &name)["classes"], "name").join("+")))
        .collect()
}

fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(one, two)| ((*one).into(), (*two).into())).collect()
}

/// Two pupils and a teacher. B801200005001 is a UPN of the facts page (sum 93, 93 mod 23 = 1: B).
/// Born from 1 September 2020 on is Year 1 in 2026: KG, the grade of five-year-olds. Zoë is in her
/// class and in a set; Max was in Rowan until the summer.
fn bulk() -> Vec<u8> {
    let users = [
        "u1,,,true,zbell,,Zoë,Bell,,B801200005001,,,,,KG,,,Zo,,,s1,",
        "u2,,,true,mreed,,Max,Reed,,1043,,,,,KG,,,,,,s1,",
        "u3,,,true,ahart,,Ada,Hart,,77,,,,,,,,,,,s1,",
    ];
    let roles =
        ["r1,,,u1,primary,student,,,s1,", "r2,,,u2,primary,student,,,s1,", "r3,,,u3,primary,teacher,,,s1,"];
    let enrollments = [
        "e1,,,c1,s1,u1,student,,,",
        "e2,,,c2,s1,u1,student,,,",
        "e3,,,c3,s1,u2,student,,2025-09-01,2026-07-20",
        "e4,,,c1,s1,u2,student,,2026-09-01,2027-07-20",
        "e5,,,c1,s1,u3,teacher,true,,",
    ];
    let born = ["u1,,,2020-09-15,female,", "u2,,,2021-08-31,,", "u3,,,1990-01-01,,"];
    archive(
        "1.2",
        "bulk",
        &[
            ("users", USERS_1_2, &users),
            ("roles", ROLES, &roles),
            ("classes", CLASSES, &THREE_CLASSES),
            ("enrollments", ENROLLMENTS, &enrollments),
            ("demographics", DEMOGRAPHICS, &born),
        ],
    )
}

const THREE_CLASSES: [&str; 3] = [
    "c1,,,Alder,,,,homeroom,,s1,t1,,,",
    "c2,,,Maths 1,,,,scheduled,,s1,t1,,,",
    "c3,,,Rowan,,,,homeroom,,s1,t1,,,",
];

const CHANGED_CLASSES: [&str; 2] = [
    "c1,active,2026-11-20T00:00:00Z,Alder,,,,homeroom,,s1,t1,,,",
    "c3,active,2026-11-20T00:00:00Z,Rowan,,,,homeroom,,s1,t1,,,",
];

#[test]
fn a_whole_archive_brings_pupils_with_class_birth_and_year() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(&lead, &bulk());
    assert_eq!(
        [&shown["format"], &shown["format_version"], &shown["changes_only"], &shown["rows"]],
        [&json!("oneroster"), &json!("1.2"), &json!(false), &json!(2)]
    );
    assert_eq!(
        shown["created"],
        json!([{"line": 2, "name": "Zo Bell", "class_name": "Alder", "date_of_birth": "2020-09-15", "year_group": "year_1", "optional_fields": {}},
               {"line": 3, "name": "Max Reed", "class_name": "Alder", "date_of_birth": "2021-08-31", "year_group": "year_1", "optional_fields": {}}])
    );
    assert_eq!(
        [&shown["new_classes"], &shown["attention"], &shown["questions"]],
        [&json!(["Alder"]), &json!([]), &json!([])]
    );
    assert_eq!(pupils(&lead), json!([]));
    confirm(&lead, &shown, "2026-09-01").expect(200);
    assert_eq!(places(&lead), pairs(&[("Zo Bell", "Alder"), ("Max Reed", "Alder")]));
    let zoe = pupil(&lead, "Zo Bell");
    assert_eq!([&zoe["given_name"], &zoe["date_of_birth"]], [&json!("Zoë"), &json!("2020-09-15")]);
    assert_eq!([&zoe["pupil_ref"], &zoe["upn"]], [&json!("u1"), &json!("••••••••••001")]);
    let max = pupil(&lead, "Max Reed");
    assert_eq!([&max["pupil_ref"], &max["upn"]], [&json!("u2"), &Value::Null]);
    let again = preview(&lead, &bulk());
    assert_eq!(
        [&again["unchanged"], &again["created"], &again["updated"]],
        [&json!(2), &json!([]), &json!([])]
    );
    // Sent under another media type, it is what it is.
    let as_csv = lead.post_csv("/roster-imports", &bulk()).expect(201);
    assert_eq!(as_csv["format"], "oneroster");
}

#[test]
fn the_school_may_choose_the_identifier_as_its_reference() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(&lead, &bulk());
    assert_eq!(
        column(&shown["columns"], "heading"),
        [
            "sourcedId",
            "identifier",
            "UPN",
            "givenName",
            "familyName",
            "preferredGivenName",
            "birthDate",
            "grades",
            "class",
            "sex"
        ]
    );
    let columns = json!([{"column": "A", "field": null}, {"column": "B", "field": "pupil_ref"}]);
    let shown = answer(&lead, &shown, json!({"columns": columns}));
    confirm(&lead, &shown, "2026-09-01").expect(200);
    // Her identifier is a UPN, so that she has no reference.
    assert_eq!(pupil(&lead, "Zo Bell")["pupil_ref"], Value::Null);
    assert_eq!(pupil(&lead, "Max Reed")["pupil_ref"], "1043");
    // It is remembered.
    assert_eq!(preview(&lead, &bulk())["unchanged"], json!(2));
}

#[test]
fn a_school_with_references_of_its_own_gets_nobody_twice() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let max = json!({"pupil_ref": "1043", "given_name": "Max", "family_name": "Reed", "date_of_birth": "2021-08-31"});
    let max = text(&lead.post("/pupils", max).expect(201)["id"]);
    // The archive calls him u2: who that is, a person says.
    let shown = preview(&lead, &bulk());
    assert_eq!(column(&shown["created"], "name"), ["Zo Bell"]);
    assert_eq!(
        shown["held"],
        json!([{"line": 3, "name": "Max Reed", "candidates": [
            {"pupil_id": max, "name": "Max Reed", "pupil_ref": "1043", "date_of_birth": "2021-08-31",
             "class_name": null, "matched_by": "contradiction"}]}])
    );
    let columns = json!([{"column": "A", "field": null}, {"column": "B", "field": "pupil_ref"}]);
    let shown = answer(&lead, &shown, json!({"columns": columns}));
    assert_eq!([&shown["held"], &shown["completed"][0]["matched_by"]], [&json!([]), &json!("reference")]);
}

#[test]
fn changes_touch_whom_they_name_and_leavers_need_their_number() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    confirm(&lead, &preview(&lead, &bulk()), "2026-09-01").expect(200);
    lead.post("/pupils", json!({"given_name": "Ida", "family_name": "Moor"})).expect(201);
    // Max is gone; Zo, whose user has not changed, moves to Rowan.
    let day = "2026-11-20T00:00:00Z";
    let users = [format!("u2,tobedeleted,{day},true,mreed,,Max,Reed,,1043,,,,,KG,,,,,,s1,")];
    let enrollments = [
        format!("e1,tobedeleted,{day},c1,s1,u1,student,,,"),
        format!("e6,active,{day},c3,s1,u1,student,,2026-11-23,"),
        format!("e4,tobedeleted,{day},c1,s1,u2,student,,,"),
    ];
    let changes = archive(
        "1.2",
        "delta",
        &[
            ("users", USERS_1_2, &users.each_ref().map(String::as_str)),
            ("classes", CLASSES, &CHANGED_CLASSES),
            ("enrollments", ENROLLMENTS, &enrollments.each_ref().map(String::as_str)),
        ],
    );
    let (zoe, max) = (pupil(&lead, "Zo Bell"), pupil(&lead, "Max Reed"));
    let shown = preview(&lead, &changes);
    assert_eq!(
        [&shown["changes_only"], &shown["absent"], &shown["leavers"]],
        [&json!(true), &json!(0), &json!(0)]
    );
    // Her row follows the one line of users.csv, line 2.
    assert_eq!(
        shown["updated"],
        json!([{"line": 3, "pupil_id": zoe["id"], "name": "Zo Bell", "class_name": "Alder", "matched_by": "reference",
                "fields": [{"field": "class_name", "old": "Alder", "new": "Rowan"}], "optional_fields": []}])
    );
    let gone = json!([{"line": 2, "pupil_id": max["id"], "name": "Max Reed", "matched_by": "reference", "class_name": null}]);
    assert_eq!(shown["gone"], gone);
    let shown = answer(&lead, &shown, json!({"leavers": 2}));
    assert_eq!(
        confirm(&lead, &shown, "2026-11-23").problem(422, "invalid"),
        ["answers.leavers: 1 pupils of the school are said to have left"]
    );
    let shown = answer(&lead, &shown, json!({}));
    confirm(&lead, &shown, "2026-11-23").expect(200);
    let all_here = pairs(&[("Zo Bell", "Rowan"), ("Ida Moor", ""), ("Max Reed", "Alder")]);
    let sorted = |mut places: Vec<(String, String)>| {
        places.sort();
        places
    };
    assert_eq!(sorted(places(&lead)), sorted(all_here.clone()), "nobody gave the number");

    let shown = preview(&lead, &changes);
    assert_eq!([&shown["unchanged"], &shown["gone"]], [&json!(1), &gone]);
    let shown = answer(&lead, &shown, json!({"leavers": 1}));
    assert_eq!(shown["leavers"], 1);
    confirm(&lead, &shown, "2026-11-23").expect(200);
    assert_eq!(sorted(places(&lead)), sorted(pairs(&[("Zo Bell", "Rowan"), ("Ida Moor", "")])));
    // The day before the day the changes hold from.
    assert_eq!(lead.get(&format!("/pupils/{}", text(&max["id"]))).expect(200)["left_on"], "2026-11-22");
    let again = preview(&lead, &changes);
    assert_eq!([&again["unchanged"], &again["gone"]], [&json!(2), &json!([])]);
    let undo = format!("/roster-imports/{}/undo", text(&shown["id"]));
    lead.call("POST", &undo, None).expect(200);
    assert_eq!(sorted(places(&lead)), sorted(all_here));
}

#[test]
fn leaving_a_class_is_not_leaving_the_school() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    confirm(&lead, &preview(&lead, &bulk()), "2026-09-01").expect(200);
    let gone = [
        "e4,tobedeleted,2026-11-20T00:00:00Z,c1,s1,u2,student,,,",
        "e9,tobedeleted,2026-11-20T00:00:00Z,c9,s1,u1,student,,,",
    ];
    let changes = archive(
        "1.2",
        "delta",
        &[("classes", CLASSES, &CHANGED_CLASSES), ("enrollments", ENROLLMENTS, &gone)],
    );
    let max = pupil(&lead, "Max Reed");
    let shown = preview(&lead, &changes);
    assert_eq!(
        shown["gone"],
        json!([{"line": 3, "pupil_id": max["id"], "name": "Max Reed", "matched_by": "reference", "class_name": "Alder"}])
    );
    // A class that nothing names is said, and nothing is done about it.
    let said = column(&shown["attention"], "message");
    assert_eq!(said, ["left class c9, which classes.csv does not name: nothing is done about it"]);
    let shown = answer(&lead, &shown, json!({"leavers": 1}));
    confirm(&lead, &shown, "2026-11-23").expect(200);
    assert_eq!(places(&lead), pairs(&[("Zo Bell", "Alder"), ("Max Reed", "")]));
    assert_eq!(pupil(&lead, "Max Reed")["left_on"], Value::Null);
    lead.call("POST", &format!("/roster-imports/{}/undo", text(&shown["id"])), None).expect(200);
    assert_eq!(places(&lead), pairs(&[("Zo Bell", "Alder"), ("Max Reed", "Alder")]));
}

#[test]
fn changes_add_nobody_of_whom_they_do_not_say_enough() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let day = "2026-11-20T00:00:00Z";
    // Without a role Ada may be a teacher; of u8 there is nothing but an enrolment.
    let users = [
        format!("u3,active,{day},true,ahart,,Ada,Hart,,,,,,,,,,,,,s1,"),
        format!("u7,tobedeleted,{day},true,x,,Leo,Reed,,,,,,,,,,,,,s1,"),
    ];
    let enrolled = [format!("e8,active,{day},c1,s1,u8,student,,,")];
    let changes = archive(
        "1.2",
        "delta",
        &[
            ("users", USERS_1_2, &users.each_ref().map(String::as_str)),
            ("classes", CLASSES, &CHANGED_CLASSES),
            ("enrollments", ENROLLMENTS, &enrolled.each_ref().map(String::as_str)),
        ],
    );
    let shown = preview(&lead, &changes);
    let rejected = shown["rejected"].as_array().unwrap().iter().map(|found| found["line"].clone());
    assert_eq!(rejected.collect::<Vec<_>>(), [json!(2), json!(4)]);
    assert!(text(&shown["rejected"][0]["message"]).contains("does not say enough"));
    assert_eq!([&shown["created"], &shown["gone"]], [&json!([]), &json!([])]);
    assert!(text(&shown["attention"][0]["message"]).contains("no pupil of the school is this one"));
    confirm(&lead, &shown, "2026-11-23").expect(200);
    assert_eq!(pupils(&lead), json!([]));
}

/// An archive of 1.1 with these rows of pupils.
fn one_one(users: &[&str], born: &[&str]) -> Vec<u8> {
    archive("1.1", "bulk", &[("users", USERS_1_1, users), ("demographics", DEMOGRAPHICS, born)])
}

#[test]
fn version_1_1_says_the_role_with_the_user() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let users = ["a,,,true,s1,student,x,,Noa,Kerr,,,,,,,PK,", "b,,,true,s1,teacher,y,,Eve,Kerr,,,,,,,,"];
    let shown = preview(&lead, &one_one(&users, &["a,,,2021-09-01,,"]));
    // Born on 1 September 2021 is four on the day before 1 September 2026: Reception.
    assert_eq!(
        [&shown["format_version"], &shown["created"]],
        [
            &json!("1.1"),
            &json!([{"line": 2, "name": "Noa Kerr", "class_name": null, "date_of_birth": "2021-09-01", "year_group": "reception",
                     "optional_fields": {}}])
        ]
    );
    assert_eq!(shown["not_carried"], json!(["preferred_name", "class_name"]));
}

#[test]
fn grades_that_mean_something_else_are_asked_about() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // Year numbers where the codes are those of six-year-olds: 01 is Year 2 by age, the birthday says Year 1.
    let users = ["a,,,true,s1,student,x,,Noa,Kerr,,,,,,,01,", "b,,,true,s1,student,y,,Eve,Lowe,,,,,,,14,"];
    let file = one_one(&users, &["a,,,2020-09-01,,"]);
    let shown = preview(&lead, &file);
    assert_eq!(shown["questions"], json!([{"ask": "year_groups", "column": "G", "outside": 1, "of": 1}]));
    assert_eq!(
        column(&shown["rejected"], "message"),
        ["“14” is a grade that no year group here belongs to; known: 01, KG, PK, PR, TK"]
    );
    confirm(&lead, &shown, "2026-09-01").problem(422, "invalid");
    let by_birth = answer(&lead, &shown, json!({"columns": [{"column": "G", "field": null}]}));
    assert_eq!(by_birth["questions"], json!([]));
    assert_eq!(column(&by_birth["created"], "year_group"), ["year_1", ""]);
    let by_grade = answer(&lead, &by_birth, json!({"columns": [{"column": "G", "field": "year_group"}]}));
    assert_eq!(
        [&by_grade["questions"], &by_grade["created"][0]["year_group"]],
        [&json!([]), &json!("year_2")]
    );
}

#[test]
fn an_archive_that_must_not_be_taken_is_refused_whole() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let refused = |bytes: &[u8]| send(&lead, bytes).problem(422, "invalid").join(" ");
    let users =
        ["a,,,true,s1,student,x,,Noa,Kerr,,,,,,,PK,", "b,,,true,s1,teacher,y,,Eve,Kerr,,,,,,,,hunter2"];
    let said = refused(&one_one(&users, &[]));
    assert_eq!(
        said,
        "file: users.csv, line 3, column password: holds a password, which must not be sent here; leave the column empty"
    );
    let users = ["a,,,true,s1,student,x,,Noa,Kerr,,,,,,,PK,", "b,,,true,s2,student,y,,Eve,Lowe,,,,,,,PK,"];
    assert_eq!(
        refused(&one_one(&users, &[])),
        "file: the archive: holds pupils of several schools, send those of one: s1, s2"
    );
    assert_eq!(pupils(&lead), json!([]));
}
