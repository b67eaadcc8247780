//! An import is taken back in one step, until other work depends on it.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, Value, column, json, text};

fn import(lead: &Client, csv: &str, answers: Option<Value>) -> String {
    let shown = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let id = text(&shown["id"]);
    if let Some(answers) = answers {
        lead.put(&format!("/roster-imports/{id}/answers"), &text(&shown["etag"]), answers).expect(200);
    }
    lead.post(&format!("/roster-imports/{id}/confirm"), json!({"from": "2026-11-25"})).expect(200);
    id
}

/// Everything the roster says: classes, and each pupil's page.
fn roster(lead: &Client) -> Value {
    let classes = column(&lead.get("/classes").expect(200)["items"], "name");
    let pupils = lead.get("/pupils?leavers=true&limit=500").expect(200)["items"].clone();
    let pages = column(&pupils, "id")
        .iter()
        .map(|id| lead.get(&format!("/pupils/{id}")).expect(200))
        .collect::<Vec<_>>();
    json!({"classes": classes, "pupils": pages})
}

const FIRST: &str = "pupil_ref,upn,given_name,family_name,date_of_birth,year_group,class_name\n\
    A1,B801200005001,Zoe,Bell,2020-05-31,2,Alder\nA2,,Max,Bell,2020-06-30,2,Alder\n";

const SECOND: &str = "pupil_ref,upn,given_name,family_name,date_of_birth,year_group,class_name\n\
    B7,B801200005001,Zoë,Bel,2020-05-30,1,Rowan\nA3,,Ida,Hart,2021-01-31,1,Rowan\n";

#[test]
fn everything_is_as_it_was() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, FIRST, None);
    let (sequence, _) = school.sequence();
    let max = text(
        &roster(&lead)["pupils"].as_array().unwrap().iter().find(|p| p["pupil_ref"] == "A2").unwrap()["id"],
    );
    school.group("Alder", &sequence, &[&max]);
    let before = roster(&lead);
    // Zoe, known by her UPN, changes in every other field; Ida and Rowan are new, Max leaves.
    let second = import(&lead, SECOND, Some(json!({"leavers": 1})));
    let after = roster(&lead);
    assert_ne!(after, before);
    assert_eq!(after["classes"], json!(["Alder", "Rowan"]));
    let undo = format!("/roster-imports/{second}/undo");
    let undone = lead.call("POST", &undo, None).expect(200);
    assert_eq!(undone["status"], "undone");
    assert_eq!(roster(&lead), before);
    lead.call("POST", &undo, None).problem(409, "conflict");
    // The same file can be imported once more.
    import(&lead, SECOND, Some(json!({"leavers": 1})));
    assert_eq!(column(&roster(&lead)["pupils"], "given_name").len(), 3);
}

#[test]
fn it_is_refused_once_other_work_depends_on_it() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let shown = lead.post_csv("/roster-imports", FIRST.as_bytes()).expect(201);
    let preview = format!("/roster-imports/{}/undo", text(&shown["id"]));
    lead.call("POST", &preview, None).problem(409, "conflict");
    let first = import(&lead, FIRST, None);
    let second = import(&lead, SECOND, None);
    let refused = |id: &str| {
        let answer = lead.call("POST", &format!("/roster-imports/{id}/undo"), None);
        answer.problem(409, "conflict");
        text(&answer.json()["detail"])
    };
    // The second import changed Zoe, and put nobody of the first in its class: it depends on it.
    assert!(refused(&first).contains("1 pupils of it were changed since"), "{}", refused(&first));
    let before = roster(&lead);
    let page = |reference: &str| {
        before["pupils"].as_array().unwrap().iter().find(|p| p["pupil_ref"] == reference).unwrap().clone()
    };
    let (sequence, _) = school.sequence();
    let ida = text(&page("A3")["id"]);
    school.group("Rowan", &sequence, &[&ida]);
    let said = refused(&second);
    assert!(said.contains("1 pupils it added are in a group"), "{said}");
    assert_eq!(column(&roster(&lead)["pupils"], "id"), column(&before["pupils"], "id"), "nothing was undone");
}
