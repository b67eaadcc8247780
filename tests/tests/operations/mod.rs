//! The operations of the document, to be called whatever they are.

use plumbline_tests::{Document, Operation, School, Value, held_op, json};

/// An id of nothing.
pub const RANDOM: &str = "0199f2c4-1234-7abc-8def-0123456789ab";

pub fn served(school: &School) -> Document {
    Document(school.nobody().get("/openapi.json").expect(200))
}

/// Operations with a JSON body, each with the body's example.
pub fn with_json(document: &Document) -> Vec<(Operation<'_>, Value)> {
    let found: Vec<_> = document
        .operations()
        .into_iter()
        .filter_map(|operation| {
            let media = &operation.json["requestBody"]["content"]["application/json"];
            let schema = document.resolve(&media["schema"]);
            let example = [&media["example"], &schema["example"]].into_iter().find(|e| !e.is_null())?;
            Some((operation, example.clone()))
        })
        .collect();
    assert!(found.len() > 25, "{}", found.len());
    found
}

/// A path with its ids filled in.
pub fn filled(path: &str, id: &str) -> String {
    let mut filled = path.replace("{year}", "2026").replace("{field}", "sex").replace("{n}", "1");
    for name in [
        "{id}",
        "{pupil_id}",
        "{version_id}",
        "{link_id}",
        "{placement_id}",
        "{sitting_id}",
        "{exemption_id}",
        "{entry_id}",
        "{earlier_id}",
        "{replica_id}",
    ] {
        filled = filled.replace(name, id);
    }
    assert!(!filled.contains('{'), "{filled}");
    filled
}

