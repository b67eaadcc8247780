//! What a pupil file leaves open: asked, answered, remembered, and never decided in silence.

use super::{School, THREE, column, confirm, counts, import, json, preview, pupil, pupils, text};

#[test]
fn columns_are_answered_for_and_remembered() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let file = "Moniker,Clan,DOB\nZoe,Bell,05/06/2020\nMax,Bell,07/08/2020\n";
    let shown = lead.post_csv("/roster-imports", file.as_bytes()).expect(201);
    assert_eq!(shown["questions"][0]["ask"], "columns");
    let path = format!("/roster-imports/{}/answers", text(&shown["id"]));
    let columns = json!([{"column": "A", "field": "given_name"}, {"column": "B", "field": "family_name"}]);
    let etag = text(&shown["etag"]);
    let named = lead.put(&path, &etag, json!({"columns": columns})).expect(200);
    // Nothing in the file says which comes first: that is asked now, with an example.
    assert_eq!(
        named["questions"],
        json!([{"ask": "date_order", "usual": "day_first", "cell": "05/06/2020",
        "day_first": "5 June 2020", "month_first": "6 May 2020"}])
    );
    lead.put(&path, &etag, json!({"columns": columns})).problem(412, "stale");
    let both = json!({"columns": columns, "date_order": "month_first"});
    let ready = lead.put(&path, &text(&named["etag"]), both).expect(200);
    assert_eq!((counts(&ready), &ready["questions"]), ([2, 0, 0, 0], &json!([])));
    confirm(&lead, &ready, "2026-09-01").expect(200);
    assert_eq!(pupil(&lead, "Zoe Bell")["date_of_birth"], "2020-05-06");
    let now = lead.get(&format!("/roster-imports/{}", text(&shown["id"])));
    lead.put(&path, &now.etag(), json!({})).problem(409, "conflict");
    // The next file with these headings needs no answer for them.
    let next = lead.post_csv("/roster-imports", b"moniker,CLAN\nIda,Hart\n").expect(201);
    assert_eq!(
        (column(&next["created"], "name"), &next["questions"]),
        (vec!["Ida Hart".to_owned()], &json!([]))
    );
}

#[test]
fn a_held_row_waits_for_a_person_and_hurts_nobody() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, "A1,Zoe,Bell,,2020-05-31,1,Alder\n");
    let zoe = pupil(&lead, "Zoe Bell");
    // The same name without anything else, and the same reference with another UPN.
    let shown = preview(&lead, ",Zoe,Bell,,,1,Rowan\n");
    assert_eq!((counts(&shown), column(&shown["held"], "name")), ([0; 4], vec!["Zoe Bell".to_owned()]));
    assert_eq!(
        shown["held"][0]["candidates"],
        json!([{"pupil_id": zoe["id"], "matched_by": "name_only", "name": "Zoe Bell", "pupil_ref": "A1",
                "date_of_birth": "2020-05-31", "class_name": "Alder"}])
    );
    confirm(&lead, &shown, "2026-11-25").expect(200);
    assert_eq!(pupil(&lead, "Zoe Bell"), zoe, "nobody was asked, so nothing was done");
    let shown = preview(&lead, ",Zoe,Bell,,,1,Rowan\n");
    let path = format!("/roster-imports/{}/answers", text(&shown["id"]));
    let whose = json!({"whose": [{"line": 2, "whose": {"pupil": zoe["id"]}}]});
    let same = lead.put(&path, &text(&shown["etag"]), whose).expect(200);
    assert_eq!((counts(&same), &same["updated"][0]["matched_by"]), ([0, 1, 0, 0], &json!("person")));
    let other = json!({"whose": [{"line": 2, "whose": "somebody"}]});
    let other = lead.put(&path, &text(&same["etag"]), other).expect(200);
    assert_eq!(counts(&other), [1, 0, 0, 0]);
    confirm(&lead, &other, "2026-11-25").expect(200);
    assert_eq!(pupils(&lead).as_array().unwrap().len(), 2);
}

#[test]
fn who_is_missing_from_a_file_leaves_only_when_the_number_is_given() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, THREE);
    let file = "A1,Zoë,Bell,Zo,2020-05-31,Year 1,Alder\n";
    let shown = preview(&lead, file);
    assert_eq!((&shown["absent"], &shown["leavers"]), (&json!(2), &json!(0)));
    confirm(&lead, &shown, "2026-11-25").expect(200);
    assert_eq!(pupils(&lead).as_array().unwrap().len(), 3);
    let shown = preview(&lead, file);
    let path = format!("/roster-imports/{}/answers", text(&shown["id"]));
    let wrong = lead.put(&path, &text(&shown["etag"]), json!({"leavers": 3})).expect(200);
    assert_eq!(
        confirm(&lead, &wrong, "2026-11-25").problem(422, "invalid"),
        ["answers.leavers: 2 pupils of the school are not in the file"]
    );
    let right = lead.put(&path, &text(&wrong["etag"]), json!({"leavers": 2})).expect(200);
    assert_eq!(right["leavers"], 2);
    confirm(&lead, &right, "2026-11-25").expect(200);
    assert_eq!(column(&pupils(&lead), "name"), ["Zo Bell"]);
    let gone = lead.get("/pupils?leavers=true").expect(200)["items"].clone();
    assert_eq!(gone.as_array().unwrap().len(), 3);
}
