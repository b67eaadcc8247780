//! How operations on optional fields are asked for.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

/// Sex is recorded, and stays so.
pub fn prepare(lead: &Client) {
    lead.call("PUT", "/optional-fields/sex", Some(&purpose())).expect(200);
}

fn purpose() -> Value {
    json!({"purpose": "Report of gaps to the governors", "review_on": "2027-07-31"})
}

/// The etag of a field as somebody sees it who may; none where it is off.
fn etag(seen_by: &Client, field: &str) -> Option<String> {
    let listed = seen_by.get("/optional-fields").json();
    let found = listed["items"].as_array()?.iter().find(|one| one["field"] == field)?.clone();
    Some(text(&found["on"]["etag"])).filter(|etag| !etag.is_empty())
}

/// The request of an operation on optional fields.
pub fn call(operation: &str, lead: &Client, caller: &Client, pupil: &str) -> Option<Call> {
    let path = format!("/pupils/{pupil}/fields");
    Some(match operation {
        "list_optional_fields" => Call::get("/optional-fields".into()),
        "switch_on_optional_field" => {
            let path = "/optional-fields/sen".into();
            Call { etag: etag(caller, "sen"), body: Some(purpose()), ..Call::new("PUT", path) }
        }
        "switch_off_optional_field" => {
            // One of its own, which only those have switched on who may.
            let path = "/optional-fields/eal";
            caller.call("PUT", path, Some(&purpose()));
            let etag = Some(etag(caller, "eal").unwrap_or("\"v1\"".into()));
            Call { etag, ..Call::delete(path.into()) }
        }
        "get_pupil_fields" => Call::get(path),
        "set_pupil_field" => {
            let etag = lead.get(&path).etag();
            Call::put(format!("{path}/sex"), etag, json!({"value": "F"}))
        }
        _ => return None,
    })
}
