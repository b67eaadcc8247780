//! Optional fields in pupil files: read where they are on, and nowhere kept where they are off.
#![allow(clippy::unwrap_used)]

mod feed;

use feed::{CLASSES, DEMOGRAPHICS, ENROLLMENTS, ROLES, USERS_1_1, USERS_1_2, archive};
use plumbline_tests::{Answer, Client, Database, School, Value, column, json, text};

const HEADER: &str = "pupil_ref,given_name,family_name,date_of_birth,class_name,Sex,SEN status\n";

fn start() -> (School, Client) {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    (school, lead)
}

fn switch_on(lead: &Client, fields: &[&str]) {
    let purpose = json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"});
    for field in fields {
        lead.call("PUT", &format!("/optional-fields/{field}"), Some(&purpose)).expect(200);
    }
}

fn switch_off(lead: &Client, field: &str, remove: usize) -> Answer {
    let all = lead.get("/optional-fields").expect(200)["items"].clone();
    let found = all.as_array().unwrap().iter().find(|one| one["field"] == field).unwrap();
    lead.delete(&format!("/optional-fields/{field}?remove={remove}"), &text(&found["on"]["etag"]))
}

fn preview(lead: &Client, rows: &str) -> Value {
    lead.post_csv("/roster-imports", format!("{HEADER}{rows}").as_bytes()).expect(201)
}

fn confirm(lead: &Client, shown: &Value, from: &str) -> Value {
    let path = format!("/roster-imports/{}/confirm", text(&shown["id"]));
    lead.post(&path, json!({"from": from})).expect(200)
}

fn id(lead: &Client, name: &str) -> String {
    text(&lead.get(&format!("/pupils?find={name}")).expect(200)["items"][0]["id"])
}

/// A field of a pupil: the value today and the days of each.
fn field(lead: &Client, pupil: &str, field: &str) -> (Value, Value) {
    let seen = lead.get(&format!("/pupils/{pupil}/fields")).expect(200)["fields"].clone();
    let found = seen.as_array().unwrap().iter().find(|one| one["field"] == field).unwrap();
    (found["value"].clone(), found["days"].clone())
}

/// Whether a text stands anywhere in the store.
fn is_stored(school: &School, text: &str) -> bool {
    let url = school.server.database.url(&school.server.folder);
    match &school.server.database {
        Database::Sqlite => ["plumbline.db", "plumbline.db-wal"].iter().any(|file| {
            let bytes = std::fs::read(school.server.folder.path().join(file)).unwrap_or_default();
            bytes.windows(text.len()).any(|window| window == text.as_bytes())
        }),
        Database::Postgres { .. } => {
            let mut client = postgres::Client::connect(&url, postgres::NoTls).unwrap();
            let tables = client
                .query(
                    "SELECT table_name::text FROM information_schema.tables WHERE table_schema = 'public'",
                    &[],
                )
                .unwrap();
            tables.iter().any(|row| {
                let table: String = row.get(0);
                let rows =
                    format!("SELECT 1 FROM \"{table}\" t WHERE row_to_json(t)::text LIKE '%{text}%' LIMIT 1");
                !client.query(&rows, &[]).unwrap().is_empty()
            })
        }
    }
}

#[test]
fn a_column_that_is_off_is_said_to_be_withheld_and_kept_nowhere() {
    let (school, lead) = start();
    switch_on(&lead, &["sex"]);
    let rows = "A1,Quillana,Bell,2020-05-31,Alder,F,canarybird\nA2,Max,Bell,2020-06-30,Alder,M,K\n";
    let shown = preview(&lead, rows);
    let withheld = &shown["withheld"];
    assert_eq!(withheld.as_array().unwrap().len(), 1);
    assert_eq!(
        [&withheld[0]["column"], &withheld[0]["heading"], &withheld[0]["field"]],
        [&json!("G"), &json!("SEN status"), &json!("sen")]
    );
    assert!(text(&withheld[0]["why"]).contains("nothing of the column was kept"));
    assert_eq!(shown["created"][0]["optional_fields"], json!({"sex": "F"}));
    assert_eq!((&shown["rejected"], &shown["attention"]), (&json!([]), &json!([])));
    // A file in which no line is the header yet: the column of such values goes all the same.
    let unclear = lead.post_csv("/roster-imports", b"Moniker,SEN status\nQuillana,E\n").expect(201);
    assert_eq!(unclear["questions"][0]["ask"], "columns");
    let path = format!("/roster-imports/{}/answers", text(&unclear["id"]));
    let answer = json!({"columns": [{"column": "A", "field": "given_name"}]});
    let answered = lead.put(&path, &text(&unclear["etag"]), answer).expect(200);
    assert_eq!(column(&answered["withheld"], "field"), ["sen"]);
    // Below a title, what is none of the values is known for what it is once a person points at the header.
    let deep = "Autumn,\nMoniker,SEN status\nQuillana,canarybird\n";
    let deep = lead.post_csv("/roster-imports", deep.as_bytes()).expect(201);
    assert!(is_stored(&school, "canarybird"), "the scan finds what is there");
    let path = format!("/roster-imports/{}/answers", text(&deep["id"]));
    let answer = json!({"columns": [{"column": "A", "field": "given_name"}], "header_line": 2});
    let answered = lead.put(&path, &text(&deep["etag"]), answer).expect(200);
    assert_eq!(column(&answered["withheld"], "field"), ["sen"]);
    // Switched on later, an import that was shown without the column stays without it.
    confirm(&lead, &shown, "2026-09-01");
    switch_on(&lead, &["sen"]);
    let again = lead.get(&format!("/roster-imports/{}", text(&shown["id"]))).expect(200);
    assert_eq!(column(&again["withheld"], "field"), ["sen"]);
    let zoe = id(&lead, "Quillana");
    assert_eq!((field(&lead, &zoe, "sex").0, field(&lead, &zoe, "sen").0), (json!("F"), Value::Null));
}