/// Fails with everything that is wrong.
#[track_caller]
pub fn none(wrong: &[String]) {
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// A school with one of everything, and what its ids are.
pub fn full(school: &School) -> Vec<(&'static str, String)> {
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lead = school.lead();
    let two = json!({"verdict": "different", "pupil_id": pupils["Zoe"], "other_id": pupils["Max"]});
    let id = |json: Value| json["id"].as_str().unwrap().to_owned();
    let record = json!({"on": "2026-11-24", "lesson_id": content["steps"][0]["lessons"][0]["id"], "outcome": "delivered"});
    let check = json!({"name": "Words", "kind": "word_reading", "items": [{"prompt": "mat"}]});
    let check = id(lead.post("/checks", check).expect(201));
    let round = school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    let in_round = format!("/check-rounds/{round}/pupils/{}", pupils["Zoe"]);
    let exemption = json!({"reason": "newly_arrived", "review_on": "2026-12-04"});
    let caught_up = json!({"on": "2026-11-24", "pupil_ids": [pupils["Zoe"]],
                           "items": [content["steps"][0]["lessons"][0]["items"][0]["id"]]});
    let own_word = json!({"word": "demo", "readings": [{"sound": "d e m əʊ"}]});
    let proposed = json!({"sequence_id": sequence, "pupil_ids": [pupils["Zoe"]],
                          "groups": [{"name": "Birch", "least": 1, "most": 9}]});
    vec![
        ("/staff/", school.staff_id("teacher")),
        ("/closures/", id(lead.post("/closures", json!({"on": "2026-11-20", "kind": "inset"})).expect(201))),
        ("/roster-imports/", id(lead.post_csv("/roster-imports", b"given_name\nIda\n").expect(201))),
        ("/classes/", lead.get("/classes").expect(200)["items"][0]["id"].as_str().unwrap().to_owned()),
        ("/placements/", {
            let path = format!("/pupils/{}/placements", pupils["Zoe"]);
            id(lead.post(&path, json!({"sequence_id": sequence})).expect(201))
        }),
        ("/not-accessible/", {
            let new = json!({"reason": "aid_not_ready", "review_on": "2026-12-18"});
            id(lead.post(&format!("/pupils/{}/not-accessible", pupils["Zoe"]), new).expect(201))
        }),
        ("/earlier-statutory-results/", {
            let path = format!("/pupils/{}/earlier-statutory-results", pupils["Zoe"]);
            let earlier = json!({"year": 2025, "term": "summer", "result": "A", "source": "another_school"});
            id(lead.post(&path, earlier).expect(201))
        }),
        ("/statutory-windows/", {
            let days =
                json!({"year": 2026, "term": "autumn", "opens_on": "2026-11-23", "closes_on": "2026-11-27"});
            id(lead.post("/statutory-windows", days).expect(201))
        }),
        ("/results/", pupils["Zoe"].clone()),
        ("/pupils/", pupils["Zoe"].clone()),
        ("/versions/", content["id"].as_str().unwrap().to_owned()),
        ("/sequences/", sequence),
        ("/lesson-records/", id(lead.post(&format!("/groups/{group}/lesson-records"), record).expect(201))),
        (
            "/catch-up-records/",
            id(lead.post(&format!("/groups/{group}/catch-up-records"), caught_up).expect(201)),
        ),
        ("/school-words/", id(lead.post("/school-words", own_word).expect(201))),
        ("/struck-words/", id(lead.post("/struck-words", json!({"word": "bamp"})).expect(201))),
        (
            "/pseudo-word-sets/",
            id(lead.post("/pseudo-word-sets", json!({"name": "S", "words": ["frowl"]})).expect(201)),
        ),
        (
            "/cover-links/",
            id(lead.post(&format!("/groups/{group}/cover-links"), json!({"on": "2026-11-25"})).expect(201)),
        ),
        ("/groups/", group),
        ("/group-proposals/", id(lead.post("/group-proposals", proposed).expect(201))),
        ("/sequence-proposals/", id(lead.post("/sequence-proposals", json!({"steps": 1})).expect(202))),
        (
            "/sittings/",
            id(lead.post(&format!("{in_round}/sittings"), json!({"check_id": check})).expect(201)),
        ),
        ("/exemptions/", id(lead.post(&format!("{in_round}/exemptions"), exemption).expect(201))),
        ("/check-rounds/", round),
        ("/checks/", check.clone()),
        (
            "/books/",
            id(lead.post("/books", json!({"title": "M", "source": "text", "text": "mod"})).expect(201)),
        ),
        ("/report-releases/", released(&lead)),
        ("/trust-shares/", shared(school)),
        ("/trust-releases/", shared(school)),
        ("/trust-files/", shared(school)),
        ("/trust-schools/", {
            let new = json!({"school_id": RANDOM, "name": "Hythe"});
            id(school.staff("trust_lead").post("/trust-schools", new).expect(201))
        }),
        ("/report-snapshots/", id(lead.post("/report-snapshots", json!({})).expect(201))),
        ("/pupil-decisions/", id(lead.post("/pupil-decisions", two).expect(201))),
        ("/held-ops/", held_op(&lead)),
        (
            "/tablets/",
            id(lead
                .post("/tablets", json!({"id": "0199f2c4-7777-7000-8000-000000000001", "name": "T"}))
                .expect(201)),
        ),
    ]
}

/// A release of figures to everybody.
fn released(lead: &plumbline_tests::Client) -> String {
    let snapshot = lead.post("/report-snapshots", json!({})).expect(201)["id"].clone();
    let path = format!("/report-snapshots/{}/releases", snapshot.as_str().unwrap());
    let made = lead.post(&path, json!({"audience": "published"}));
    made.header("location").rsplit('/').next().unwrap().to_owned()
}

/// What the school showed a trust that is nowhere: the same each time.
fn shared(school: &School) -> String {
    let lead = school.lead();
    if let Some(known) = lead.get("/trust-shares").expect(200)["items"].as_array().unwrap().first() {
        return known["id"].as_str().unwrap().to_owned();
    }
    let release = lead.get("/report-releases").expect(200)["items"][0]["id"].as_str().unwrap().to_owned();
    let seen = lead.get(&format!("/report-releases/{release}/for-trust")).expect(200);
    let new = json!({"release_id": release, "trust_id": RANDOM, "digest": seen["digest"]});
    lead.post("/trust-shares", new).expect(201)["id"].as_str().unwrap().to_owned()
}
