//! How operations on tablets and their replicas, and on what revoked ones sent, are asked for.

use plumbline_tests::{Client, held_op, json};

use super::Call;

/// The request of an operation; each that changes a tablet has one of its own.
pub fn call(operation: &str, lead: &Client, caller: &Client, fresh: impl Fn() -> u32) -> Option<Call> {
    let new = || json!({"id": format!("0199f2c4-7777-7000-8000-{:012x}", fresh()), "name": "Carpet tablet"});
    let made = || {
        let made = lead.post("/tablets", new());
        (format!("/tablets/{}", made.json()["id"].as_str().unwrap()), made.etag())
    };
    Some(match operation {
        "list_tablets" => Call::get("/tablets".into()),
        "add_tablet" => Call::post("/tablets".into(), new()),
        "get_tablet" => Call::get(made().0),
        "rename_tablet" => {
            let (path, etag) = made();
            Call::patch(path, etag, json!({"name": "Oak tablet"}))
        }
        "revoke_tablet" => Call::post(format!("{}/revoke", made().0), json!({})),
        "list_held_ops" => Call::get("/sync/held-ops".into()),
        "discard_held_op" => Call::new("POST", format!("/sync/held-ops/{}/1/discard", held_op(lead))),
        "follow_events" => Call::get("/sync/events".into()),
        other => return super::syncing::call(other, lead, caller, fresh),
    })
}