#[test]
fn nothing_of_a_withheld_column_is_stored() {
    let (school, lead) = start();
    let keyed = lead.with("Idempotency-Key", "pupils-1");
    let file = format!("{HEADER}A1,Quillana,Bell,2020-05-31,Alder,canarybird,canaryfish\n");
    let shown = keyed.post_csv("/roster-imports", file.as_bytes()).expect(201);
    let answers = format!("/roster-imports/{}/answers", text(&shown["id"]));
    let shown = lead.put(&answers, &text(&shown["etag"]), json!({"date_order": "day_first"})).expect(200);
    confirm(&lead.with("Idempotency-Key", "pupils-2"), &shown, "2026-09-01");
    assert!(is_stored(&school, "Quillana"), "the scan finds what is there");
    for canary in ["canarybird", "canaryfish"] {
        assert!(!is_stored(&school, canary), "{canary}");
    }
}

#[test]
fn values_are_read_by_the_packs_spellings_and_dated() {
    let (school, lead) = start();
    switch_on(&lead, &["sex", "sen"]);
    let rows = "A1,Zoe,Bell,2020-05-31,Alder,female,SEN support\nA2,Max,Bell,2020-06-30,Alder,boy,SpLD\n\
                A3,Ida,Hart,2021-01-31,Alder,unspecified,\n";
    let shown = preview(&lead, rows);
    assert_eq!(
        (&shown["columns"][5]["optional_field"], &shown["columns"][6]["optional_field"]),
        (&json!("sex"), &json!("sen"))
    );
    let created = shown["created"].as_array().unwrap();
    let values: Vec<&Value> = created.iter().map(|one| &one["optional_fields"]).collect();
    let wanted = [json!({"sex": "F", "sen": "K"}), json!({"sex": "M"}), json!({"sex": "U"})];
    assert_eq!(values, wanted.iter().collect::<Vec<_>>());
    // What is none of the values is named by line and cell, and not repeated.
    let said = &shown["attention"][0];
    assert_eq!((&said["line"], &said["cell"]), (&json!(3), &json!("G3")));
    assert_eq!(said["message"], "SEN provision: the cell says none of N, K, E, U; what is recorded stays");
    confirm(&lead, &shown, "2026-09-01");
    let zoe = id(&lead, "Zoe");
    let since = json!([{"from": "2026-09-01", "until": null, "value": "K"}]);
    assert_eq!(field(&lead, &zoe, "sen"), (json!("K"), since));
    assert_eq!(field(&lead, &id(&lead, "Max"), "sen").0, Value::Null, "not recorded is not no");
    // The same file again changes nothing.
    let again = preview(&lead, rows);
    assert_eq!(
        (&again["unchanged"], &again["updated"], &again["completed"]),
        (&json!(3), &json!([]), &json!([]))
    );
    // Set by hand: an empty cell leaves it, another value is shown first.
    let path = format!("/pupils/{zoe}/fields/sen");
    lead.put(&path, &lead.get(&format!("/pupils/{zoe}")).etag(), json!({"value": "E"})).expect(200);
    let empty = preview(&lead, "A1,Zoe,Bell,2020-05-31,Alder,F,\n");
    assert_eq!((&empty["unchanged"], &empty["updated"]), (&json!(1), &json!([])));
    let other = preview(&lead, "A1,Zoe,Bell,2020-05-31,Alder,F,K\nA2,Max,Bell,2020-06-30,Alder,M,N\n");
    assert_eq!(
        (&other["updated"][0]["optional_fields"], &other["updated"][0]["fields"]),
        (&json!([{"field": "sen", "old": "E", "new": "K"}]), &json!([]))
    );
    assert_eq!(other["completed"][0]["optional_fields"], json!([{"field": "sen", "old": null, "new": "N"}]));
    assert_eq!(field(&lead, &zoe, "sen").0, "E", "not in silence");
    // Two columns for one field: a person says which counts.
    let twice = lead.post_csv("/roster-imports", b"given_name,Sex,Gender\nJo,F,M\n").expect(201);
    assert_eq!(twice["questions"][0]["why"], "sex stands twice: columns B and C; say which one counts");
    let answers = format!("/roster-imports/{}/answers", text(&twice["id"]));
    let one = json!({"columns": [{"column": "C", "field": null}]});
    let one = lead.put(&answers, &text(&twice["etag"]), one).expect(200);
    assert_eq!(
        (&one["questions"], &one["created"][0]["optional_fields"]),
        (&json!([]), &json!({"sex": "F"}))
    );
    assert_eq!(school.neighbour().get("/pupils").expect(200)["items"], json!([]));
}

