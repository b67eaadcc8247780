//! How what schools show a trust is asked for. The school is its own trust here, so that one school has both ends.

use plumbline_tests::{Client, Value, json, text};

use super::{Call, reports};

/// The request of an operation of a trust; `trust_lead` works at the same school, `fresh` is a number no call got before.
pub fn call(operation: &str, lead: &Client, trust_lead: &Client, fresh: u32) -> Option<Call> {
    let half_term = || text(&lead.get("/school-years").expect(200)["items"][0]["half_terms"][1]["id"]);
    let school = || text(&lead.get("/school").expect(200)["id"]);
    let release = || match lead.get("/report-releases").expect(200)["items"].as_array().unwrap().first() {
        Some(one) => text(&one["id"]),
        None => {
            let made = reports::call("release_report", lead, &half_term()).unwrap();
            lead.post(&made.path, made.body.unwrap()).expect(201);
            text(&lead.get("/report-releases").expect(200)["items"][0]["id"])
        }
    };
    // To a trust of its own each time: of one half term one release is shown to a trust.
    let body = |trust: String| {
        let release = release();
        let seen = lead.get(&format!("/report-releases/{release}/for-trust")).expect(200);
        json!({"release_id": release, "trust_id": trust, "digest": seen["digest"]})
    };
    let nobody = || format!("0199f2c4-4444-7000-8000-{fresh:012}");
    let shared = |trust: String| {
        let standing = lead.get("/trust-shares").expect(200)["items"].as_array().unwrap().clone();
        let known = |one: &&Value| one["trust_id"] == trust.as_str() && one["withdrawn_at"].is_null();
        match standing.iter().find(known) {
            Some(one) => text(&one["id"]),
            None => text(&lead.post("/trust-shares", body(trust)).expect(201)["id"]),
        }
    };
    let listed = || {
        let list = trust_lead.get("/trust-schools").expect(200)["items"].as_array().unwrap().clone();
        match list.iter().find(|one| one["school_id"] == school().as_str()) {
            Some(one) => text(&one["id"]),
            None => {
                let key = lead.get("/trust-key").expect(200)["key"].clone();
                let own = json!({"school_id": school(), "name": "Ours", "key": key});
                text(&trust_lead.post("/trust-schools", own).expect(201)["id"])
            }
        }
    };
    let file = || {
        listed();
        json!({"file": lead.get(&format!("/trust-shares/{}/file", shared(school()))).text})
    };
    Some(match operation {
        "list_sequence_fingerprints" => Call::get("/sequence-fingerprints".into()),
        "look_at_trust_share" => Call::get(format!("/report-releases/{}/for-trust", release())),
        "list_trust_shares" => Call::get("/trust-shares".into()),
        "share_with_trust" => Call::post("/trust-shares".into(), body(nobody())),
        "get_trust_share" => Call::get(format!("/trust-shares/{}", shared(school()))),
        "get_trust_share_file" => Call::get(format!("/trust-shares/{}/file", shared(school()))),
        "withdraw_trust_share" => Call::delete(format!("/trust-shares/{}", shared(nobody()))),
        "get_trust_key" => Call::get("/trust-key".into()),
        "list_trust_schools" => Call::get("/trust-schools".into()),
        "add_trust_school" => {
            Call::post("/trust-schools".into(), json!({"school_id": nobody(), "name": "Another"}))
        }
        "get_trust_school" | "update_trust_school" => {
            let another = json!({"school_id": nobody(), "name": "Another"});
            let made = trust_lead.post("/trust-schools", another);
            let path = format!("/trust-schools/{}", text(&made.expect(201)["id"]));
            match operation {
                "get_trust_school" => Call::get(path),
                _ => Call::patch(path, made.etag(), json!({"key": null})),
            }
        }
        "remove_trust_school" => {
            let another = json!({"school_id": nobody(), "name": "Another"});
            let made = trust_lead.post("/trust-schools", another).expect(201);
            Call::delete(format!("/trust-schools/{}", text(&made["id"])))
        }
        "list_trust_releases" => Call::get("/trust-releases".into()),
        "get_trust_release" => {
            listed();
            Call::get(format!("/trust-releases/{}", shared(school())))
        }
        "take_trust_file" => Call::post("/trust-files".into(), file()),
        "drop_trust_file" => {
            let taken = trust_lead.post("/trust-files", file()).expect(201);
            Call::delete(format!("/trust-files/{}", text(&taken["id"])))
        }
        "compare_trust_schools" => {
            listed();
            shared(school());
            Call::get("/trust-comparison?school_year=2026&half_term=Autumn+2".into())
        }
        _ => return None,
    })
}
