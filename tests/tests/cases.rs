//! Hard pupil files with their right answers: each file of `tests/cases` is imported as the office
//! would, and what came of it is compared with what its `.expect.json` asserts.
#![allow(clippy::unwrap_used)]

mod case;

use std::collections::BTreeMap;

use case::Case;
use plumbline_tests::{Value, column, json, text};

/// What an assertion says that another test holds, by case and key.
const ELSEWHERE: &[(&str, &str, &str)] =
    &[("O13", "age", "core: roster::file::date"), ("O21", "same_on", "every test runs on both stores")];

/// Names of year groups by code.
fn year_name(code: &Value) -> String {
    match text(code).as_str() {
        "nursery" => "Nursery".into(),
        "reception" => "Reception".into(),
        other => other.replace("year_", "Year "),
    }
}

/// Compares findings with what is expected of them: the lines, and what else is named.
fn found(expected: &Value, findings: &Value) {
    let line = |one: &Value| one.get("line").or(one.get("row")).cloned().unwrap();
    let expected = expected.as_array().unwrap();
    let findings = findings.as_array().unwrap();
    let lines = |list: &[Value]| list.iter().map(line).collect::<Vec<_>>();
    assert_eq!(lines(findings), lines(expected), "{findings:?}");
    for (want, have) in expected.iter().zip(findings) {
        for (key, value) in want.as_object().unwrap().iter().filter(|(key, _)| *key != "row") {
            assert_eq!(&have[key], value, "{have}");
        }
    }
}

/// What the pupils are like after their own export is imported; the preview finds nothing to change.
/// No cell of the file begins like a formula, and a school that has nobody gets the same out of it.
fn round_trip(case: &Case) -> BTreeMap<String, Value> {
    let file = case.lead.get("/pupils/export");
    let text = file.text.strip_prefix('\u{feff}').unwrap();
    let cells = || text.lines().skip(1).flat_map(|line| line.split(','));
    assert!(cells().all(|cell| !cell.trim_start_matches('"').starts_with(['=', '+', '-', '@'])), "{text}");
    let import = |case: &Case| {
        let preview = case.lead.post_csv("/roster-imports", file.text.as_bytes()).expect(201);
        case.confirm(&preview, &case.today).expect(200)
    };
    let again = import(case);
    for list in ["created", "updated", "completed", "held", "rejected", "questions"] {
        assert_eq!(again[list], json!([]), "{list}");
    }
    assert_eq!(again["unchanged"], json!(case.pupils().len()));
    let names = |case: &Case| {
        let named = |pupil: &Value| [&pupil["given_name"], &pupil["family_name"]].map(Clone::clone);
        case.pupils().values().map(named).collect::<Vec<_>>()
    };
    let other = Case::load(&case.id);
    import(&other);
    assert_eq!(names(&other), names(case));
    case.pupils()
}

/// A file that unpacks to far more than it is: refused, and the server's memory has risen by less
/// than `most` MiB, above what it needs for any file at all.
fn refused_within(case: &Case, most: u64) {
    case.lead.post_csv("/roster-imports", b"given_name\n").expect(201);
    let before = case.peak_memory();
    let said = case.upload().problem(422, "invalid").join(" ");
    assert!(said.contains("unpacked"), "{said}");
    let more = case.peak_memory() - before;
    assert!(more < most * 1024, "{more} KiB more");
    assert_eq!(case.pupils().len(), 0);
    known(case);
}