#[test]
fn an_undo_puts_values_back() {
    let (_school, lead) = start();
    switch_on(&lead, &["sex", "sen"]);
    confirm(&lead, &preview(&lead, "A1,Zoe,Bell,2020-05-31,Alder,F,N\n"), "2026-09-01");
    let zoe = id(&lead, "Zoe");
    let path = format!("/pupils/{zoe}");
    lead.put(
        &format!("{path}/fields/sen"),
        &lead.get(&path).etag(),
        json!({"value": "U", "from": "2026-10-05"}),
    )
    .expect(200);
    let all = |pupil: &str| lead.get(&format!("/pupils/{pupil}/fields")).expect(200)["fields"].clone();
    let before = all(&zoe);
    let shown = preview(&lead, "A1,Zoe,Bell,2020-05-31,Alder,M,K\nA2,Max,Bell,2020-06-30,Alder,M,K\n");
    confirm(&lead, &shown, "2026-09-01");
    assert_eq!((field(&lead, &zoe, "sen").0, field(&lead, &zoe, "sex").0), (json!("K"), json!("M")));
    assert_eq!(field(&lead, &id(&lead, "Max"), "sen").0, "K");
    let undo = format!("/roster-imports/{}/undo", text(&shown["id"]));
    lead.call("POST", &undo, None).expect(200);
    assert_eq!(all(&zoe), before);
    assert_eq!(column(&lead.get("/pupils").expect(200)["items"], "name"), ["Zoe Bell"]);
    // A value set since is work that depends on the import.
    let shown = preview(&lead, "A1,Zoe,Bell,2020-05-31,Alder,M,K\n");
    confirm(&lead, &shown, "2026-09-01");
    lead.put(&format!("{path}/fields/sen"), &lead.get(&path).etag(), json!({"value": "E"})).expect(200);
    let undo = format!("/roster-imports/{}/undo", text(&shown["id"]));
    lead.call("POST", &undo, None).problem(409, "conflict");
}

#[test]
fn switched_off_it_goes_from_files_that_are_kept_too() {
    let (_school, lead) = start();
    switch_on(&lead, &["sex", "sen"]);
    let keyed = lead.with("Idempotency-Key", "pupils-1");
    let file = format!("{HEADER}A1,Zoe,Bell,2020-05-31,Alder,F,K\n");
    let first = keyed.post_csv("/roster-imports", file.as_bytes()).expect(201);
    assert_eq!(keyed.post_csv("/roster-imports", file.as_bytes()).expect(201)["id"], first["id"]);
    confirm(&lead, &first, "2026-09-01");
    let second = preview(&lead, "A2,Max,Bell,2020-06-30,Alder,M,E\n");
    assert_eq!(second["created"][0]["optional_fields"], json!({"sex": "M", "sen": "E"}));
    assert_eq!(switch_off(&lead, "sen", 1).expect(200)["removed_of"], 1);
    for shown in [&first, &second] {
        let now = lead.get(&format!("/roster-imports/{}", text(&shown["id"]))).expect(200);
        assert_eq!(column(&now["withheld"], "field"), ["sen"]);
        let created = &now["created"][0]["optional_fields"];
        assert_eq!((created["sen"].clone(), created["sex"].is_string()), (Value::Null, true));
    }
    // A repeat of the request is answered with what is kept, without.
    let anew = keyed.post_csv("/roster-imports", file.as_bytes()).expect(201);
    assert_eq!(anew["id"], first["id"]);
    assert_eq!(column(&anew["withheld"], "field"), ["sen"]);
    // What was shown can still be carried out, but for that.
    switch_on(&lead, &["sen"]);
    confirm(&lead, &second, "2026-09-01");
    let max = id(&lead, "Max");
    assert_eq!((field(&lead, &max, "sex").0, field(&lead, &max, "sen").0), (json!("M"), Value::Null));
}

