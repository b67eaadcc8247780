//! The year groups of a pupil file are of one school year: shown, compared and saved for it.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Server, Value, column, json, text};

const FILE: &str = "pupil_ref,given_name,family_name,date_of_birth,class_name\n\
    A1,Ada,Swift,2020-08-31,Oak\nA2,Bo,Reyes,2020-09-01,Oak\n";

/// A school in July, with this year in its calendar and the next.
fn july() -> (School, Client) {
    let school = School::on(Server::start("2026-07-15"));
    let lead = school.lead();
    for year in [2025, 2026] {
        let term = json!({"name": "All", "starts_on": format!("{year}-09-02"),
                          "ends_on": format!("{}-07-17", year + 1)});
        let body = json!({"starts_on": format!("{year}-09-01"), "ends_on": format!("{}-07-31", year + 1),
                          "half_terms": [term]});
        lead.call("PUT", &format!("/school-years/{year}"), Some(&body)).expect(200);
    }
    (school, lead)
}

fn answer(lead: &Client, shown: &Value, answers: Value) -> Answer {
    lead.put(&format!("/roster-imports/{}/answers", text(&shown["id"])), &text(&shown["etag"]), answers)
}

fn confirm(lead: &Client, shown: &Value, body: Value) -> Answer {
    lead.post(&format!("/roster-imports/{}/confirm", text(&shown["id"])), body)
}

fn years(list: &Value) -> Vec<String> {
    column(list, "year_group")
}

#[test]
fn a_file_for_september_is_read_for_september() {
    let (mut school, lead) = july();
    let shown = lead.post_csv("/roster-imports", FILE.as_bytes()).expect(201);
    // In July 2026, by birth in England: who was 5 on 31 August 2025 is in Year 1, who was 4 in Reception.
    assert_eq!(
        (&shown["year"], years(&shown["created"])),
        (&json!(2025), vec!["year_1".into(), "reception".into()])
    );
    let refused = confirm(&lead, &shown, json!({"from": "2026-09-01"})).problem(422, "invalid");
    assert_eq!(
        refused,
        ["from: lies in the school year that starts in 2026, and the year groups shown are of the one that \
          starts in 2025: answer `year` with 2026, look again, then confirm"]
    );
    assert_eq!(lead.get("/pupils").expect(200)["items"], json!([]));
    let unknown = answer(&lead, &shown, json!({"year": 2027})).problem(422, "invalid");
    assert_eq!(unknown, ["year: is no school year of the calendar; save the year first"]);
    let shown = answer(&lead, &shown, json!({"year": 2026})).expect(200);
    assert_eq!(
        (&shown["year"], years(&shown["created"])),
        (&json!(2026), vec!["year_2".into(), "year_1".into()])
    );
    confirm(&lead, &shown, json!({"from": "2026-07-15"})).problem(422, "invalid");
    // Unless told, the classes begin with the year.
    confirm(&lead, &shown, json!({})).expect(200);
    let pupils = || {
        let ids = column(&lead.get("/pupils").expect(200)["items"], "id").into_iter();
        ids.map(|id| lead.get(&format!("/pupils/{id}")).expect(200)).collect::<Vec<_>>()
    };
    assert!(pupils().iter().all(|pupil| pupil["classes"] == json!([]) && pupil["year_group"].is_null()));
    // The same file for the same year changes nothing, though nobody has moved yet.
    let again = lead.post_csv("/roster-imports", FILE.as_bytes()).expect(201);
    let again = answer(&lead, &again, json!({"year": 2026})).expect(200);
    assert_eq!((&again["unchanged"], &again["updated"]), (&json!(2), &json!([])));
    // On 1 September both are where the preview said.
    school.server.stop_and_restart("2026-09-01");
    let signed_in = school.sign_in(&School::email("lead"));
    let lead = school.nobody().with_token(&text(&signed_in["access_token"]));
    for (id, year) in column(&lead.get("/pupils").expect(200)["items"], "id").iter().zip(["year_1", "year_2"])
    {
        let pupil = lead.get(&format!("/pupils/{id}")).expect(200);
        // By family name: Reyes, then Swift.
        assert_eq!(
            (text(&pupil["year_group"]).as_str(), column(&pupil["classes"], "name")),
            (year, vec!["Oak".into()])
        );
    }
}

#[test]
fn a_day_between_two_years_belongs_to_the_one_before() {
    // August lies in no year of this calendar; next year's year groups are not today's yet.
    let school = School::on(Server::start("2026-08-10"));
    let lead = school.lead();
    for (year, from, to) in [(2025, "2025-09-01", "2026-07-31"), (2026, "2026-09-01", "2027-07-31")] {
        let body = json!({"starts_on": from, "ends_on": to, "half_terms": [
            {"name": "Autumn", "starts_on": from, "ends_on": to}]});
        lead.call("PUT", &format!("/school-years/{year}"), Some(&body)).expect(200);
    }
    let shown = lead.post_csv("/roster-imports", FILE.as_bytes()).expect(201);
    let shown = answer(&lead, &shown, json!({"year": 2026})).expect(200);
    confirm(&lead, &shown, json!({})).expect(200);
    let listed = lead.get("/pupils").expect(200)["items"].clone();
    for id in column(&listed, "id") {
        let pupil = lead.get(&format!("/pupils/{id}")).expect(200);
        assert_eq!(pupil["year_group"], Value::Null);
    }
}
