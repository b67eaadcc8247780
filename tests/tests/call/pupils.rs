//! How operations on pupils are asked for, and decisions about records alike.

use plumbline_tests::{Client, json, text};

use super::Call;

/// The request of an operation on pupils. Who may decide about two decides about a pair of its own;
/// anybody else is refused about one that is there.
pub fn call(
    operation: &str,
    lead: &Client,
    caller: &Client,
    pupil: &str,
    fresh: impl Fn() -> u32,
) -> Option<Call> {
    let path = format!("/pupils/{pupil}");
    let kit = || {
        let made = caller.post("/pupils", json!({"given_name": format!("Kit {}", fresh())}));
        if made.status == 201 { made.json()["id"].clone() } else { json!(pupil) }
    };
    let pair = || json!({"verdict": "different", "pupil_id": kit(), "other_id": kit()});
    Some(match operation {
        "create_pupil" => Call::post("/pupils".into(), json!({"given_name": format!("Kit {}", fresh())})),
        "export_pupils" => Call::get("/pupils/export".into()),
        "get_pupil" => Call::get(path),
        "update_pupil" => {
            let etag = lead.get(&path).etag();
            Call::patch(path, etag, json!({"label": format!("label {}", fresh())}))
        }
        "get_pupil_coverage" => Call::get(format!("{path}/coverage")),
        "list_suspected_duplicates" => Call::get("/suspected-duplicates".into()),
        "list_pupil_decisions" => Call::get("/pupil-decisions".into()),
        "decide_pupils" => Call::post("/pupil-decisions".into(), pair()),
        "take_back_pupil_decision" => {
            let there = lead.get("/pupil-decisions").expect(200)["items"][0].clone();
            let of_this_school = caller.get(&path).status == 200;
            let made = Some(()).filter(|()| of_this_school).map(|()| caller.post("/pupil-decisions", pair()));
            let made = made.filter(|made| made.status == 201).map_or(there, |made| made.json());
            let path = format!("/pupil-decisions/{}", text(&made["id"]));
            Call { etag: Some(text(&made["etag"])), ..Call::delete(path) }
        }
        _ => return None,
    })
}
