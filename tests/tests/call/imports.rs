//! How roster imports are asked for.

use plumbline_tests::{Client, json, text};

use super::Call;

pub const CSV: &str = "given_name,family_name,class_name\nIda,Moor,Birch\n";

/// The request of an operation on roster imports.
pub fn call(operation: &str, lead: &Client, import: &str) -> Option<Call> {
    let path = |id: &str, rest: &str| format!("/roster-imports/{id}{rest}");
    Some(match operation {
        "create_roster_import" => {
            Call { file: Some(("text/csv", CSV)), ..Call::new("POST", "/roster-imports".into()) }
        }
        "list_roster_imports" => Call::get("/roster-imports".into()),
        "get_roster_import" => Call::get(path(import, "")),
        "answer_roster_import" => {
            let shown = lead.post_csv("/roster-imports", CSV.as_bytes());
            Call::put(path(&text(&shown.expect(201)["id"]), "/answers"), shown.etag(), json!({}))
        }
        "confirm_roster_import" => Call::post(path(import, "/confirm"), json!({"from": "2026-09-01"})),
        "undo_roster_import" => {
            // A file without a pupil: carried out and taken back, it changes nothing.
            let shown = lead.post_csv("/roster-imports", b"given_name\n").expect(201);
            let id = text(&shown["id"]);
            lead.post(&path(&id, "/confirm"), json!({"from": "2026-09-01"})).expect(200);
            Call::new("POST", path(&id, "/undo"))
        }
        _ => return None,
    })
}
