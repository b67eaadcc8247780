//! How rollovers are asked for.

use plumbline_tests::{Answer, Client, Value, json, text};

use super::Call;

const PATH: &str = "/rollovers/2027";

/// A plan for next year: everybody stays in the class.
pub fn prepare(lead: &Client) {
    let year = json!({"starts_on": "2027-09-01", "ends_on": "2028-08-31", "half_terms": [
        {"name": "Autumn", "starts_on": "2027-09-01", "ends_on": "2027-12-17"}]});
    lead.call("PUT", "/school-years/2027", Some(&year)).expect(200);
    lead.call("PUT", PATH, Some(&stays(lead))).expect(200);
}

fn stays(lead: &Client) -> Value {
    let classes = lead.get("/classes").expect(200)["items"].clone();
    let classes = classes.as_array().unwrap().iter();
    let lines: Vec<_> = classes.map(|class| json!({"class_id": class["id"], "to": class["name"]})).collect();
    json!({"classes": lines})
}

fn act(seen: &Answer, what: &str) -> Call {
    Call { etag: Some(seen.etag()), ..Call::new("POST", format!("{PATH}/{what}")) }
}

/// The request of an operation on rollovers. A plan of its own is saved for the year that runs.
pub fn call(operation: &str, lead: &Client) -> Option<Call> {
    Some(match operation {
        "save_rollover" => {
            let (path, seen) = ("/rollovers/2026", lead.get("/rollovers/2026"));
            let etag = Some(seen.status).filter(|status| *status == 200).map(|_| seen.etag());
            Call { etag, body: Some(json!({})), ..Call::new("PUT", path.into()) }
        }
        "get_rollover" => Call::get(PATH.into()),
        "apply_rollover" => {
            let seen = lead.get(PATH);
            if text(&seen.json()["status"]) == "applied" {
                return Some(act(&seen, "apply"));
            }
            // Classes and pupils were added since it was saved, by other calls.
            act(&lead.put(PATH, &seen.etag(), stays(lead)), "apply")
        }
        "undo_rollover" => act(&lead.get(PATH), "undo"),
        _ => return None,
    })
}
