//! Pupil files: preview, confirm, and everything a file must not be able to do.
#![allow(clippy::unwrap_used)]

mod roster_answers;

use plumbline_tests::{Answer, Client, School, Value, column, json, text};

const HEADER: &str = "pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name\n";

/// Uploads rows under the usual header; the preview.
fn preview(who: &Client, rows: &str) -> Value {
    who.post_csv("/roster-imports", format!("{HEADER}{rows}").as_bytes()).expect(201)
}

fn confirm(who: &Client, preview: &Value, from: &str) -> Answer {
    who.post(&format!("/roster-imports/{}/confirm", text(&preview["id"])), json!({"from": from}))
}

fn import(who: &Client, rows: &str) -> Value {
    confirm(who, &preview(who, rows), "2026-09-01").expect(200)
}

/// How many a file would create, change, leave, and reject.
fn counts(preview: &Value) -> [usize; 4] {
    let count = |field: &str| preview[field].as_array().unwrap().len();
    let unchanged = usize::try_from(preview["unchanged"].as_u64().unwrap()).unwrap();
    [count("created"), count("updated") + count("completed"), unchanged, count("rejected")]
}

fn pupils(who: &Client) -> Value {
    who.get("/pupils?limit=500").expect(200)["items"].clone()
}

fn pupil(who: &Client, name: &str) -> Value {
    let all = pupils(who);
    let found: Vec<&Value> = all.as_array().unwrap().iter().filter(|line| line["name"] == name).collect();
    assert_eq!(found.len(), 1, "{name}: {all}");
    who.get(&format!("/pupils/{}", text(&found[0]["id"]))).expect(200)
}

fn classes_of(pupil: &Value) -> Vec<String> {
    column(&pupil["classes"], "name")
}

const THREE: &str = "A1,Zoë,Bell,Zo,2020-05-31,Year 1,Alder\n\
    A2,Max,O’Neill,,31/12/2019,y1,Alder\n\
    ,Sukarno,,,2020-01-02,Reception,Rowan\n";

#[test]
fn a_preview_writes_nothing_and_a_confirmation_what_was_shown() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let answer = lead.post_csv("/roster-imports", format!("{HEADER}{THREE}").as_bytes());
    let shown = answer.expect(201);
    assert_eq!(answer.header("Location"), format!("/api/v1/roster-imports/{}", text(&shown["id"])));
    assert_eq!(
        (&shown["status"], &shown["encoding"], &shown["rows"]),
        (&json!("preview"), &json!("UTF-8"), &json!(3))
    );
    assert_eq!(counts(&shown), [3, 0, 0, 0]);
    assert_eq!(column(&shown["created"], "name"), ["Zo Bell", "Max O’Neill", "Sukarno"]);
    assert_eq!(
        shown["created"][2],
        json!({"line": 4, "name": "Sukarno", "class_name": "Rowan", "date_of_birth": "2020-01-02", "year_group": "reception",
               "optional_fields": {}})
    );
    assert_eq!(shown["new_classes"], json!(["Alder", "Rowan"]));
    assert_eq!(pupils(&lead), json!([]));
    assert_eq!(lead.get("/classes").expect(200)["items"], json!([]));

    let done = confirm(&lead, &shown, "2026-09-01").expect(200);
    assert_eq!(done["status"], "confirmed");
    let kept = lead.get(&format!("/roster-imports/{}", text(&shown["id"]))).expect(200);
    assert_eq!(kept, done);
    let zoe = pupil(&lead, "Zo Bell");
    assert_eq!((&zoe["given_name"], &zoe["date_of_birth"]), (&json!("Zoë"), &json!("2020-05-31")));
    assert_eq!((&zoe["pupil_ref"], &zoe["year_group"]), (&json!("A1"), &json!("year_1")));
    assert_eq!(classes_of(&zoe), ["Alder"]);
    // Day before month, and another spelling of the year group.
    let max = pupil(&lead, "Max O’Neill");
    assert_eq!((&max["date_of_birth"], &max["year_group"]), (&json!("2019-12-31"), &json!("year_1")));
    let one_name = pupil(&lead, "Sukarno");
    assert_eq!((&one_name["family_name"], &one_name["year_group"]), (&Value::Null, &json!("reception")));
}

#[test]
fn the_same_file_twice_changes_nothing() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, THREE);
    let before = pupils(&lead);
    let again = preview(&lead, THREE);
    assert_eq!(counts(&again), [0, 0, 3, 0]);
    assert_eq!(again["new_classes"], json!([]));
    confirm(&lead, &again, "2026-11-25").expect(200);
    assert_eq!(pupils(&lead), before);
}

