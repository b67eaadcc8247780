//! How operations on how pupils answer, second marking and confusions are asked for.

use std::sync::atomic::{AtomicUsize, Ordering};

use plumbline_tests::{Client, Value, json, text};

use super::Call;

/// A round of its own, and a sample of all its pupils for the caller to mark; for the lead
/// where the caller may not.
fn sampled(lead: &Client, caller: &Client) -> (String, Value) {
    let (round, check) = round(lead);
    let me = caller.get("/me").json()["staff_id"].clone();
    let ask = |staff: Value| lead.post(&format!("{round}/second-markings"), sample(&check["id"], &staff));
    if me.is_null() || ask(me).status != 201 {
        ask(lead.get("/me").expect(200)["staff_id"].clone()).expect(201);
    }
    (round, check)
}

fn sample(check: &Value, staff: &Value) -> Value {
    json!({"check_id": check, "percent": 100, "seed": 11, "staff_ids": [staff]})
}

/// Rounds there are for calls that each need one to themselves.
const SPARE: usize = 80;

/// Makes them, so that what a refused call needs is there before it: it may change nothing.
pub fn prepare(lead: &Client) {
    let items = json!([{"prompt": "mop"}, {"prompt": "dot"}]);
    let check =
        lead.post("/checks", json!({"name": "Spare", "kind": "word_reading", "items": items})).expect(201);
    for n in 0..SPARE {
        let round = json!({"name": format!("Spare {n}"), "opens_on": "2026-09-01", "closes_on": "2026-12-04",
                           "check_ids": [check["id"]]});
        lead.post("/check-rounds", round).expect(201);
    }
}

/// The next of them, with its check.
fn round(lead: &Client) -> (String, Value) {
    static NEXT: AtomicUsize = AtomicUsize::new(0);
    let name = format!("Spare {}", NEXT.fetch_add(1, Ordering::Relaxed) % SPARE);
    let rounds = lead.get("/check-rounds").expect(200);
    let round =
        rounds["items"].as_array().unwrap().iter().find(|round| round["name"] == name.as_str()).unwrap();
    let check = lead.get(&format!("/checks/{}", text(&round["check_ids"][0]))).expect(200);
    (format!("/check-rounds/{}", text(&round["id"])), check)
}

fn not_accessible() -> Value {
    json!({"kind": "oral_blending", "reason": "aid_not_ready", "review_on": "2026-12-18"})
}

/// The request of an operation.
pub fn call(operation: &str, lead: &Client, caller: &Client, pupil: &str) -> Option<Call> {
    let path = format!("/pupils/{pupil}");
    let etag = || lead.get(&format!("{path}/answering")).etag();
    let first = |list: &str| text(&lead.get(list).expect(200)["items"][0]["id"]);
    Some(match operation {
        "get_pupil_answering" => Call::get(format!("{path}/answering")),
        "set_speech_note" => {
            let pairs = json!([{"sound": "θ", "said": "f"}]);
            Call::put(format!("{path}/answering/speech"), etag(), json!({"pairs": pairs}))
        }
        "set_usual_mode" => {
            Call::put(format!("{path}/answering/mode"), etag(), json!({"mode": "communication_aid"}))
        }
        "add_not_accessible" => Call::post(format!("{path}/not-accessible"), not_accessible()),
        "end_not_accessible" => {
            let made = lead.post(&format!("{path}/not-accessible"), not_accessible()).expect(201);
            Call::new("POST", format!("{path}/not-accessible/{}/end", text(&made["id"])))
        }
        "list_not_accessible_reviews" => Call::get("/not-accessible-reviews".into()),
        "ask_second_marking" => {
            let (round, check) = round(lead);
            let staff = lead.get("/me").expect(200)["staff_id"].clone();
            Call::post(format!("{round}/second-markings"), sample(&check["id"], &staff))
        }
        "list_second_markings" => Call::get(format!("{}/second-markings", round(lead).0)),
        "give_second_marks" => {
            let (round, check) = sampled(lead, caller);
            let mark = |n: usize| json!({"item_id": check["items"][n]["id"], "outcome": "right"});
            let body = json!({"check_id": check["id"], "basis": "beside", "answers": [mark(0), mark(1)]});
            Call::post(format!("{round}{path}/second-marks"), body)
        }
        "get_second_marks" => {
            let (round, check) = sampled(lead, caller);
            Call::get(format!("{round}{path}/second-marks?check_id={}", text(&check["id"])))
        }
        "get_agreement" => {
            let (round, check) = sampled(lead, caller);
            Call::get(format!("{round}/agreement?check_id={}", text(&check["id"])))
        }
        "get_pupil_confusions" => Call::get(format!("{path}/confusions")),
        "get_group_confusions" => Call::get(format!("/groups/{}/confusions", first("/groups"))),
        "get_class_confusions" => Call::get(format!("/classes/{}/confusions", first("/classes"))),
        _ => return None,
    })
}
