//! How proposals of a sequence are asked for.

use plumbline_tests::{Client, json, text};

use super::Call;

const PATH: &str = "/sequence-proposals";

/// One that is done, so that there is one to read.
pub fn prepare(lead: &Client) {
    let made = lead.post(PATH, json!({"steps": 1})).expect(202);
    wait(lead, &text(&made["id"]));
}

fn wait(lead: &Client, id: &str) {
    assert_eq!(lead.get(&format!("{PATH}/{id}?wait=60")).expect(200)["status"], "done");
}

/// The request of an operation on proposals; `caller` is who will send it.
pub fn call(operation: &str, lead: &Client, caller: &Client) -> Option<Call> {
    let latest = || text(&lead.get(PATH).expect(200)["items"][0]["id"]);
    Some(match operation {
        "propose_sequence" => Call::post(PATH.into(), json!({"steps": 1})),
        "list_sequence_proposals" => Call::get(PATH.into()),
        "get_sequence_proposal" => Call::get(format!("{PATH}/{}", latest())),
        "cancel_sequence_proposal" if caller.token() == lead.token() => {
            // Only one that is not over can be cancelled.
            wait(lead, &latest());
            let made = lead.post(PATH, json!({"steps": 170, "beam": 500})).expect(202);
            Call::delete(format!("{PATH}/{}", text(&made["id"])))
        }
        "cancel_sequence_proposal" => Call::delete(format!("{PATH}/{}", latest())),
        _ => return None,
    })
}
