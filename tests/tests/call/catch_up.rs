//! How catch-up is asked for. The group was taught the sequence's first lesson.

use plumbline_tests::{Client, Value, item_ids, json, text};

use super::Call;

fn taught(lead: &Client, version: &str, pupil: &str) -> Value {
    let items = item_ids(&lead.get(version).expect(200), 0);
    json!({"on": "2026-11-24", "items": items, "pupil_ids": [pupil], "again": true})
}

/// Records catch-up in the group; `version` is the address of the sequence version.
pub fn prepare(lead: &Client, group: &str, version: &str, pupil: &str) {
    lead.post(&format!("/groups/{group}/catch-up-records"), taught(lead, version, pupil)).expect(201);
}

/// The request of an operation on catch-up.
pub fn call(operation: &str, lead: &Client, group: &str, version: &str, pupil: &str) -> Option<Call> {
    let path = format!("/groups/{group}");
    let newest = || {
        let listed = || lead.get(&format!("{path}/catch-up-records")).expect(200)["items"][0]["id"].clone();
        if listed().is_null() {
            prepare(lead, group, version, pupil);
        }
        format!("/catch-up-records/{}", text(&listed()))
    };
    Some(match operation {
        "get_catch_up_list" => Call::get(format!("{path}/catch-up")),
        "record_catch_up" => Call::post(format!("{path}/catch-up-records"), taught(lead, version, pupil)),
        "record_catch_up_set" => {
            let mut set = taught(lead, version, pupil);
            set["pupils"] = json!([{"pupil_id": pupil, "group_id": group}]);
            set.as_object_mut()?.remove("pupil_ids");
            Call::post("/catch-up-records".into(), set)
        }
        "list_catch_up_records" => Call::get(format!("{path}/catch-up-records")),
        "get_catch_up_record" => Call::get(newest()),
        "get_catch_up_record_history" => Call::get(format!("{}/history", newest())),
        "delete_catch_up_record" => {
            let newest = newest();
            Call { etag: Some(lead.get(&newest).etag()), ..Call::delete(newest) }
        }
        "plan_catch_up" => {
            let adult = &lead.get(&path).expect(200)["adults"][0]["staff_id"];
            let body = json!({"on": "2026-11-25", "adults": [{"staff_id": adult, "minutes": 20}]});
            Call::post("/catch-up-plans".into(), body)
        }
        _ => return None,
    })
}
