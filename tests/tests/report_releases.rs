//! Snapshots of a school and what is released of them, against figures worked by hand.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{ClassTold, School, Value, json, text};

/// Two classes of each of two year groups; one pupil of Cedar was given no word.
const CLASSES: [ClassTold<'_>; 4] = [
    ClassTold { name: "Birch", year: "Reception", asked: 12, right: 8, not_asked: 0 },
    ClassTold { name: "Cedar", year: "Reception", asked: 12, right: 7, not_asked: 1 },
    ClassTold { name: "Elm", year: "Year 1", asked: 14, right: 12, not_asked: 0 },
    ClassTold { name: "Fir", year: "Year 1", asked: 12, right: 8, not_asked: 0 },
];

fn school() -> School {
    School::told_of(&CLASSES)
}

fn snapshot(school: &School) -> String {
    text(&school.lead().post("/report-snapshots", json!({})).expect(201)["id"])
}

/// Rows of the first table as text: name, pupils, met, percentage, or the symbol.
fn rows(release: &Value) -> Vec<String> {
    let row = |row: &Value| {
        let name = row["name"].as_str().unwrap_or("all");
        match row["symbol"].as_str() {
            Some(symbol) => format!("{name} {symbol}"),
            None => format!("{name} {}/{} {}", row["met"], row["pupils"], row["percent"]["percent"]),
        }
    };
    release["tables"][0]["rows"].as_array().unwrap().iter().map(row).collect()
}

fn without_id(released: &Value) -> Value {
    let mut release = released.clone();
    release.as_object_mut().unwrap().remove("id").unwrap();
    release
}

fn closed() -> Value {
    json!({"audience": "closed", "measures": ["words"], "by": ["year_group", "class"]})
}

#[test]
fn governors_get_numbers_and_no_class_can_be_worked_out() {
    let school = school();
    let (lead, id) = (school.lead(), snapshot(&school));
    let path = format!("/report-snapshots/{id}/releases");
    let looked = lead.post(&format!("/report-snapshots/{id}/release-previews"), closed()).expect(200);
    assert_eq!(lead.get("/report-releases").expect(200)["items"], json!([]), "looking releases nothing");
    let released = lead.post(&path, closed()).expect(201);
    assert_eq!(without_id(&released), looked);
    assert_eq!(lead.get(&format!("/report-releases/{}", text(&released["id"]))).expect(200), looked);
    // Two of Elm did not read it: Elm is left out, and Fir, or Year 1 less Fir would be Elm.
    let by_hand = [
        "all 35/50 70",
        "Reception 15/24 63",
        "Year 1 20/26 77",
        "Birch 8/12 67",
        "Cedar 7/12 58",
        "Elm c",
        "Fir c",
    ];
    assert_eq!(rows(&released), by_hand);
    assert_eq!((&released["audience"], &released["as_of"]), (&json!("closed"), &json!("2026-11-25")));
    // Which school it is of, and no word that is for staff.
    assert_eq!(released["school"], lead.get("/school").expect(200)["name"]);
    assert!(!released["cautions"].to_string().contains("not for publication"), "{}", released["cautions"]);
    let cedar = &released["tables"][0]["rows"][4];
    assert_eq!(
        (&cedar["not_known"], &cedar["interval"]),
        (&json!(null), &json!([320, 807])),
        "one is too few to say so"
    );
    assert_eq!(
        released["tables"][0]["rows"][5],
        json!({"by": "class", "name": "Elm", "symbol": "c", "pupils": null,
        "not_known": null, "met": null, "percent": null, "interval": null})
    );
}