/// Imports a case's file and holds it to every assertion.
fn hold(id: &str) {
    let case = Case::load(id);
    let assert = case.assert().clone();
    if let Some(before) = &case.before {
        case.add(before);
    }
    if let Some(most) = assert.get("max_extra_rss_mib") {
        return refused_within(&case, most.as_u64().unwrap());
    }
    let uploaded = case.upload();
    let mut preview = uploaded.expect(201);
    if assert.get("fatal").is_some() {
        case.confirm(&preview, &case.today).problem(422, "invalid");
        let why = text(&preview["questions"][0]["why"]);
        for mention in assert["error_mentions"].as_array().unwrap() {
            assert!(why.contains(&text(mention)), "{why} does not name {mention}");
        }
        return assert_eq!(case.pupils().len(), 0);
    }
    if let Some(year) = assert.get("academic_year") {
        let year: i32 = text(year)[..4].parse().unwrap();
        preview = case.answer(&preview, json!({"year": year}));
    }
    if let Some(ask) = assert.get("must_ask") {
        let asked = column(&preview["questions"], "ask");
        let named =
            column(&json!(ask.as_array().unwrap().iter().map(|a| json!({"a": a})).collect::<Vec<_>>()), "a");
        assert_eq!(asked, named.iter().map(|name| name.replace("hidden_rows", "hidden")).collect::<Vec<_>>());
        case.confirm(&preview, &case.today).problem(422, "invalid");
        assert_eq!(case.pupils().len(), 0, "nothing is written before the answer");
    }
    if !assert.contains_key("must_ask") && column(&preview["questions"], "ask") == ["date_order"] {
        // A person takes the order that stands there already: the school's.
        preview = case.answer(&preview, json!({"date_order": preview["questions"][0]["usual"]}));
    }
    let created = |preview: &Value| json!(preview["created"].as_array().unwrap().len());
    for (key, want) in &assert {
        match key.as_str() {
            "created" => assert_eq!(&created(&preview), want),
            "created_min" => assert!(created(&preview).as_u64() >= want.as_u64()),
            "updated" => {
                assert_eq!(preview["updated"].as_array().unwrap().len() as u64, want.as_u64().unwrap())
            }
            "rejected" => found(want, &preview["rejected"]),
            "repeats" => found(want, &preview["repeats"]),
            "report_mentions" => assert_eq!(
                (want, text(&preview["encoding"]).as_str()),
                (&json!(["encoding"]), "windows-1252")
            ),
            "answers" => {
                for (order, days) in want.as_object().unwrap() {
                    // Each order at a school of its own.
                    let other = Case::load(id);
                    let answered = other.answer(&other.upload().expect(201), json!({"date_order": order}));
                    other.confirm(&answered, &other.today).expect(200);
                    for (pupil, day) in days.as_object().unwrap() {
                        assert_eq!(&other.pupils()[pupil]["date_of_birth"], day);
                    }
                }
            }
            "flag" => {
                for flag in want.as_object().unwrap().values() {
                    let said = column(&preview["attention"], "message");
                    assert!(said.len() == 1 && said[0].contains(&text(flag)), "{said:?}");
                }
            }
            "must_ask_class_for" => {
                let asked = preview["attention"].as_array().unwrap();
                assert_eq!(
                    (asked.len(), &asked[0]["field"]),
                    (want.as_array().unwrap().len(), &json!("class_name"))
                );
            }
            "hidden_rows" => assert_eq!(&preview["questions"][0]["rows"], want),
            "visible_created" => {
                assert_eq!(&created(&case.answer(&preview, json!({"hidden": "leave_out"}))), want)
            }
            "with_hidden_created" => {
                assert_eq!(&created(&case.answer(&preview, json!({"hidden": "include"}))), want);
            }
            _ => {}
        }
    }
    if assert.contains_key("must_ask") {
        return known(&case);
    }
    // Classes begin in the year the file is for.
    let from = match assert.get("academic_year") {
        Some(year) => format!("{}-09-01", &text(year)[..4]),
        None => case.today.clone(),
    };
    case.confirm(&preview, &from).expect(200);
    let pupils = case.pupils();
    let classes = column(&case.lead.get("/classes").expect(200)["items"], "name");
    let class_of = |pupil: &Value| column(&pupil["classes"], "name").join(", ");
    for (key, want) in &assert {
        match key.as_str() {
            "pupils" => {
                for pupil in want.as_array().unwrap() {
                    let have = &pupils[&text(&pupil["pupil_ref"])];
                    for (field, value) in pupil.as_object().unwrap() {
                        let shown =
                            if field == "class_name" { json!(class_of(have)) } else { have[field].clone() };
                        // A name that is not there is null here and empty in the case.
                        let shown = if shown.is_null() { json!("") } else { shown };
                        assert_eq!(&shown, value, "{field} of {have}");
                    }
                }
            }
            "year_group" => {
                for (pupil, name) in want.as_object().unwrap() {
                    let created = preview["created"].as_array().unwrap();
                    let row = created.iter().find(|row| row["name"] == pupils[pupil]["name"]).unwrap();
                    assert_eq!(json!(year_name(&row["year_group"])), *name, "{pupil}");
                }
            }
            "current_classes_unchanged_until" => {
                assert!(
                    pupils.values().all(|pupil| class_of(pupil).is_empty()),
                    "nobody moves before {want}"
                );
            }
            "classes" => {
                let typed = assert
                    .get("must_confirm_new_class")
                    .and_then(Value::as_array)
                    .cloned()
                    .unwrap_or_default();
                let all: Vec<Value> = want.as_array().unwrap().iter().cloned().chain(typed).collect();
                assert_eq!(preview["new_classes"], json!(all));
                assert_eq!(classes.len(), all.len());
            }
            "class_sizes" => {
                for (class, size) in want.as_object().unwrap() {
                    let members = pupils.values().filter(|pupil| class_of(pupil) == *class).count();
                    assert_eq!(json!(members), *size);
                }
            }
            "class" => {
                for (pupil, class) in want.as_object().unwrap() {
                    assert_eq!(json!(class_of(&pupils[pupil])), *class);
                }
            }
            "after" | "before" => {
                for (pupil, fields) in want.as_object().unwrap() {
                    for (field, value) in fields.as_object().unwrap() {
                        let have = &pupils[pupil];
                        let shown = match field.as_str() {
                            "class_name" => json!(class_of(have)),
                            "teaching_group" => json!(column(&have["groups"], "name").join(", ")),
                            "upn" => json!(format!(
                                "{}{}",
                                &text(value)[..10],
                                &text(&have["upn"]).trim_start_matches('•')
                            )),
                            other => have[other].clone(),
                        };
                        assert_eq!(&shown, value, "{field} of {pupil}");
                    }
                }
            }
            "round_trip" => assert_eq!((round_trip(&case), want), (pupils.clone(), &json!("identical"))),
            "no_char_stored" => {
                let stored = json!(pupils).to_string();
                assert!(want.as_array().unwrap().iter().all(|c| !stored.contains(&text(c))));
            }
            _ => {}
        }
    }
    known(&case);
}

