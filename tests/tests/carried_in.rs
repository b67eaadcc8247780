//! Starting in mid-year: what was taught before the records here begin. The sequence teaches m and
//! o; d and "the"; e; a review and n.
#![allow(clippy::unwrap_used)]

mod joining;

use joining::{Joining, joining};
use plumbline_tests::{TODAY, Value, column, json, text};

/// What one pupil was taught: item, day and whether it was carried in.
fn coverage_of(t: &Joining, name: &str) -> Vec<Value> {
    let path = format!("/pupils/{}/coverage", t.pupils[name]);
    let seen = t.school.lead().get(&path).expect(200);
    let lines = seen["items"].as_array().unwrap().iter();
    lines
        .map(|line| json!([line["label"], line["taught_on"], line["missed_on"], line["carried_in"]]))
        .collect()
}

#[test]
fn what_was_taught_before_works_on_the_first_day() {
    let t = joining();
    let teacher = t.school.staff("teacher");
    assert_eq!(teacher.get(&t.path("")).expect(200)["taught"], Value::Null);
    let (lessons, items) = (t.lessons(), t.items());
    let missed = json!([{"pupil_id": t.pupils["Max"], "item_ids": [items[2]]}]);
    let body = json!({"as_of": "2026-11-20", "through_step": 1, "missed": missed});
    let taught = t.carry(&teacher, body).expect(200)["taught"].clone();
    assert_eq!((&taught["as_of"], &taught["version_id"]), (&json!("2026-11-20"), &t.content["id"]));
    assert_eq!((&taught["lesson_ids"], &taught["item_ids"]), (&json!(lessons[..2]), &json!(items[..4])));
    assert_eq!(taught["entered_by"], t.school.staff_id("teacher"));
    let listed = taught["pupils"].as_array().unwrap().iter();
    let listed: Vec<Value> = listed.map(|pupil| json!([pupil["name"], pupil["missed"]])).collect();
    assert_eq!(listed, [json!(["Ida Bell", []]), json!(["Max Bell", [items[2]]]), json!(["Zoe Bell", []])]);
    // The place of the group, and what lessons and words are made of.
    assert_eq!(t.school.next_lesson(&t.group).0, "e");
    let bank = teacher.get(&format!("/groups/{}/word-bank?audience=all", t.group)).expect(200);
    assert!(column(&bank["words"], "word").contains(&"mod".to_owned()));
    let exceptions = bank["exception_words"].as_array().unwrap();
    assert_eq!((&exceptions[0]["word"], &exceptions[0]["taught"]), (&json!("the"), &json!(true)));
    let next = teacher.get(&format!("/groups/{}/next-lesson", t.group)).expect(200);
    let review = column(&next["lesson"]["words"]["review"], "gpc");
    assert!(["m:m", "o:ɒ", "d:d"].iter().all(|gpc| review.contains(&(*gpc).to_owned())), "{review:?}");
    // Each pupil's own: marked, and dated.
    let (m, o) = (json!(["m /m/", "2026-11-20", null, true]), json!(["o /ɒ/", "2026-11-20", null, true]));
    let (the, d) = (json!(["the", "2026-11-20", null, true]), json!(["d /d/", "2026-11-20", null, true]));
    assert_eq!(coverage_of(&t, "Zoe"), [m.clone(), o.clone(), d, the.clone()]);
    assert_eq!(coverage_of(&t, "Max"), [m, o, json!(["d /d/", null, "2026-11-20", true]), the]);
    assert_eq!(coverage_of(&t, "Kit"), [] as [Value; 0]);
    let coverage = teacher.get(&format!("/groups/{}/coverage", t.group)).expect(200);
    let lines = coverage["items"].as_array().unwrap().iter();
    let lines: Vec<Value> = lines.map(|l| json!([l["taught"], l["carried_in"], l["missed_by"]])).collect();
    let (whole, less) = (json!([3, 3, []]), json!([2, 2, [t.pupils["Max"]]]));
    assert_eq!(lines, [whole.clone(), whole.clone(), less, whole]);
    assert_eq!(column(&coverage["missed"], "name"), ["Max Bell"]);
    // Before that day it had not been taught.
    let before = teacher.get(&format!("/groups/{}/coverage?on=2026-11-19", t.group)).expect(200);
    assert_eq!(before["items"], json!([]));
    let before = teacher.get(&format!("/groups/{}/next-lesson?on=2026-11-19", t.group)).expect(200);
    assert_eq!(before["lesson"]["title"], "m and o");
}

