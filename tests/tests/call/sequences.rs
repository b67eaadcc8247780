//! How a sequence, its draft and its versions are asked for. Versions are published for a day far ahead, and
//! the latest is withdrawn and restored, so that what groups are taught from stays.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

/// Gives the draft's first step another title, so that there is something new to publish.
fn rename(lead: &Client, sequence: &str, title: String) {
    let path = format!("/sequences/{sequence}/draft");
    let read = lead.get(&path);
    let mut steps = read.expect(200)["steps"].clone();
    steps[0]["title"] = json!(title);
    lead.put(&path, &read.etag(), json!({"steps": steps})).expect(200);
}

/// The latest version beyond the first, withdrawn or not.
fn latest(lead: &Client, sequence: &str, withdrawn: bool) -> String {
    let path = format!("/sequences/{sequence}/versions");
    let listed = lead.get(&path).expect(200);
    let versions = listed["items"].as_array().unwrap();
    let mut found =
        versions.iter().filter(|one| one["number"] != 1 && one["withdrawn_on"].is_null() != withdrawn);
    let id = |version: &Value| format!("{path}/{}/withdraw", text(&version["id"]));
    if let Some(version) = found.next() {
        return id(version);
    }
    rename(lead, sequence, format!("Of version {}", versions.len() + 1));
    let made = lead.post(&path, json!({"effective_on": "2027-01-04"})).expect(201);
    if withdrawn {
        lead.post(&id(&made), json!({"note": "Too early"})).expect(200);
    }
    id(&made)
}

/// Publishes two versions for a day far ahead, the second withdrawn.
pub fn prepare(lead: &Client, sequence: &str) {
    latest(lead, sequence, false);
    latest(lead, sequence, true);
}

/// The request of an operation on a sequence; `version` is the address of its first version.
pub fn call(operation: &str, lead: &Client, sequence: &str, version: &str, fresh: u32) -> Option<Call> {
    let path = format!("/sequences/{sequence}");
    let draft = format!("{path}/draft");
    Some(match operation {
        "create_sequence" => Call::post("/sequences".into(), json!({"name": format!("Sequence {fresh}")})),
        "get_sequence" => Call::get(path),
        "get_draft" => Call::get(draft),
        "save_draft" => {
            let seen = lead.get(&draft);
            Call::put(draft, seen.etag(), seen.json())
        }
        "export_draft" => Call::get(format!("{draft}/export?format=case")),
        "export_version" => Call::get(format!("{version}/export?format=case")),
        "import_draft" => {
            let file = lead.get(&format!("{draft}/export?format=case"));
            Call { etag: Some(file.etag()), ..Call::post(format!("{draft}/import"), file.json()) }
        }
        "analyse_draft" => Call::get(format!("{draft}/analysis")),
        "get_draft_changes" => Call::get(format!("{draft}/changes")),
        "get_draft_impact" => Call::get(format!("{draft}/impact?effective_on=2027-01-04")),
        "publish_version" => {
            // Only where there is nothing new: who is refused leaves no trace.
            let listed = lead.get(&format!("{path}/versions")).expect(200);
            let standing =
                listed["items"].as_array().unwrap().iter().find(|one| one["withdrawn_on"].is_null());
            let standing = format!("{path}/versions/{}", text(&standing.unwrap()["id"]));
            if lead.get(&standing).expect(200)["steps"] == lead.get(&draft).expect(200)["steps"] {
                rename(lead, sequence, format!("Of call {fresh}"));
            }
            Call::post(format!("{path}/versions"), json!({"effective_on": "2027-01-04"}))
        }
        "list_versions" => Call::get(format!("{path}/versions")),
        "get_version" => Call::get(version.into()),
        "get_version_changes" => Call::get(format!("{version}/changes")),
        "preview_withdrawal" => Call::get(latest(lead, sequence, false)),
        "withdraw_version" => Call::post(latest(lead, sequence, false), json!({"note": "Too early"})),
        "restore_version" => Call::delete(latest(lead, sequence, true)),
        _ => return None,
    })
}