#[test]
fn rostering_and_transfer_files_bring_sex_where_it_is_on() {
    let (_school, lead) = start();
    // 1.1 says the role with the user, 1.2 apart; each of the two children has a line in demographics.
    let born: &[&str] = &["u1,,,2020-05-31,female,", "u2,,,2020-06-30,other,"];
    let old: &[&str] =
        &["u1,,,true,s,student,x,,Zoe,Bell,,,,,,,,", "u2,,,true,s,student,x,,Max,Bell,,,,,,,,"];
    let old = archive("1.1", "bulk", &[("users", USERS_1_1, old), ("demographics", DEMOGRAPHICS, born)]);
    let new: &[&str] = &["u1,,,true,x,,Zoe,Bell,,,,,,,,,,,,,s,", "u2,,,true,x,,Max,Bell,,,,,,,,,,,,,s,"];
    let roles: &[&str] = &["r1,,,u1,primary,student,,,s,", "r2,,,u2,primary,student,,,s,"];
    let classes: &[&str] = &["c1,,,Alder,,,,homeroom,,s,,,,"];
    let enrolled: &[&str] = &["e1,,,c1,s,u1,student,,,", "e2,,,c1,s,u2,student,,,"];
    let new = [
        ("users", USERS_1_2, new),
        ("roles", ROLES, roles),
        ("classes", CLASSES, classes),
        ("enrollments", ENROLLMENTS, enrolled),
        ("demographics", DEMOGRAPHICS, born),
    ];
    let new = archive("1.2", "bulk", &new);
    let transfer = b"<CTfile><CTFpupilData><Pupil><Surname>Moor</Surname><Forename>Ida</Forename>\
                     <DOB>2021-01-31</DOB><Sex>F</Sex></Pupil></CTFpupilData></CTfile>";
    let send =
        |kind: &str, bytes: &[u8]| lead.send("POST", "/api/v1/roster-imports", Some(kind), bytes).expect(201);
    let all = || {
        let [old, new] = [&old, &new].map(|zip| send("application/zip", zip));
        [old, new, send("application/xml", transfer)]
    };
    for shown in all() {
        assert_eq!(column(&shown["withheld"], "field"), ["sex"]);
        assert_eq!(shown["created"][0]["optional_fields"], json!({}));
    }
    switch_on(&lead, &["sex"]);
    for shown in all() {
        let created = &shown["created"];
        assert_eq!((&shown["withheld"], &created[0]["optional_fields"]), (&json!([]), &json!({"sex": "F"})));
        if shown["format"] == "oneroster" {
            // England's pack has no value for it: it is said, and nothing is made up.
            assert_eq!(created[1]["optional_fields"], json!({}));
            assert_eq!(
                shown["attention"][0]["message"],
                "Sex: the cell says none of F, M, U; what is recorded stays"
            );
        }
    }
}

#[test]
fn an_export_holds_them_only_on_request_and_goes_back_in() {
    let (school, lead) = start();
    switch_on(&lead, &["sex", "sen"]);
    let rows = "A1,Zoe,Bell,2020-05-31,Alder,F,K\nA2,Max,Bell,2020-06-30,Alder,,U\n";
    confirm(&lead, &preview(&lead, rows), "2026-09-01");
    assert!(!lead.get("/pupils/export").text.contains("sex"));
    assert_eq!(
        lead.get("/pupils/export?fields=sex,eal").problem(422, "invalid"),
        ["fields: eal is not on; on are: sen, sex"]
    );
    let file = lead.get("/pupils/export?fields=sex,sen");
    assert_eq!(file.status, 200);
    let lines: Vec<&str> = file.text.lines().collect();
    assert!(lines[0].ends_with("class_name,sex,sen,guarded"), "{}", lines[0]);
    assert!(lines[1].contains("Max,Bell,,2020-06-30,") && lines[1].ends_with(",Alder,,U,"), "{}", lines[1]);
    assert!(lines[2].ends_with(",Alder,F,K,"), "{}", lines[2]);
    let again = lead.post_csv("/roster-imports", file.text.as_bytes()).expect(201);
    for list in ["created", "updated", "completed", "held", "rejected", "attention", "withheld"] {
        assert_eq!(again[list], json!([]), "{list}");
    }
    assert_eq!(again["unchanged"], 2);
    lead.get("/pupils/export?fields=sex&upn=true");
    for role in ["teacher", "head", "administrator"] {
        school.staff(role).get("/pupils/export?fields=sex").problem(403, "forbidden");
    }
    let audited = column(&lead.get("/audit-entries").expect(200)["items"], "operation");
    let count = |operation: &str| audited.iter().filter(|one| *one == operation).count();
    assert_eq!(
        [count("pupil.export"), count("pupil.export_with_fields"), count("pupil.export_with_upn_and_fields")],
        [1, 1, 1]
    );
}