#[test]
fn confirming_twice_carries_out_once() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(&lead, THREE);
    let first = confirm(&lead, &shown, "2026-09-01").expect(200);
    assert_eq!(confirm(&lead, &shown, "2026-09-01").expect(200), first);
    assert_eq!(pupils(&lead).as_array().unwrap().len(), 3);
}

#[test]
fn twins_and_namesakes_stay_two_and_carry_what_tells_them_apart() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    // Twins share family name and birthday; namesakes everything but the reference, or the birthday.
    let rows = "T1,Ada,Hart,,2020-03-01,1,Alder\nT2,Ida,Hart,,2020-03-01,1,Alder\n\
        N1,Maya,Okafor,,2020-05-03,1,Alder\nN2,Maya,Okafor,,2020-05-03,1,Rowan\n\
        ,Leo,Reed,,2020-05-01,1,Alder\n,Leo,Reed,,2020-05-02,1,Alder\n";
    let shown = preview(&lead, rows);
    assert_eq!(counts(&shown), [6, 0, 0, 0]);
    confirm(&lead, &shown, "2026-09-01").expect(200);
    let listed = pupils(&lead);
    assert_eq!(
        column(&listed, "name"),
        ["Ada Hart", "Ida Hart", "Maya Okafor", "Maya Okafor", "Leo Reed", "Leo Reed"]
    );
    let mut apart = column(&listed, "apart");
    apart[2..4].sort();
    apart[4..6].sort();
    // By class where that does it, else by class and birthday; never a reference.
    assert_eq!(apart, ["", "", "Alder", "Rowan", "Alder, 1 May", "Alder, 2 May"]);
    // Without the reference nobody can say which Maya is meant.
    let unclear = preview(&lead, ",Maya,Okafor,,2020-05-03,1,Rowan\n");
    assert_eq!(counts(&unclear), [0, 0, 0, 0]);
    assert_eq!(column(&unclear["held"][0]["candidates"], "matched_by"), ["name_and_birth", "name_and_birth"]);
    let mut classes = column(&unclear["held"][0]["candidates"], "class_name");
    classes.sort();
    assert_eq!(classes, ["Alder", "Rowan"], "who is asked sees who is meant");
    assert_eq!(counts(&preview(&lead, rows)), [0, 0, 6, 0]);
}

#[test]
fn a_pupil_renamed_and_moved_is_the_same_pupil() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, THREE);
    let before = pupil(&lead, "Max O’Neill");
    let moved = preview(&lead, "A2,Maximilian,O’Neill,Max,2019-12-31,1,Rowan\n");
    assert_eq!(counts(&moved), [0, 1, 0, 0]);
    assert_eq!(
        moved["updated"],
        json!([{"line": 2, "pupil_id": before["id"], "name": "Max O’Neill", "class_name": "Alder", "matched_by": "reference",
                "optional_fields": [], "fields": [
            {"field": "given_name", "old": "Max", "new": "Maximilian"},
            {"field": "preferred_name", "old": null, "new": "Max"},
            {"field": "class_name", "old": "Alder", "new": "Rowan"}]}])
    );
    confirm(&lead, &moved, "2026-11-23").expect(200);
    let after = pupil(&lead, "Max O’Neill");
    assert_eq!((&after["id"], &after["given_name"]), (&before["id"], &json!("Maximilian")));
    assert_eq!(classes_of(&after), ["Rowan"]);
    assert_eq!(pupils(&lead).as_array().unwrap().len(), 3, "who is not in the file is not touched");
    assert_eq!(classes_of(&pupil(&lead, "Zo Bell")), ["Alder"]);
}

#[test]
fn blank_cells_and_missing_columns_blank_nothing() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, THREE);
    let before = pupil(&lead, "Zo Bell");
    let blank = preview(&lead, "A1,Zoë,,,,,\n");
    assert_eq!(counts(&blank), [0, 0, 1, 0]);
    let narrow = lead.post_csv("/roster-imports", "given_name,pupil_ref\nZoe,A1\n".as_bytes()).expect(201);
    // The one thing that differs is the spelling of the name.
    assert_eq!(column(&narrow["updated"][0]["fields"], "field"), ["given_name"]);
    let not_carried = ["upn", "family_name", "preferred_name", "date_of_birth", "year_group", "class_name"];
    assert_eq!(narrow["not_carried"], json!(not_carried));
    confirm(&lead, &blank, "2026-11-25").expect(200);
    confirm(&lead, &narrow, "2026-11-25").expect(200);
    let mut after = pupil(&lead, "Zo Bell");
    assert_eq!(after["given_name"], "Zoe");
    after["given_name"] = before["given_name"].clone();
    assert_eq!(after, before);
}

