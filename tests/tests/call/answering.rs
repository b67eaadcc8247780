//! How operations on how pupils answer, second marking and confusions are asked for.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

/// A round of its own with a check of two words, and a sample of all its pupils for the caller to mark; for the lead
/// where the caller may not.
fn sampled(lead: &Client, caller: &Client, n: u32) -> (String, Value) {
    let (round, check) = round(lead, n);
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

fn round(lead: &Client, n: u32) -> (String, Value) {
    let items = json!([{"prompt": "mop"}, {"prompt": "dot"}]);
    let check = json!({"name": format!("Words {n}"), "kind": "word_reading", "items": items});
    let check = lead.post("/checks", check).expect(201);
    let round = json!({"name": format!("Round {n}"), "opens_on": "2026-11-16", "closes_on": "2026-12-04",
                       "check_ids": [check["id"]]});
    (format!("/check-rounds/{}", text(&lead.post("/check-rounds", round).expect(201)["id"])), check)
}

fn not_accessible() -> Value {
    json!({"kind": "word_reading", "reason": "aid_not_ready", "review_on": "2026-12-18"})
}

/// The request of an operation.
pub fn call(
    operation: &str,
    lead: &Client,
    caller: &Client,
    pupil: &str,
    fresh: impl Fn() -> u32,
) -> Option<Call> {
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
            let (round, check) = round(lead, fresh());
            let staff = lead.get("/me").expect(200)["staff_id"].clone();
            Call::post(format!("{round}/second-markings"), sample(&check["id"], &staff))
        }
        "list_second_markings" => Call::get(format!("{}/second-markings", round(lead, fresh()).0)),
        "give_second_marks" => {
            let (round, check) = sampled(lead, caller, fresh());
            let mark = |n: usize| json!({"item_id": check["items"][n]["id"], "outcome": "right"});
            let body = json!({"check_id": check["id"], "basis": "beside", "answers": [mark(0), mark(1)]});
            Call::post(format!("{round}{path}/second-marks"), body)
        }
        "get_second_marks" => {
            let (round, check) = sampled(lead, caller, fresh());
            Call::get(format!("{round}{path}/second-marks?check_id={}", text(&check["id"])))
        }
        "get_agreement" => {
            let (round, check) = sampled(lead, caller, fresh());
            Call::get(format!("{round}/agreement?check_id={}", text(&check["id"])))
        }
        "get_pupil_confusions" => Call::get(format!("{path}/confusions")),
        "get_group_confusions" => Call::get(format!("/groups/{}/confusions", first("/groups"))),
        "get_class_confusions" => Call::get(format!("/classes/{}/confusions", first("/classes"))),
        _ => return None,
    })
}
