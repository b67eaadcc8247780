//! Hard cases of a pupil's history: it stays with the child, whichever record, class or year.

use super::{Case, read};
use plumbline_tests::{School, Server, Value, column, json, lesson_ids, text};

fn input(name: &str) -> Value {
    serde_json::from_slice(&read(name)).unwrap()
}

/// The lead publishes a sequence of one lesson for each of these letters, in force from a day on.
fn sequence(school: &School, letters: &[(&str, &str)], from: &str) -> (String, Vec<String>) {
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let path = format!("/sequences/{id}/draft");
    let lesson = |(grapheme, phoneme): &(&str, &str)| {
        json!({"title": grapheme,
               "items": [{"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}}]})
    };
    let lessons: Vec<Value> = letters.iter().map(lesson).collect();
    let draft = json!({"steps": [{"title": "Step 1", "lessons": lessons}]});
    lead.put(&path, &lead.get(&path).etag(), draft).expect(200);
    let published =
        lead.post(&format!("/sequences/{id}/versions"), json!({"effective_on": from})).expect(201);
    let content = lead.get(&format!("/sequences/{id}/versions/{}", text(&published["id"]))).expect(200);
    (id, lesson_ids(&content))
}

#[test]
fn o29_one_child_or_two() {
    let cases = input("O29_keep_both_keeps_history.json");
    let case = Case::load("O29");
    let lead = &case.lead;
    for pupil in cases["pupils"].as_array().unwrap() {
        lead.post("/pupils", pupil.clone()).expect(201);
    }
    let pupils = case.pupils();
    let id = |pupil: &str| text(&pupils[pupil]["id"]);
    let sounds = [("s", "s"), ("a", "æ"), ("t", "t")];
    let items: Vec<Value> =
        sounds.iter().map(|(g, p)| json!({"prompt": g, "gpc": {"grapheme": g, "phoneme": p}})).collect();
    let check = json!({"name": "Sounds", "kind": "gpc_recognition", "items": items});
    let check = lead.post("/checks", check).expect(201);
    let round = json!({"name": "Spring", "opens_on": "2025-03-01", "closes_on": "2025-03-31",
                       "check_ids": [check["id"]]});
    let round = text(&lead.post("/check-rounds", round).expect(201)["id"]);
    for given in cases["checks"].as_array().unwrap() {
        let n = sounds.iter().position(|(letter, _)| given["item"] == *letter).unwrap();
        let answers = json!([{"item_id": check["items"][n]["id"], "outcome": "right"}]);
        let path = format!("/check-rounds/{round}/pupils/{}/responses", id(&text(&given["pupil_ref"])));
        let body = json!({"check_id": check["id"], "on": "2025-03-10", "answers": answers});
        lead.post(&path, body).expect(201);
    }
    let checks = |pupil: &str| {
        let path = format!("/check-rounds/{round}/pupils/{}/responses", id(pupil));
        json!(lead.get(&path).expect(200)["items"].as_array().unwrap().len())
    };
    let decide = |verdict: &str| {
        let body = json!({"verdict": verdict, "pupil_id": id("R01"), "other_id": id("R02")});
        lead.post("/pupil-decisions", body).expect(201)
    };
    let take_back = |decision: &Value| {
        let path = format!("/api/v1/pupil-decisions/{}", text(&decision["id"]));
        let client = lead.clone().with("If-Match", &text(&decision["etag"]));
        client.send("DELETE", &path, None, b"")
    };
    let want = case.assert();
    let both = [&want["keep_both"]["R01_checks"], &want["keep_both"]["R02_checks"]].map(Clone::clone);
    let two = decide("different");
    assert_eq!([checks("R01"), checks("R02")], both);
    assert_eq!(take_back(&two).status, 204);
    let one = decide("same");
    assert_eq!(checks("R01"), want["same"]["kept_checks"]);
    lead.get(&format!("/pupils/{}", id("R02"))).problem(404, "not_found");
    let audited = lead.get("/audit-entries").expect(200);
    assert!(column(&audited["items"], "operation").contains(&"pupil.merge".to_owned()));
    assert_eq!(json!(take_back(&one).status == 204), want["same"]["reversible"]);
    assert_eq!([checks("R01"), checks("R02")], both);
    assert_eq!(case.pupils(), pupils);
}

#[test]
fn o30_a_move_a_leaver_and_a_return() {
    let cases = input("O30_moves_and_leaves.json");
    let expect: Value = input("O30_moves_and_leaves.expect.json")["assert"].clone();
    let school = School::on(Server::start("2026-03-10"));
    let lead = school.lead();
    let terms = json!([{"name": "Autumn", "starts_on": "2025-09-02", "ends_on": "2025-12-19"},
                       {"name": "Spring", "starts_on": "2026-01-05", "ends_on": "2026-03-27"}]);
    let year = json!({"starts_on": "2025-09-01", "ends_on": "2026-08-31", "half_terms": terms});
    let year = lead.call("PUT", "/school-years/2025", Some(&year)).expect(200);
    let letters = [("s", "s"), ("a", "æ"), ("p", "p"), ("i", "ɪ"), ("n", "n")];
    let (sequence, lessons) = sequence(&school, &letters, "2025-09-01");
    let made = lead.post("/pupils", json!({"pupil_ref": "R01", "given_name": "Rory"})).expect(201);
    let path = format!("/pupils/{}", text(&made["id"]));
    let mut groups: std::collections::BTreeMap<String, String> = std::collections::BTreeMap::new();
    let members = |group: &str, from: &str, pupils: Value| {
        let path = format!("/groups/{group}");
        let body = json!({"from": from, "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    };
    // A class and its group of the same name; the second class ends the first.
    for stay in cases["memberships"].as_array().unwrap() {
        let (name, from) = (text(&stay["class"]), text(&stay["from"]));
        for left in groups.values() {
            members(left, &from, json!([]));
        }
        let class = text(&lead.post("/classes", json!({"name": name})).expect(201)["id"]);
        lead.patch(&path, &lead.get(&path).etag(), json!({"class_id": class, "from": from})).expect(200);
        let group = lead.post("/groups", json!({"name": name, "sequence_id": sequence})).expect(201);
        members(&text(&group["id"]), &from, json!([made["id"]]));
        groups.insert(name, text(&group["id"]));
    }
    for given in cases["lessons"].as_array().unwrap() {
        let n = letters.iter().position(|(letter, _)| given["items"][0] == *letter).unwrap();
        let group = &groups[&text(&given["class"])];
        school
            .log_lesson(&lead, group, &text(&given["date"]), &lessons[n], "delivered", &json!({}))
            .expect(201);
    }
    let taught = || {
        let covered = lead.get(&format!("{path}/coverage")).expect(200)["items"].clone();
        let labels = column(&covered, "label").into_iter();
        labels.map(|label| label.split(' ').next().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(json!(taught()), expect["taught"]["R01"]);
    // The autumn report, as it is before the pupil leaves and after.
    let term = text(&year["half_terms"][0]["id"]);
    let autumn = || lead.get(&format!("/reports/attainment?half_term_id={term}")).expect(200);
    let before = autumn();
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": cases["left"]})).expect(200);
    // What a tablet shows today: lists of the school, of the class and of the group.
    let class = lead.get("/classes").expect(200)["items"].clone();
    let ash = class.as_array().unwrap().iter().find(|class| class["name"] == "Ash").unwrap().clone();
    let (class, group) = (format!("/classes/{}", text(&ash["id"])), format!("/groups/{}", groups["Ash"]));
    let shown = || {
        let names = |path: &str, list: &str| lead.get(path).expect(200)[list].as_array().unwrap().len();
        [names("/pupils", "items"), names(&class, "pupils"), names(&group, "members")]
    };
    assert_eq!(expect["on_tablet_2026-03-10"], json!(false));
    assert_eq!(shown(), [0, 0, 0]);
    let report = autumn();
    assert_eq!(json!(report["school"]["pupils"] == 1), expect["in_report_autumn_2025"]);
    assert_eq!((&report["school"], &report["classes"]), (&before["school"], &before["classes"]));
    assert_eq!(lead.get("/reports/attainment").expect(200)["school"]["pupils"], 0);
    // Back again: the same record goes on, with what was taught before.
    let back = json!({"left_on": null, "class_id": ash["id"], "from": "2026-03-10"});
    let back = lead.patch(&path, &lead.get(&path).etag(), back).expect(200);
    assert_eq!((&back["id"], column(&back["classes"], "name")), (&made["id"], vec!["Ash".to_owned()]));
    members(&groups["Ash"], "2026-03-10", json!([made["id"]]));
    assert_eq!(shown(), [1, 1, 1]);
    assert_eq!(json!(taught()), expect["taught"]["R01"]);
}
