//! How operations on pupils are asked for, and decisions about records alike.

use plumbline_tests::{Client, json, text};

use super::Call;

fn sequence(lead: &Client) -> String {
    text(&lead.get("/sequences").expect(200)["items"][0]["id"])
}

/// The address of a placement check of the pupil that goes on; begun, if there is none.
fn placement(lead: &Client, pupil: &str) -> String {
    let path = format!("{pupil}/placements");
    let listed = lead.get(&path).expect(200)["items"].clone();
    let on = listed.as_array().unwrap().iter().find(|one| one["end"].is_null()).cloned();
    let on = on.unwrap_or_else(|| lead.post(&path, json!({"sequence_id": sequence(lead)})).expect(201));
    format!("{path}/{}", text(&on["id"]))
}

/// None goes on from now on.
fn ended(lead: &Client, pupil: &str) {
    lead.call("POST", &format!("{}/end", placement(lead, pupil)), None).expect(200);
}

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
        "begin_placement" => {
            // One goes on at a time: it is the caller's, or nobody's.
            ended(lead, &path);
            Call::post(format!("{path}/placements"), json!({"sequence_id": sequence(lead)}))
        }
        "list_placements" => Call::get(format!("{path}/placements")),
        "get_placement" => Call::get(placement(lead, &path)),
        "end_placement" => Call::new("POST", format!("{}/end", placement(lead, &path))),
        "answer_placement" => {
            ended(lead, &path);
            let on = placement(lead, &path);
            let next = lead.get(&on).expect(200)["next"]["item_id"].clone();
            let id = format!("0199f2c4-1111-7000-8000-{:012x}", fresh());
            let answer = json!({"id": id, "item_id": next, "outcome": "right"});
            Call::post(format!("{on}/answers"), json!({"answers": [answer]}))
        }
        "get_pupil_coverage" => Call::get(format!("{path}/coverage")),
        "get_pupil_attainment" => Call::get(format!("{path}/attainment")),
        "get_pupil_handover" => Call::get(format!("{path}/handover")),
        "write_what_helped" => {
            let etag = lead.get(&format!("{path}/handover")).etag();
            Call::put(format!("{path}/what-helped"), etag, json!({"text": "A card under the line."}))
        }
        "get_pupil_transfer" => Call::get(format!("{path}/transfer")),
        "receive_pupil_transfer" => {
            Call::post(format!("{path}/transfer"), lead.get(&format!("{path}/transfer")).expect(200))
        }
        "get_pupil_next_items" => Call::get(format!("{path}/next-items")),
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
        other => {
            return super::answering::call(other, lead, caller, pupil)
                .or_else(|| super::sittings::call(other, lead, caller, pupil, fresh))
                .or_else(|| super::statutory::call(other, lead, pupil));
        }
    })
}
