//! One pupil's books and practice. The sequence teaches m and o; d and "the"; e; n.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{Pupils, School, Value, column, json, lesson_ids, text};

/// Zoe and Max were taught m and o on the 3rd of November and e on the 5th; Max alone d and "the"
/// on the 4th. Ida is in no group. Max was right about m and o on the 5th, 10th and 12th.
fn taught() -> (School, Pupils) {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder"), ("Kit", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let (lead, lessons) = (school.lead(), lesson_ids(&content));
    let absent = json!({"register": [{"pupil_id": pupils["Zoe"], "mark": "absent"}]});
    for (n, on, more) in
        [(0, "2026-11-03", &json!({})), (1, "2026-11-04", &absent), (2, "2026-11-05", &json!({}))]
    {
        school.log_lesson(&lead, &group, on, &lessons[n], "delivered", more).expect(201);
    }
    let (check, items) = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    for on in ["2026-11-05", "2026-11-10", "2026-11-12"] {
        let round = school.round(on, on, on, &[&check]);
        let answers = [(items[0].as_str(), "right"), (items[1].as_str(), "right")];
        school.answer(&lead, (&round, &pupils["Max"], &check), on, &answers).expect(201);
    }
    (school, pupils)
}

fn add_books(school: &School) {
    for (title, words) in [("A", "Mod. Mod!"), ("B", "Mom"), ("C", "The mod"), ("D", "Men")] {
        let body = json!({"title": title, "source": "text", "text": words});
        school.lead().post("/books", body).expect(201);
    }
}

/// Title, day and whether what is secure is enough, of each book a pupil can read.
fn shelf(seen: &Value) -> Vec<Value> {
    let items = seen["items"].as_array().unwrap().iter();
    items.map(|book| json!([book["title"], book["since"], book["secure"]])).collect()
}

fn gpcs(words: &Value) -> BTreeSet<String> {
    let words = words.as_array().unwrap().iter();
    words.flat_map(|word| word["reading"]["gpcs"].as_array().unwrap().iter().map(text)).collect()
}

fn set(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|one| (*one).to_owned()).collect()
}

#[test]
fn books_are_those_of_what_this_very_pupil_was_taught() {
    let (school, pupils) = taught();
    let ask = |name: &str, query: &str| {
        school.staff("teacher").get(&format!("/pupils/{}/books{query}", pupils[name])).expect(200)
    };
    assert_eq!(ask("Max", "")["empty"], "no_books");
    add_books(&school);
    let max = ask("Max", "");
    // D needs n. A and C had to wait for d, which was taught on the 4th and is not secure.
    let (a, b, c) = (
        json!(["A", "2026-11-04", false]),
        json!(["B", "2026-11-03", true]),
        json!(["C", "2026-11-04", false]),
    );
    assert_eq!(shelf(&max), [a, c, b.clone()]);
    assert_eq!((&max["taught"], &max["secure"]), (&json!(4), &json!(2)));
    assert_eq!((&max["books"], &max["total"], &max["empty"]), (&json!(4), &json!(3), &Value::Null));
    assert_eq!((&max["items"][0]["running"], &max["items"][0]["percent"]), (&json!(2), &json!(100.0)));
    assert_eq!((shelf(&ask("Max", "?limit=1")).len(), &ask("Max", "?limit=1")["total"]), (1, &json!(3)));
    // Zoe missed d and "the"; nothing of hers was checked.
    let zoe = ask("Zoe", "");
    assert_eq!(shelf(&zoe), [json!(["B", "2026-11-03", false])]);
    assert_eq!((&zoe["taught"], &zoe["secure"]), (&json!(3), &json!(0)));
    let ida = school.lead().get(&format!("/pupils/{}/books", pupils["Ida"])).expect(200);
    assert_eq!((&ida["items"], &ida["empty"]), (&json!([]), &json!("nothing_taught")));
    for limit in ["0", "501", "x"] {
        let path = format!("/pupils/{}/books?limit={limit}", pupils["Max"]);
        school.lead().get(&path).problem(422, "invalid");
    }
}

#[test]
fn practice_is_of_what_is_secure_and_current() {
    let (school, pupils) = taught();
    let teacher = school.staff("teacher");
    let ask = |name: &str, query: &str| {
        teacher.get(&format!("/pupils/{}/practice{query}", pupils[name])).expect(200)
    };
    let max = ask("Max", "");
    assert_eq!(max, ask("Max", ""), "the same at each look");
    // m and o are secure; e was taught after d.
    assert_eq!((&max["secure"], &max["current"]), (&json!(2), &json!(["e:e", "d:d"])));
    assert_eq!(max["gpcs"][0], "e:e");
    let said: BTreeSet<String> = max["gpcs"].as_array().unwrap().iter().map(text).collect();
    assert_eq!(said, set(&["m:m", "o:ɒ", "d:d", "e:e"]));
    let words = column(&max["words"], "word");
    assert!(words.contains(&"mod".to_owned()) && words.len() <= 8, "{words:?}");
    assert!(gpcs(&max["words"]).is_subset(&said));
    assert_eq!(ask("Max", "?words=1")["words"].as_array().unwrap().len(), 1);
    // Zoe missed d: her words are of m, o and e alone.
    let zoe = ask("Zoe", "");
    assert_eq!((&zoe["secure"], &zoe["current"]), (&json!(0), &json!(["e:e", "o:ɒ", "m:m"])));
    assert!(gpcs(&zoe["words"]).is_subset(&set(&["m:m", "o:ɒ", "e:e"])));
    for words in ["0", "41", "many"] {
        teacher.get(&format!("/pupils/{}/practice?words={words}", pupils["Max"])).problem(422, "invalid");
    }
}

#[test]
fn practice_of_nothing_is_empty_and_says_why() {
    let (school, pupils) = taught();
    let ida = school.lead().get(&format!("/pupils/{}/practice", pupils["Ida"])).expect(200);
    assert_eq!((&ida["gpcs"], &ida["words"], &ida["sentences"]), (&json!([]), &json!([]), &json!([])));
    assert_eq!((&ida["missing"], &ida["secure"]), (&json!("no_gpcs"), &json!(0)));
}

#[test]
fn looking_is_in_the_audit_log_and_being_refused_is_not() {
    let (school, pupils) = taught();
    let (teacher, other) = (school.staff("teacher"), school.staff("teacher:2"));
    for page in ["books", "practice"] {
        teacher.get(&format!("/pupils/{}/{page}", pupils["Max"])).expect(200);
        other.get(&format!("/pupils/{}/{page}", pupils["Max"])).problem(404, "not_found");
    }
    let log = school.staff("administrator").get("/audit-entries?limit=2").expect(200);
    let entries = log["items"].as_array().unwrap().iter();
    let said: Vec<Value> =
        entries.map(|entry| json!([entry["operation"], entry["subject_kind"], entry["staff_id"]])).collect();
    let who = school.staff_id("teacher");
    // The latest first.
    assert_eq!(said, ["pupil.read_practice", "pupil.read_books"].map(|name| json!([name, "pupil", who])));
}
