//! What is handed on of pupils: to next year's adults, and to another school.
//! The sequence teaches m and o; d and "the"; e; n.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, Value, column, json, text};

use autumn::start;

mod autumn;

fn labels(list: &Value) -> String {
    column(list, "label").join(" ")
}

#[test]
fn a_pupil_is_handed_on_by_the_rule_with_what_is_old_and_what_is_open() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let page = teacher.get(&format!("{}/handover", a.path("Max"))).expect(200);
    assert_eq!(
        (&page["back_on"], &page["re_check"], &page["re_check_minutes"]),
        (&json!("2026-11-02"), &json!(1), &json!(3))
    );
    let max = a.handover(&teacher, "Max");
    assert_eq!(
        (&max["name"], &max["class"], &max["taught"]),
        (&json!("Max Bell"), &json!("Alder"), &json!(4))
    );
    assert_eq!((labels(&max["secure"]), labels(&max["gaps"])), ("m /m/".into(), "o /ɒ/".into()));
    assert_eq!(
        (labels(&max["right_so_far"]), labels(&max["not_asked"])),
        (String::new(), "d /d/ e /e/".into())
    );
    assert_eq!(labels(&max["others"]), "the");
    assert_eq!(max["gaps"][0]["standing"], "not_yet_secure");
    assert!(max["gaps"][0]["estimated_percent"].as_u64().unwrap() < 50, "an estimate beside it");
    // From the 20th of October to the 25th of November: 11 days and 25.
    assert_eq!(
        (&max["last_check_on"], &max["days"], &max["re_check"]),
        (&json!("2026-10-20"), &json!(36), &json!(true))
    );
    assert_eq!(
        (&max["mode"], &max["open"], &max["what_helped"]),
        (&json!("spoken"), &json!([]), &Value::Null)
    );
    let zoe = a.handover(&teacher, "Zoe");
    assert_eq!((labels(&zoe["secure"]), labels(&zoe["gaps"])), (String::new(), "d /d/".into()));
    assert_eq!(
        (labels(&zoe["right_so_far"]), labels(&zoe["not_asked"])),
        ("m /m/".into(), "o /ɒ/ e /e/".into())
    );
    // What was missed is open, words too.
    assert_eq!((labels(&zoe["open"]), labels(&zoe["others"])), ("d /d/ the".into(), String::new()));
    assert_eq!(zoe["open"][0]["missed_on"], "2026-10-06");
    // Kit is in no group and was asked nothing: nothing is known, and the re-check comes first.
    let kit = a.handover(&a.school.lead(), "Kit");
    assert_eq!(
        (&kit["taught"], &kit["last_check_on"], &kit["re_check"]),
        (&json!(0), &Value::Null, &json!(true))
    );
    assert!(a.log().contains(&"pupil.read_handover".to_owned()));
    // A check of today, and it is new again.
    let (check, items) = a.school.gpc_check("Again", &[("m", "m")]);
    let round = a.school.round("Now", "2026-11-25", "2026-11-25", &[&check]);
    a.school
        .answer(&teacher, (&round, &a.pupils["Max"], &check), "2026-11-25", &[(&items[0], "right")])
        .expect(201);
    let max = a.handover(&teacher, "Max");
    assert_eq!((&max["days"], &max["re_check"]), (&json!(0), &json!(false)));
}

#[test]
fn a_re_check_says_whom_nobody_asked_since_the_holiday() {
    let a = start();
    let seen = a.school.staff("teacher").get(&format!("/groups/{}/re-check", a.group)).expect(200);
    assert_eq!((&seen["back_on"], &seen["re_check"]), (&json!("2026-11-02"), &json!(2)));
    assert_eq!(seen["pupils"][0]["re_check"], true);
    let (check, items) = a.school.gpc_check("Again", &[("m", "m")]);
    let round = a.school.round("Now", "2026-11-25", "2026-11-25", &[&check]);
    let lead = a.school.lead();
    a.school
        .answer(&lead, (&round, &a.pupils["Max"], &check), "2026-11-25", &[(&items[0], "right")])
        .expect(201);
    let seen = lead.get(&format!("/groups/{}/re-check", a.group)).expect(200);
    let of: Vec<(String, bool)> = seen["pupils"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (text(&one["name"]), one["re_check"].as_bool().unwrap()))
        .collect();
    assert_eq!(
        (&seen["re_check"], of),
        (&json!(1), vec![("Max Bell".into(), false), ("Zoe Bell".into(), true)])
    );
}

