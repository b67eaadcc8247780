//! How operations of replicas are asked for, each with a replica of the caller's own.

use plumbline_tests::{Client, Value, json};

use super::Call;

const TABLET: &str = "0199f2c4-7001-7000-8000-000000000001";

/// The request of an operation. The replica is the caller's, where the caller may have one.
pub fn call(operation: &str, lead: &Client, caller: &Client, fresh: impl Fn() -> u32) -> Option<Call> {
    let id = |kind: u32| format!("0199f2c4-{kind:04x}-7000-8000-{:012x}", fresh());
    if !["add_replica", "pull_changes", "push_operations"].contains(&operation) {
        return None;
    }
    // A sign-in is one tablet's: everybody's is on this one.
    let tablet = TABLET;
    lead.post("/tablets", json!({"id": tablet, "name": "Carpet"})).expect(201);
    let new = || json!({"id": id(0x7002), "tablet_id": tablet});
    if operation == "add_replica" {
        return Some(Call::post("/sync/replicas".into(), new()));
    }
    let own = caller.post("/sync/replicas", new());
    let replica: Value =
        if own.status == 201 { own.json() } else { lead.post("/sync/replicas", new()).expect(201) };
    let told = json!({"replica": replica["id"], "epoch": replica["epoch"], "schema": 1});
    let with = |field: &str, value: Value| {
        let mut body = told.clone();
        body[field] = value;
        body
    };
    Some(match operation {
        "pull_changes" => Call::post("/sync/pull".into(), with("cursors", json!({}))),
        _ => {
            let mut body = with("ack_n", json!(0));
            body["ops"] = json!([]);
            Call::post("/sync/push".into(), body)
        }
    })
}