#[test]
fn books_and_practice_go_by_it_and_nothing_is_secure() {
    let t = joining();
    let lead = t.school.lead();
    for (title, words) in [("A", "Mod. Mod!"), ("B", "Mom"), ("C", "The mod"), ("D", "Men")] {
        lead.post("/books", json!({"title": title, "source": "text", "text": words})).expect(201);
    }
    t.carry(&lead, json!({"as_of": "2026-11-20", "through_lesson_id": t.lessons()[1]})).expect(200);
    // A, B and C need m, o, d and "the"; D needs e and n.
    let seen = lead.get(&format!("/pupils/{}/books", t.pupils["Zoe"])).expect(200);
    let shelf = seen["items"].as_array().unwrap().iter();
    let shelf: Vec<Value> = shelf.map(|b| json!([b["title"], b["since"], b["secure"]])).collect();
    assert_eq!(shelf, ["A", "B", "C"].map(|title| json!([title, null, false])));
    let practice = lead.get(&format!("/pupils/{}/practice", t.pupils["Zoe"])).expect(200);
    let figures = json!([practice["secure"], practice["current"], practice["taught"]]);
    assert_eq!(figures, json!([0, [], 3]));
    assert!(column(&practice["words"], "word").contains(&"mod".to_owned()), "{practice}");
    assert!(practice["words"].as_array().unwrap().iter().all(|word| word["basis"] == "taught"));
    // m, o and d of three pupils: counted apart, and known of nobody.
    let report = t.report();
    assert_eq!(report["gpcs"]["taught"], 0);
    let apart = json!({"taught": 9, "secure": 0, "not_yet_secure": 0, "right_so_far": 0, "unknown": 9,
                       "secure_percent": null});
    assert_eq!((&report["carried_in"], &report["carried_in_answers"]), (&apart, &json!(0)));
    // A day before that day knows nothing of it.
    let early = lead.get("/reports/attainment?as_of=2026-11-19").expect(200);
    assert_eq!(early["school"]["carried_in"]["taught"], 0);
}

#[test]
fn it_can_be_changed_and_taken_back_until_a_record_rests_on_it() {
    let t = joining();
    let teacher = t.school.staff("teacher");
    let lessons = t.lessons();
    let body = |lessons: &[&String]| json!({"as_of": "2026-11-20", "lesson_ids": lessons});
    // The third is taught; then the first is still to come.
    let first = t.carry(&teacher, body(&[&lessons[2]]));
    first.expect(200);
    assert_eq!(t.school.next_lesson(&t.group).0, "m and o");
    let second = t.carry(&teacher, body(&[&lessons[0], &lessons[1]]));
    second.expect(200);
    teacher.put(&t.path(""), &first.etag(), body(&[&lessons[0]])).problem(412, "stale");
    // What was carried in is delivered: taught here it is taught again.
    let log = |on: &str, outcome: &str| {
        t.school.log_lesson(&teacher, &t.group, on, &lessons[0], outcome, &json!({}))
    };
    let said = log("2026-11-24", "delivered").problem(422, "invalid");
    assert_eq!(said, ["outcome: this lesson was delivered on 2026-11-20; record it as retaught"]);
    log("2026-11-19", "retaught").problem(422, "invalid");
    let record = text(&log("2026-11-24", "retaught").expect(201)["id"]);
    let rests = "the record of 2026-11-24 teaches again what was carried in: delete that record first";
    let refused = t.carry(&teacher, body(&[&lessons[1]])).problem(409, "conflict");
    assert_eq!(refused, [format!("lesson_ids: {rests}")]);
    let etag = teacher.get(&t.path("")).etag();
    let remove = |etag: &str| teacher.with("If-Match", etag).call("DELETE", &t.path(""), None);
    remove(&etag).problem(409, "conflict");
    // The second lesson may go: nothing rests on it.
    t.carry(&teacher, body(&[&lessons[0]])).expect(200);
    assert_eq!(t.school.next_lesson(&t.group).0, "d");
    let path = format!("/lesson-records/{record}");
    teacher.with("If-Match", &teacher.get(&path).etag()).call("DELETE", &path, None).expect(204);
    remove(&teacher.get(&t.path("")).etag()).expect(204);
    assert_eq!(t.school.next_lesson(&t.group).0, "m and o");
    assert_eq!(coverage_of(&t, "Zoe"), [] as [Value; 0]);
    remove(&teacher.get(&t.path("")).etag()).problem(404, "not_found");
    // What is recorded here was not taught before.
    log("2026-11-24", "delivered").expect(201);
    let refused = t.carry(&teacher, body(&[&lessons[1], &lessons[0]])).problem(409, "conflict");
    let recorded =
        "lesson_ids: the lesson \u{201c}m and o\u{201d} is recorded on 2026-11-24: it was not taught before";
    assert_eq!(refused, [recorded]);
}