/// Fails on an assertion nothing above looks at.
fn known(case: &Case) {
    const HELD: &[&str] = &[
        "created",
        "created_min",
        "updated",
        "rejected",
        "repeats",
        "report_mentions",
        "answers",
        "flag",
        "must_ask",
        "must_ask_class_for",
        "hidden_rows",
        "visible_created",
        "with_hidden_created",
        "pupils",
        "year_group",
        "current_classes_unchanged_until",
        "classes",
        "must_confirm_new_class",
        "class_sizes",
        "class",
        "after",
        "before",
        "no_char_stored",
        "import_date",
        "academic_year",
        "round_trip",
        "max_extra_rss_mib",
        "fatal",
        "written",
        "written_before_answer",
        "error_mentions",
        "never_status",
        "R03",
    ];
    for key in case.assert().keys() {
        let elsewhere = ELSEWHERE.iter().any(|(id, name, _)| (*id, *name) == (&case.id, key));
        assert!(HELD.contains(&key.as_str()) || elsewhere, "{}: nothing holds {key}", case.id);
    }
}

macro_rules! cases {
    ($($name:ident: $id:literal;)+) => {
        $(#[test] fn $name() { hold($id); })+
    };
}

cases! {
    o01_a_byte_order_mark: "O01";
    o02_windows_1252: "O02";
    o03_semicolons_told_by_the_first_line: "O03";
    o04_a_heading_twice: "O04";
    o05_ragged_and_blank_rows: "O05";
    o06_a_line_break_in_a_cell: "O06";
    o07_damaged_identifiers: "O07";
    o08_formula_starts: "O08";
    o09_day_numbers: "O09";
    o10_days_that_fit_both_orders: "O10";
    o11_years_of_two_digits: "O11";
    o12_days_in_two_forms: "O12";
    o13_leap_days: "O13";
    o14_the_year_the_import_is_for: "O14";
    o15_out_of_year: "O15";
    o16_one_name: "O16";
    o18_what_is_not_seen: "O18";
    o19_right_to_left: "O19";
    o21_a_nul: "O21";
    o22_names_that_look_like_nothing: "O22";
    o25_hand_edits: "O25";
    o26_missing_columns: "O26";
    o27_the_same_row_twice: "O27";
    o28_the_same_child_but_for_the_number: "O28";
    o31_one_class_three_ways: "O31";
    o32_hidden_rows: "O32";
    o33_formula_cells: "O33";
    o34_merged_cells: "O34";
    o35_a_bomb: "O35";
}
