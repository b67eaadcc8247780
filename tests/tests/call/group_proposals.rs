//! How proposals of groups are asked for. Each is of one pupil and a group to be made, from a day far ahead
//! on, so that today's groups stay.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

const PATH: &str = "/group-proposals";

/// Asks for a group of a name that no group there is has.
fn body(lead: &Client, sequence: &str, pupil: &str) -> Value {
    let there = lead.get("/groups").expect(200)["items"].as_array().map_or(0, Vec::len);
    let group = json!({"name": format!("Proposed {there}"), "least": 1, "most": 12});
    json!({"sequence_id": sequence, "pupil_ids": [pupil], "groups": [group]})
}

/// The request of an operation on proposals of groups.
pub fn call(operation: &str, lead: &Client, sequence: &str, pupil: &str) -> Option<Call> {
    let fresh = || text(&lead.post(PATH, body(lead, sequence, pupil)).expect(201)["id"]);
    Some(match operation {
        "propose_groups" => Call::post(PATH.into(), body(lead, sequence, pupil)),
        "list_group_proposals" => Call::get(PATH.into()),
        "get_group_proposal" => Call::get(format!("{PATH}/{}", fresh())),
        "compare_group_proposals" => Call::get(format!("{PATH}/{}/compare?with={}", fresh(), fresh())),
        "accept_group_proposal" => {
            Call::post(format!("{PATH}/{}/accept", fresh()), json!({"on": "2027-06-01"}))
        }
        "remove_group_proposal" => Call::delete(format!("{PATH}/{}", fresh())),
        _ => return None,
    })
}