#[test]
fn a_group_and_a_class_are_handed_on_whole_and_a_page_a_pupil() {
    let a = start();
    let (lead, teacher) = (a.school.lead(), a.school.staff("teacher"));
    let of_group = teacher.get(&format!("/groups/{}/handover", a.group)).expect(200);
    assert_eq!(column(&of_group["pupils"], "name"), ["Max Bell", "Zoe Bell"]);
    assert_eq!(of_group["pupils"][0]["gaps"], a.handover(&teacher, "Max")["gaps"]);
    let classes = lead.get("/classes").expect(200);
    let alder = classes["items"].as_array().unwrap().iter().find(|one| one["name"] == "Alder").unwrap();
    let of_class = lead.get(&format!("/classes/{}/handover", text(&alder["id"]))).expect(200);
    assert_eq!(column(&of_class["pupils"], "name"), ["Kit Bell", "Max Bell", "Zoe Bell"]);
    let zoe = &of_group["pupils"][1]["open"];
    assert_eq!((&of_class["pupils"][2]["open"], labels(zoe)), (zoe, "d /d/ the".into()));
    // On paper each child stands alone on a page.
    let sheet = teacher.get(&format!("/groups/{}/handover?format=html", a.group));
    assert_eq!((sheet.status, sheet.header("Content-Type").as_str()), (200, "text/html; charset=utf-8"));
    let pages: Vec<&str> = sheet.text.split("<section class=\"page\">").skip(1).collect();
    assert_eq!(pages.len(), 2);
    assert!(pages[0].contains("<bdi>Max Bell</bdi>") && !pages[0].contains("Zoe"), "{}", pages[0]);
    assert!(pages[0].contains("Page 1 of 2") && pages[0].contains("<b>Secure:</b> m\u{a0}/m/"));
    assert!(pages[0].contains("20 October 2026, 36 days ago. Nothing was asked since the holiday."));
    assert!(
        pages[1].contains(
            "<b>Missed and still open, since:</b> d\u{a0}/d/ (6 October 2026), the (6 October 2026)"
        )
    );
    assert!(pages[1].contains("<b>Gap: missed:</b> d\u{a0}/d/") && !pages[1].contains("behind"));
    for word in ["Taught is never known", "Secure: right on 3 separate days", "An estimate"] {
        assert!(pages[0].contains(word), "{word}");
    }
    let log = a.log();
    assert!(
        ["group.read_handover", "class.read_handover"].iter().all(|one| log.contains(&(*one).to_owned()))
    );
}

#[test]
fn the_line_on_what_helped_is_short_dated_and_replaced() {
    let a = start();
    let (teacher, head) = (a.school.staff("teacher"), a.school.staff("head"));
    let made = a.write(&teacher, "Max", json!(" A card under the line. "));
    let body = made.expect(200);
    assert_eq!(body["what_helped"]["text"], "A card under the line.");
    assert_eq!(
        (&body["what_helped"]["on"], text(&body["what_helped"]["written_by"])),
        (&json!("2026-11-25"), a.school.staff_id("teacher"))
    );
    assert!(text(&body["caution"]).contains("No diagnosis"));
    // In the place of the one before; who has not read that one is refused.
    let stale = teacher.put(&format!("{}/what-helped", a.path("Max")), "\"v0\"", json!({"text": "x"}));
    assert_eq!(stale.problem(412, "stale").len(), 0);
    assert_eq!(
        a.write(&teacher, "Max", json!("x".repeat(161))).problem(422, "invalid"),
        ["text: must be at most 160 characters"]
    );
    a.write(&teacher, "Max", json!("x".repeat(160))).expect(200);
    assert_eq!(a.write(&teacher, "Max", json!(" ")).problem(422, "invalid"), ["text: must not be empty"]);
    assert_eq!(a.write(&head, "Max", json!("Mornings.")).status, 403);
    a.write(&a.school.lead(), "Max", json!("Mornings <b>.")).expect(200);
    assert_eq!(a.handover(&head, "Max")["what_helped"]["text"], "Mornings <b>.");
    let sheet = head.get(&format!("{}/handover?format=html", a.path("Max"))).text;
    assert!(sheet.contains("<b>What helped:</b> Mornings &lt;b&gt;. (25 November 2026)"), "{sheet}");
    a.write(&teacher, "Max", Value::Null).expect(200);
    assert_eq!(a.handover(&head, "Max")["what_helped"], Value::Null);
    assert_eq!(a.log().iter().filter(|one| *one == "pupil.write_what_helped").count(), 4);
}