#[test]
fn who_joined_since_was_not_taught_it_and_who_moved_on_was() {
    let t = joining();
    let lead = t.school.lead();
    // From 24 November on Kit is in the group, and Ida no more.
    let group = format!("/groups/{}", t.group);
    let now = ["Zoe", "Max", "Kit"].map(|name| &t.pupils[name]);
    let body = json!({"from": "2026-11-24", "pupil_ids": now});
    lead.put(&format!("{group}/members"), &lead.get(&group).etag(), body).expect(200);
    let said_of = |saved: &Value| {
        let of = column(&saved["taught"]["pupils"], "pupil_id");
        let named = t.pupils.iter().filter(|(_, id)| of.contains(id));
        named.map(|(name, _)| name.clone()).collect::<Vec<_>>()
    };
    let first = t.carry(&lead, json!({"as_of": "2026-11-20", "through_step": 1})).expect(200);
    assert_eq!(said_of(&first), ["Ida", "Max", "Zoe"]);
    assert_eq!((coverage_of(&t, "Ida").len(), coverage_of(&t, "Kit").len()), (4, 0));
    // Put right without naming anybody, of another day too, it stays theirs.
    let later = t.carry(&lead, json!({"as_of": TODAY, "through_step": 2})).expect(200);
    assert_eq!(said_of(&later), ["Ida", "Max", "Zoe"]);
    // As of a day before the group was, it is the group of its first day.
    lead.with("If-Match", &lead.get(&t.path("")).etag()).call("DELETE", &t.path(""), None).expect(204);
    let before = t.carry(&lead, json!({"as_of": "2026-07-17", "through_step": 1})).expect(200);
    assert_eq!(said_of(&before), ["Ida", "Max", "Zoe"]);
}

#[test]
fn what_cannot_be_carried_in_is_refused_by_its_field() {
    let t = joining();
    let lead = t.school.lead();
    let check = |body: Value, expected: &str| {
        assert_eq!(t.carry(&lead, body).problem(422, "invalid"), [expected]);
    };
    let one = "lesson_ids: give one of through_lesson_id, through_step and lesson_ids";
    check(json!({"as_of": TODAY}), one);
    check(json!({"as_of": TODAY, "through_step": 1, "lesson_ids": []}), one);
    check(json!({"as_of": "2026-11-26", "through_step": 1}), "as_of: 2026-11-26 is in the future");
    check(
        json!({"as_of": TODAY, "through_step": 3}),
        "through_step: must be 1 to 2, the steps of the sequence version",
    );
    check(
        json!({"as_of": TODAY, "through_lesson_id": t.group}),
        "through_lesson_id: is not a lesson of the sequence version",
    );
    check(
        json!({"as_of": TODAY, "through_step": 1, "pupil_ids": [t.pupils["Kit"]]}),
        "pupil_ids[0]: this pupil is not in the group",
    );
    let missed = json!([{"pupil_id": t.pupils["Zoe"], "item_ids": [t.items()[4]]}]);
    check(
        json!({"as_of": TODAY, "through_step": 1, "missed": missed}),
        "missed[0].item_ids[0]: is not an item of these lessons",
    );
    lead.call("PUT", &t.path(""), Some(&json!({"as_of": TODAY, "through_step": 1})))
        .problem(428, "precondition_required");
}

#[test]
fn a_later_version_leaves_it_as_it_is() {
    let t = joining();
    let lead = t.school.lead();
    t.carry(&lead, json!({"as_of": "2026-11-20", "through_step": 1})).expect(200);
    let before = lead.get(&t.path("")).expect(200);
    // The second version teaches d no more.
    let sequence = text(&lead.get("/sequences").expect(200)["items"][0]["id"]);
    let draft = format!("/sequences/{sequence}/draft");
    let mut steps = t.content["steps"].clone();
    steps[0]["lessons"].as_array_mut().unwrap().pop();
    lead.put(&draft, &lead.get(&draft).etag(), json!({"steps": steps})).expect(200);
    lead.post(&format!("/sequences/{sequence}/versions"), json!({"effective_on": TODAY})).expect(201);
    assert_eq!(lead.get(&t.path("")).expect(200), before);
    assert_eq!(coverage_of(&t, "Zoe").len(), 4);
    assert_eq!(t.school.next_lesson(&t.group).0, "e");
    // Put right, it stays with the version it was said in.
    let missed = json!([{"pupil_id": t.pupils["Zoe"], "item_ids": [t.items()[2]]}]);
    let body = json!({"as_of": "2026-11-20", "through_step": 1, "missed": missed});
    assert_eq!(t.carry(&lead, body).expect(200)["taught"]["version_id"], t.content["id"]);
}

#[test]
fn looking_and_changing_are_in_the_audit_log() {
    let t = joining();
    let teacher = t.school.staff("teacher");
    t.carry(&teacher, json!({"as_of": "2026-11-20", "through_step": 1})).expect(200);
    teacher.get(&t.path("/answers")).expect(200);
    teacher.post(&t.path("/answers"), t.answers("2026-11-04", &[("Zoe", &[(0, "right")])])).expect(200);
    let log = t.school.staff("administrator").get("/audit-entries?limit=4").expect(200);
    let entries = log["items"].as_array().unwrap().iter();
    let said: Vec<String> = entries
        .map(|entry| format!("{} {}", text(&entry["subject_kind"]), text(&entry["operation"])))
        .collect();
    let expected = [
        "group group.save_carried_answers",
        "group group.read_carried_answers",
        "group group.save_carried_in",
        "group group.read_carried_in",
    ];
    assert_eq!(said, expected);
}