#[test]
fn everybody_is_told_of_year_groups_in_round_numbers() {
    let school = school();
    let (lead, id) = (school.lead(), snapshot(&school));
    let path = format!("/report-snapshots/{id}/releases");
    let asked = json!({"audience": "published", "measures": ["words"], "by": ["year_group"]});
    let released = lead.post(&path, asked).expect(201);
    assert_eq!(rows(&released), ["all null/50 70", "Reception null/25 63", "Year 1 null/25 77"]);
    assert!(released["tables"][0]["rows"].as_array().unwrap().iter().all(|row| row["interval"].is_null()));
    for (wrong, field) in [
        (json!({"audience": "published", "by": ["class"]}), "by[0]"),
        (json!({"audience": "internal"}), "audience"),
        (json!({"audience": 1}), "audience"),
        (json!({"audience": "closed", "measures": ["marks"]}), "measures[0]"),
        (json!({"audience": "closed", "measures": ["words", "words"]}), "measures[1]"),
        (json!({"audience": "closed", "measures": ["checked"]}), "measures[0]"),
        (json!({"audience": "closed", "smaller_groups": true}), "smaller_groups"),
        (json!({"audience": "closed", "by": ["postcode"]}), "by[0]"),
        (json!({"audience": "closed", "by": ["sen"]}), "by[0]"),
        (json!({"audience": "closed", "by": ["year_group", "year_group"]}), "by[1]"),
    ] {
        let problem = lead.post(&path, wrong.clone()).expect(422);
        assert_eq!(problem["errors"][0]["field"], field, "{wrong}: {problem}");
    }
}

#[test]
fn a_release_stays_as_it_was_and_counts_against_later_ones() {
    let school = school();
    let (lead, id) = (school.lead(), snapshot(&school));
    lead.post(&format!("/report-snapshots/{id}/releases"), closed()).expect(201);
    let path =
        format!("/report-releases/{}", text(&lead.get("/report-releases").expect(200)["items"][0]["id"]));
    let before = lead.get(&path).text;
    let table = lead.get(&format!("{path}/table.csv")).text;
    assert!(
        table.contains("closed,2026-11-25,words,class,Elm,c,,,,,,,,,,\r\n")
            && table.contains("closed,2026-11-25,words,,,,50,,35,70,56.2,80.9,,,,\r\n"),
        "{table}"
    );
    // A pupil of Birch leaves.
    let pupils = lead.get("/pupils?limit=200").expect(200)["items"].as_array().unwrap().clone();
    let gone = pupils.iter().find(|line| line["name"] == "Adaa Bell").unwrap();
    let pupil = format!("/pupils/{}", text(&gone["id"]));
    lead.patch(&pupil, &lead.get(&pupil).etag(), json!({"left_on": "2026-11-24"})).expect(200);
    assert_eq!(lead.get(&path).text, before, "byte for byte");
    let again = lead.post(&format!("/report-snapshots/{id}/release-previews"), closed());
    assert_eq!(again.text, before, "the pupils are frozen");
    // The school of today differs from the one that was told of by one pupil.
    let now = snapshot(&school);
    for end in ["releases", "release-previews"] {
        let refused = lead.post(&format!("/report-snapshots/{now}/{end}"), closed());
        refused.problem(409, "conflict");
        assert!(text(&refused.json()["detail"]).contains(&id), "{}", refused.text);
    }
    // Days that are not of the half term, and half terms that are none.
    let take = |body: Value| lead.post("/report-snapshots", body);
    let day = take(json!({"as_of": "2026-11-26"})).problem(422, "invalid");
    assert_eq!(day, ["as_of: is in the future"]);
    let none = json!({"half_term_id": "0199f2c4-0000-7000-8000-00000000dead"});
    assert_eq!(take(none).problem(404, "not_found"), ["half_term_id: is no half term of the school"]);
}