#[test]
fn usual_speech_is_handed_on_to_the_pupils_own_adults_alone() {
    let a = start();
    let (lead, teacher, head) = (a.school.lead(), a.school.staff("teacher"), a.school.staff("head"));
    let path = format!("{}/answering", a.path("Zoe"));
    let note = json!({"pairs": [{"sound": "θ", "said": "f"}, {"sound": "h", "said": null}]});
    lead.put(&format!("{path}/speech"), &lead.get(&path).etag(), note.clone()).expect(200);
    lead.put(&format!("{path}/mode"), &lead.get(&path).etag(), json!({"mode": "eye_gaze"})).expect(200);
    assert_eq!(a.handover(&teacher, "Zoe")["speech"], note["pairs"]);
    assert_eq!(a.handover(&teacher, "Max")["speech"], json!([]));
    let seen = a.handover(&head, "Zoe");
    assert_eq!((&seen["speech"], &seen["mode"]), (&Value::Null, &json!("eye_gaze")));
    let of_group = |who: &Client| who.get(&format!("/groups/{}/handover", a.group)).expect(200);
    assert_eq!(of_group(&teacher)["pupils"][1]["speech"], note["pairs"]);
    assert_eq!(of_group(&head)["pupils"][1]["speech"], Value::Null);
    let sheet = teacher.get(&format!("{}/handover?format=html", a.path("Zoe"))).text;
    assert!(sheet.contains("<b>Usually says</b> /θ/ as /f/, /h/ left out: no error."), "{sheet}");
    assert!(!head.get(&format!("{}/handover?format=html", a.path("Zoe"))).text.contains("Usually says"));
}

/// Every string in a JSON value.
fn strings(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::String(text) => found.push(text.clone()),
        Value::Array(list) => list.iter().for_each(|one| strings(one, found)),
        Value::Object(fields) => fields.values().for_each(|one| strings(one, found)),
        _ => {}
    }
}