#[test]
fn rows_that_make_no_sense_are_named_and_left_out() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(
        &lead,
        "A1,Zoë,Bell,,2020-05-31,Year 1,Alder\n\
         A2,Max,Bell,,31/13/2020,Year 9,Alder\n\
         A3,,,,2020-01-01,1,Alder\n\
         \n\
         A4,Ida,Bell\n\
         A5,Ed,Bell,,2020-01-01,1,Alder,extra\n\
         A1,Zoë,Bell,,2020-05-31,Year 1,Alder\n\
         A6,Noa,Bell,,+12020-05-31,Year 1,Alder\n",
    );
    // A short row is filled up with nothing; the row that stands twice is named as repeated.
    assert_eq!(counts(&shown), [2, 0, 0, 5]);
    assert_eq!(shown["rows"], 7, "the empty line is none");
    assert_eq!(shown["repeats"], json!([{"line": 8, "of": 2}]));
    // Born in May 2020 is Year 2 in 2026; and a row has no class.
    let attention = shown["attention"].as_array().unwrap().iter();
    let attention: Vec<_> = attention.map(|found| (found["line"].clone(), text(&found["field"]))).collect();
    assert_eq!(attention, [(json!(2), "year_group".into()), (json!(6), "class_name".into())]);
    let found: Vec<(u64, String)> = shown["rejected"]
        .as_array()
        .unwrap()
        .iter()
        .map(|finding| (finding["line"].as_u64().unwrap(), text(&finding["field"])))
        .collect();
    let expected =
        [(3, "date_of_birth"), (3, "year_group"), (4, "given_name"), (7, ""), (9, "date_of_birth")];
    assert_eq!(found, expected.map(|(line, field)| (line, field.to_owned())));
    assert_eq!(shown["rejected"][0]["message"], "“31/13/2020” is not a date; write 2019-05-31 or 31/05/2019");
    confirm(&lead, &shown, "2026-09-01").expect(200);
    assert_eq!(column(&pupils(&lead), "name"), ["Ida Bell", "Zoë Bell"]);
}

#[test]
fn files_of_office_programs_are_read_exactly() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let marked =
        b"\xef\xbb\xbfgiven_name,family_name,date_of_birth\r\nZo\xc3\xab,O\xe2\x80\x99Neill,2020-05-31\r\n";
    let shown = lead.post_csv("/roster-imports", marked).expect(201);
    assert_eq!((&shown["encoding"], &shown["created"][0]["name"]), (&json!("UTF-8"), &json!("Zoë O’Neill")));
    // The same in Windows-1252: 0xEB is ë, 0x92 the curly apostrophe.
    let office = b"given_name,family_name,date_of_birth\r\nZo\xeb,O\x92Neill,2020-05-31\r\n";
    let shown = lead.post_csv("/roster-imports", office).expect(201);
    assert_eq!(
        (&shown["encoding"], &shown["created"][0]["name"]),
        (&json!("windows-1252"), &json!("Zoë O’Neill"))
    );
    confirm(&lead, &shown, "2026-09-01").expect(200);
    let again = lead.post_csv("/roster-imports", marked).expect(201);
    assert_eq!(counts(&again), [0, 0, 1, 0], "the two files say the same");
}

#[test]
fn a_file_that_is_not_whole_is_refused_whole() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let refused = |file: &[u8]| lead.post_csv("/roster-imports", file).problem(422, "invalid");
    assert_eq!(refused(b""), ["file: the file is empty"]);
    assert_eq!(refused(b" \r\n\r\n"), ["file: the file is empty"]);
    assert_eq!(
        refused(b"given_name\nZoe\n\"Max\nIda\n"),
        ["file: a quote that opens on line 3 is never closed"]
    );
    // A header that cannot be used is asked about, and nothing is written before the answer.
    let asked = |file: &[u8]| {
        let shown = lead.post_csv("/roster-imports", file).expect(201);
        let said = confirm(&lead, &shown, "2026-09-01").problem(422, "invalid");
        assert!(said[0].starts_with("answers: "), "{said:?}");
        text(&shown["questions"][0]["why"])
    };
    assert_eq!(
        asked(b"pupil_ref,given_name,x,family_name,a,b,c,d,family_name\nA1,Zoe,,Bell,,,,,Bell\n"),
        "family_name stands twice: columns D and I; say which one counts"
    );
    assert!(asked(b"Zoe,Bell\nMax,Bell\n").starts_with("no line near the top"));
    assert_eq!(pupils(&lead), json!([]));
    let json_body = lead.post("/roster-imports", json!({"given_name": "Zoe"}));
    json_body.problem(415, "unsupported_media_type");
    let heading_only = lead.post_csv("/roster-imports", b"given_name\n").expect(201);
    assert_eq!((counts(&heading_only), &heading_only["rows"]), ([0, 0, 0, 0], &json!(0)));
}