#[test]
fn two_half_terms_stand_side_by_side() {
    let school = school();
    let lead = school.lead();
    let year = lead.get("/school-years").expect(200)["items"][0].clone();
    let release = |half_term: &Value| {
        let snapshot = lead.post("/report-snapshots", json!({"half_term_id": half_term["id"]})).expect(201);
        lead.post(&format!("/report-snapshots/{}/releases", text(&snapshot["id"])), closed()).expect(201);
        let all = lead.get("/report-releases").expect(200)["items"].as_array().unwrap().clone();
        text(&all.iter().find(|one| one["snapshot_id"] == snapshot["id"]).unwrap()["id"])
    };
    let earlier = release(&year["half_terms"][0]);
    let later = release(&year["half_terms"][1]);
    let path = format!("/report-releases/{later}/compared?with={earlier}");
    let seen = lead.get(&path).expect(200);
    assert_eq!(
        (&seen["earlier"]["id"], &seen["earlier"]["half_term"], &seen["later"]["as_of"]),
        (&json!(earlier), &json!("Autumn 1"), &json!("2026-11-25"))
    );
    let of =
        |which: &str| lead.get(&format!("/report-releases/{which}")).expect(200)["tables"][0]["rows"].clone();
    let (before, after) = (of(&earlier), of(&later));
    // Nobody was given a word in the first half term: there is nothing to differ from, and nothing else is told.
    for (n, row) in seen["tables"][0]["rows"].as_array().unwrap().iter().enumerate() {
        assert_eq!(row["earlier"]["symbol"], before[n]["symbol"]);
        assert_eq!(row["later"]["met"], after[n]["met"]);
        assert_eq!(row["difference"], Value::Null);
    }
    assert_eq!((&seen["tables"][0]["differs"], &seen["symbols"][0]["code"]), (&Value::Null, &json!("c")));
    assert!(text(&seen["cautions"][0]).starts_with("Pupils join and leave"), "{}", seen["cautions"]);
    let swapped = format!("/report-releases/{earlier}/compared?with={later}");
    let refused = lead.get(&swapped).problem(422, "invalid");
    assert_eq!(refused, ["with: is of 2026-11-25: the release in the address has to be of a later day"]);
    let none = format!("/report-releases/{later}/compared?with=0199f2c4-0000-7000-8000-00000000dead");
    assert_eq!(lead.get(&none).problem(422, "invalid"), ["with: is no release of this school"]);
}

#[test]
fn a_snapshot_has_every_figure_for_those_who_answer_for_the_pupils() {
    let school = school();
    let (lead, id) = (school.lead(), snapshot(&school));
    let read = lead.get(&format!("/report-snapshots/{id}")).expect(200);
    assert!(text(&read["caution"]).contains("do not publish"), "{read}");
    let tables = read["figures"]["tables"].as_array().unwrap();
    let words = tables.iter().find(|table| table["measure"] == "words").unwrap();
    let elm = words["rows"].as_array().unwrap().iter().find(|row| row["name"] == "Elm").unwrap();
    assert_eq!((&elm["pupils"], &elm["met"], &elm["not_known"]), (&json!(14), &json!(12), &json!(0)));
    let autumn = words["rows"].as_array().unwrap().iter().filter(|row| row["by"] == "term_of_birth");
    assert_eq!(autumn.map(|row| row["pupils"].as_u64().unwrap()).sum::<u64>(), 50, "all born in October");
    let entries = lead.get("/audit-entries").expect(200);
    assert!(entries.to_string().contains("report_snapshot.read"), "who looked is written down");
}

#[test]
fn what_a_field_said_is_gone_from_snapshots_once_it_is_switched_off() {
    let school = school();
    let lead = school.lead();
    let purpose = json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"});
    let on = lead.call("PUT", "/optional-fields/sen", Some(&purpose)).etag();
    let pupils = lead.get("/pupils?limit=200").expect(200)["items"].as_array().unwrap().clone();
    for (n, pupil) in pupils.iter().enumerate().take(24) {
        let path = format!("/pupils/{}", text(&pupil["id"]));
        let value = json!({"value": if n < 12 { "K" } else { "N" }});
        lead.put(&format!("{path}/fields/sen"), &lead.get(&path).etag(), value).expect(200);
    }
    let id = snapshot(&school);
    let release = format!("/report-snapshots/{id}/releases");
    let asked = json!({"audience": "closed", "measures": ["words"], "by": ["sen"]});
    let released = lead.post(&release, asked.clone()).expect(201);
    assert!(released.to_string().contains("\"by\":\"sen\""), "{released}");
    let exact =
        |lead: &plumbline_tests::Client| lead.get(&format!("/report-snapshots/{id}")).expect(200).to_string();
    assert!(exact(&lead).contains("\"by\":\"sen\""));
    lead.delete("/optional-fields/sen?remove=24", &on).expect(200);
    assert!(!exact(&lead).contains("\"by\":\"sen\""), "no pupil's value is kept");
    let refused = lead.post(&release, asked).problem(422, "invalid");
    assert!(refused[0].starts_with("by[0]: must be one of year_group, class, term_of_birth:"), "{refused:?}");
    // What was told stays, and counts.
    let path =
        format!("/report-releases/{}", text(&lead.get("/report-releases").expect(200)["items"][0]["id"]));
    assert_eq!(lead.get(&path).expect(200), without_id(&released));
    lead.post(&release, closed()).expect(201);
}