#[test]
fn a_leaver_takes_a_file_along_that_any_school_can_read() {
    let a = start();
    let (lead, head) = (a.school.lead(), a.school.staff("head"));
    a.write(&lead, "Max", json!("A card under the line.")).expect(200);
    let page = lead.get(&a.path("Max"));
    let leaves = json!({"left_on": "2026-11-24", "upn": "B801200005001", "preferred_name": "Maxi"});
    lead.patch(&a.path("Max"), &page.etag(), leaves).expect(200);
    let path = format!("{}/transfer", a.path("Max"));
    let file = head.get(&path).expect(200);
    assert_eq!((&file["format"], &file["schema_version"]), (&json!("pupil_phonics_transfer"), &json!(1)));
    assert_eq!(
        file["pupil"],
        json!({"given_name": "Max", "family_name": "Bell", "preferred_name": "Maxi", "date_of_birth": "2020-05-31",
               "upn": null, "last_day": "2026-11-24"})
    );
    let of = |grapheme: &str| {
        let list = file["correspondences"].as_array().unwrap();
        list.iter().find(|one| one["grapheme"] == grapheme).unwrap().clone()
    };
    let m = of("m");
    assert_eq!(
        (&m["phoneme"], &m["standing"], &m["taught_on"]),
        (&json!("m"), &json!("secure"), &json!("2026-10-05"))
    );
    assert_eq!(column(&m["answers"], "on"), ["2026-10-07", "2026-10-14", "2026-10-20"]);
    assert_eq!(
        of("o")["answers"],
        json!([{"on": "2026-10-14", "outcome": "wrong", "chosen": false, "carried_in": false}])
    );
    assert_eq!((&of("d")["standing"], &of("d")["answers"]), (&json!("not_asked"), &json!([])));
    assert_eq!(
        file["others"],
        json!([{"kind": "exception_word", "text": "the", "taught_on": "2026-10-06", "missed_on": null}])
    );
    assert_eq!(file["what_helped"], json!({"text": "A card under the line.", "on": "2026-11-25"}));
    assert_eq!((&file["last_check_on"], &file["response_mode"]), (&json!("2026-10-20"), &json!("spoken")));
    // No other child, no adult, and no id of this server.
    let mut texts = Vec::new();
    strings(&file, &mut texts);
    let ids: Vec<&String> =
        texts.iter().filter(|text| text.len() == 36 && text.matches('-').count() == 4).collect();
    assert_eq!(ids, Vec::<&String>::new());
    assert!(
        texts.iter().all(|text| !text.contains("Zoe") && !text.contains("Kit") && !text.contains("Teacher"))
    );
    // The number is the lead's to ask for, and the log says so.
    assert_eq!(head.get(&format!("{path}?upn=true")).status, 403);
    assert_eq!(lead.get(&format!("{path}?upn=true")).expect(200)["pupil"]["upn"], "B801200005001");
    let sheet = lead.get(&format!("{path}?format=html"));
    assert!(sheet.text.contains("<b>Secure:</b> m\u{a0}/m/ (3 of 3)"), "{}", sheet.text);
    assert!(sheet.text.contains("<b>Checked, not yet secure:</b> o\u{a0}/ɒ/ (0 of 1)"));
    assert!(sheet.text.contains("<b>Called:</b> <bdi>Maxi</bdi>") && !sheet.text.contains("B801200005001"));
    assert_eq!(a.school.staff("teacher").get(&path).status, 404, "no longer a pupil of hers");
    let log = a.log();
    assert_eq!(log.iter().filter(|one| *one == "pupil.export_transfer").count(), 2);
    assert_eq!(log.iter().filter(|one| *one == "pupil.export_transfer_with_upn").count(), 1);
}

#[test]
fn the_line_follows_a_child_with_two_records() {
    let a = start();
    let lead = a.school.lead();
    a.write(&lead, "Max", json!("A card under the line.")).expect(200);
    a.write(&lead, "Ida", json!("Mornings.")).expect(200);
    let merge = json!({"verdict": "same", "pupil_id": a.pupils["Max"], "other_id": a.pupils["Ida"]});
    let made = lead.post("/pupil-decisions", merge).expect(201);
    // One line: the one written last.
    assert_eq!(a.handover(&lead, "Max")["what_helped"]["text"], "Mornings.");
    let path = format!("/pupil-decisions/{}", text(&made["id"]));
    assert_eq!(lead.delete(&path, &text(&made["etag"])).status, 204);
    assert_eq!(a.handover(&lead, "Max")["what_helped"]["text"], "A card under the line.");
    assert_eq!(a.handover(&lead, "Ida")["what_helped"]["text"], "Mornings.");
    // Written anew meanwhile, it stands in the way.
    let merge = json!({"verdict": "same", "pupil_id": a.pupils["Max"], "other_id": a.pupils["Ida"]});
    let made = lead.post("/pupil-decisions", merge).expect(201);
    a.write(&lead, "Max", json!("Before lunch.")).expect(200);
    let refused = lead.delete(&format!("/pupil-decisions/{}", text(&made["id"])), &text(&made["etag"]));
    assert_eq!(refused.status, 409);
    assert!(refused.text.contains("the line on what helped was written anew since"), "{}", refused.text);
}
