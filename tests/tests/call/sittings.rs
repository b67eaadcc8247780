//! How operations on sittings and exemptions are asked for, in a round of their own.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

const ROUND: &str = "For sittings";

const OURS: &[&str] = &[
    "update_check_round",
    "get_round_list",
    "exempt_pupil",
    "list_exemptions",
    "end_exemption",
    "begin_sitting",
    "get_sitting",
    "answer_sitting",
    "undo_sitting_answer",
    "pause_sitting",
    "resume_sitting",
    "finish_sitting",
];

/// A round that only sittings take place in.
pub fn prepare(lead: &Client) {
    // Each call that answers uses one up.
    let items: Vec<Value> = (0..40).map(|n| json!({"prompt": format!("word {n}")})).collect();
    let check = json!({"name": "For sittings", "kind": "word_reading", "items": items});
    let check = lead.post("/checks", check).expect(201);
    let round = json!({"name": ROUND, "opens_on": "2026-11-16", "closes_on": "2026-12-04", "check_ids": [check["id"]]});
    lead.post("/check-rounds", round).expect(201);
}

/// The sitting of the pupil that goes on, if one does.
fn open(lead: &Client, round: &str, pupil: &str) -> Option<String> {
    let list = lead.get(&format!("/check-rounds/{round}/list")).expect(200);
    let pupils = list["pupils"].as_array().unwrap();
    let line = pupils.iter().find(|line| line["pupil_id"] == pupil)?;
    line["checks"][0]["sitting"]["id"].as_str().map(str::to_owned)
}

/// The request of an operation. A sitting is the caller's, where the caller may have one.
pub fn call(
    operation: &str,
    lead: &Client,
    caller: &Client,
    pupil: &str,
    fresh: impl Fn() -> u32,
) -> Option<Call> {
    if !OURS.contains(&operation) {
        return None;
    }
    let rounds = lead.get("/check-rounds").expect(200);
    let round =
        rounds["items"].as_array().unwrap().iter().find(|round| round["name"] == ROUND).unwrap().clone();
    let (round, check) = (text(&round["id"]), round["check_ids"][0].clone());
    let of = format!("/check-rounds/{round}/pupils/{pupil}");
    let id = || format!("0199f2c4-2222-7000-8000-{:012x}", fresh());
    let new = || json!({"id": id(), "check_id": check});
    let none_goes_on = || {
        if let Some(id) = open(lead, &round, pupil) {
            let at = format!("{of}/sittings/{id}");
            lead.post(&format!("{at}/resume"), json!({"take_over": true})).expect(200);
            lead.call("POST", &format!("{at}/finish"), None).expect(200);
        }
    };
    let begun = || -> (String, Value, Client) {
        none_goes_on();
        let made = caller.post(&format!("{of}/sittings"), new());
        let (made, by) = match made.status {
            201 => (made.json(), caller.clone()),
            _ => (lead.post(&format!("{of}/sittings"), new()).expect(201), lead.clone()),
        };
        (format!("{of}/sittings/{}", text(&made["id"])), made, by)
    };
    let answer =
        |made: &Value| json!({"answers": [{"id": id(), "item_id": made["next"], "outcome": "right"}]});
    Some(match operation {
        "update_check_round" => {
            let path = format!("/check-rounds/{round}");
            Call::patch(path.clone(), lead.get(&path).etag(), json!({"closes_on": "2026-12-04"}))
        }
        "get_round_list" => Call::get(format!("/check-rounds/{round}/list")),
        "exempt_pupil" => {
            let body = json!({"reason": "newly_arrived", "review_on": "2026-12-04"});
            Call::post(format!("{of}/exemptions"), body)
        }
        "list_exemptions" => Call::get(format!("{of}/exemptions")),
        "end_exemption" => {
            let body = json!({"reason": "newly_arrived", "review_on": "2026-12-04"});
            let made = lead.post(&format!("{of}/exemptions"), body).expect(201);
            Call::delete(format!("{of}/exemptions/{}", text(&made["id"])))
        }
        "begin_sitting" => {
            none_goes_on();
            Call::post(format!("{of}/sittings"), new())
        }
        "get_sitting" => Call::get(begun().0),
        "answer_sitting" => {
            let (at, made, _) = begun();
            Call::post(format!("{at}/answers"), answer(&made))
        }
        "undo_sitting_answer" => {
            let (at, made, by) = begun();
            by.post(&format!("{at}/answers"), answer(&made)).expect(200);
            // So that there is something to answer next time.
            Call::post(format!("{at}/undo"), json!({"id": id()}))
        }
        "pause_sitting" => Call::new("POST", format!("{}/pause", begun().0)),
        "resume_sitting" => Call::post(format!("{}/resume", begun().0), json!({})),
        "finish_sitting" => Call::new("POST", format!("{}/finish", begun().0)),
        _ => return None,
    })
}