#[test]
fn a_roster_changed_since_the_preview_stops_the_import_whole() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(&lead, THREE);
    // One of the three arrives by hand meanwhile.
    lead.post("/pupils", json!({"given_name": "Zoë", "family_name": "Bell", "pupil_ref": "A1"})).expect(201);
    confirm(&lead, &shown, "2026-09-01").problem(409, "import_stale");
    assert_eq!(column(&pupils(&lead), "name"), ["Zoë Bell"]);
    assert_eq!(lead.get("/classes").expect(200)["items"], json!([]), "no class was made either");
    let kept = lead.get(&format!("/roster-imports/{}", text(&shown["id"]))).expect(200);
    assert_eq!(kept["status"], "preview");
    // Shown anew, it is what it is now.
    let shown = preview(&lead, THREE);
    assert_eq!(counts(&shown), [2, 1, 0, 0]);
    confirm(&lead, &shown, "2026-09-01").expect(200);
    assert_eq!(pupils(&lead).as_array().unwrap().len(), 3);
}

#[test]
fn a_class_made_meanwhile_stops_the_import_too() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(&lead, THREE);
    lead.post("/classes", json!({"name": "alder"})).expect(201);
    confirm(&lead, &shown, "2026-09-01").problem(409, "import_stale");
    assert_eq!(pupils(&lead), json!([]));
}

#[test]
fn an_import_needs_a_school_year_for_its_first_day() {
    let school = School::start();
    let lead = school.lead();
    let shown = preview(&lead, THREE);
    let missing = ["from: lies in no school year of the calendar; save the year first"];
    assert_eq!(confirm(&lead, &shown, "2026-09-01").problem(422, "invalid"), missing);
    let path = format!("/roster-imports/{}/confirm", text(&shown["id"]));
    assert_eq!(lead.post(&path, json!({})).problem(422, "invalid"), missing);
    assert_eq!(pupils(&lead), json!([]));
    school.calendar();
    assert_eq!(confirm(&lead, &shown, "2026-08-31").problem(422, "invalid"), missing);
    lead.post(&path, json!({})).expect(200);
    // From today, since no day was named: yesterday's class list would be empty.
    assert_eq!(classes_of(&pupil(&lead, "Zo Bell")), ["Alder"]);
}

#[test]
fn a_class_spelled_three_ways_is_one_class() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = preview(
        &lead,
        "A1,Zoe,Bell,,2020-05-31,1,Oak  Tree\nA2,Max,Bell,,2020-05-30,1,OAK TREE\nA3,Ida,Bell,,2020-05-29,1, oak tree \n\
         A4,Ed,Bell,,2020-05-28,1,Oak Tree 2\n",
    );
    assert_eq!(shown["new_classes"], json!(["Oak Tree", "Oak Tree 2"]));
    confirm(&lead, &shown, "2026-09-01").expect(200);
    let classes = lead.get("/classes").expect(200)["items"].clone();
    assert_eq!(column(&classes, "name").len(), 2);
    let oak = lead.get(&format!("/classes/{}", text(&classes[0]["id"]))).expect(200);
    assert_eq!(column(&oak["pupils"], "name"), ["Ed Bell", "Ida Bell", "Max Bell", "Zoe Bell"][1..]);
    let taken = lead.post("/classes", json!({"name": "oak TREE"})).problem(409, "conflict");
    assert_eq!(taken, ["name: belongs to another class"]);
}

#[test]
fn a_file_never_brings_a_leaver_back() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, THREE);
    let zoe = pupil(&lead, "Zo Bell");
    let path = format!("/pupils/{}", text(&zoe["id"]));
    let gone = lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2026-11-20"}));
    gone.expect(200);
    // An old export still holds her: it is said, and nothing is done.
    let shown = preview(&lead, THREE);
    assert_eq!(counts(&shown), [0, 0, 2, 1]);
    assert_eq!(shown["rejected"][0]["line"], 2);
    confirm(&lead, &shown, "2026-11-25").expect(200);
    let after = lead.get(&path).expect(200);
    assert_eq!((&after["classes"], &after["left_on"]), (&json!([]), &json!("2026-11-20")));
    // Who is back is taken back by hand, and keeps her record.
    lead.patch(&path, &gone.etag(), json!({"left_on": null})).expect(200);
    let shown = preview(&lead, THREE);
    assert_eq!(counts(&shown), [0, 1, 2, 0]);
    confirm(&lead, &shown, "2026-11-25").expect(200);
    assert_eq!(classes_of(&pupil(&lead, "Zo Bell")), ["Alder"]);
}
