//! How checks and rounds are asked for.

use plumbline_tests::json;

use super::Call;

/// The request of an operation on checks.
pub fn call(operation: &str, group: &str, check: &str, round: &str) -> Option<Call> {
    Some(match operation {
        "create_check" => {
            let body = json!({"name": "Words", "kind": "word_reading", "items": [{"prompt": "mat"}]});
            Call::post("/checks".into(), body)
        }
        "propose_check" => {
            let body = json!({"group_id": group, "kind": "gpc_recognition", "items": 2});
            Call::post("/check-proposals".into(), body)
        }
        "get_check" => Call::get(format!("/checks/{check}")),
        "get_check_sheet" => Call::get(format!("/checks/{check}/sheet")),
        "compare_check_forms" => Call::get(format!("/checks/{check}/forms")),
        "create_check_round" => {
            let body = json!({"name": "Spring", "opens_on": "2027-01-04", "closes_on": "2027-01-08",
                              "check_ids": [check]});
            Call::post("/check-rounds".into(), body)
        }
        "get_check_round" => Call::get(format!("/check-rounds/{round}")),
        "get_round_progress" => Call::get(format!("/check-rounds/{round}/progress")),
        "get_log_sheet" => {
            Call::get(format!("/check-rounds/{round}/log-sheet?check_id={check}&group_id={group}"))
        }
        _ => return None,
    })
}

/// The answers of one pupil, sent as those of many.
pub fn sheet(round: &str, pupil: &str, alone: Call) -> Call {
    let alone = alone.body.unwrap();
    let body = json!({"check_id": alone["check_id"], "on": alone["on"],
                      "pupils": [{"pupil_id": pupil, "answers": alone["answers"]}]});
    Call::post(format!("/check-rounds/{round}/responses"), body)
}
