//! How groups are asked for.

use plumbline_tests::{Client, json, text};

use super::Call;

/// The request of an operation on a group with two adults. Handing over is for a day far ahead, so that
/// today's assignments stay.
pub fn call(operation: &str, lead: &Client, group: &str) -> Option<Call> {
    let path = format!("/groups/{group}");
    Some(match operation {
        "get_group" => Call::get(path),
        "get_next_lesson" => Call::get(format!("{path}/next-lesson")),
        "get_group_coverage" => Call::get(format!("{path}/coverage")),
        "list_lesson_records" => Call::get(format!("{path}/lesson-records")),
        "hand_over_group" => {
            let seen = lead.get(&path);
            let staff = |n: usize| seen.json()["adults"][n]["staff_id"].clone();
            let body = json!({"from_staff_id": staff(0), "to_staff_id": staff(1), "on": "2027-06-01"});
            Call { etag: Some(seen.etag()), ..Call::post(format!("{path}/hand-over"), body) }
        }
        "set_member_weekdays" => {
            let seen = lead.get(&path);
            let member = text(&seen.json()["members"][0]["id"]);
            Call::put(format!("{path}/members/{member}/weekdays"), seen.etag(), json!({"weekdays": null}))
        }
        _ => return None,
    })
}
