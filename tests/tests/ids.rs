//! An id of another school, of nothing, and no id at all are answered alike.
#![allow(clippy::unwrap_used)]

mod operations;

use operations::{RANDOM, filled, full, none, served, with_json};
use plumbline_tests::{Client, School, Value, json};

/// Gives the lead next door a trust as well.
fn with_trust(admin: &Client) {
    let staff = admin.get("/staff").expect(200)["items"].as_array().unwrap().clone();
    let lead = staff.iter().find(|one| one["name"] == "Cy Lead").unwrap();
    let path = format!("/staff/{}", lead["id"].as_str().unwrap());
    let roles = ["lead", "trust_lead"].map(|role| json!({"role": role, "from": "2026-09-01"}));
    admin.put(&format!("{path}/roles"), &admin.get(&path).etag(), json!({"roles": roles})).expect(200);
}

#[test]
fn no_id_tells_whether_it_exists_elsewhere() {
    let school = School::start();
    let ids = full(&school);
    let document = served(&school);
    // Those who may do everything, at the school next door.
    let lead = school.neighbour();
    let admin = school.sign_in("admin@millbrook.example");
    let admin = school.nobody().with_token(admin["access_token"].as_str().unwrap());
    with_trust(&admin);
    let (_, pupil) = ids.iter().find(|(place, _)| *place == "/pupils/").unwrap();
    let bodies: Vec<(String, Value)> =
        with_json(&document).into_iter().map(|(operation, body)| (operation.id().to_owned(), body)).collect();
    let (mut wrong, mut tried) = (Vec::new(), 0);
    for operation in document.operations().into_iter().filter(|operation| operation.path.contains("id}")) {
        let client = if operation.path.contains("/staff/") { &admin } else { &lead };
        let client = client.with("If-Match", "\"v1\"");
        let body = bodies.iter().find(|(id, _)| id == operation.id()).map(|(_, body)| body);
        let method = operation.method.to_uppercase();
        let ask = |client: &Client, path: &str| match operation.id() {
            "import_carried_answers" => {
                client.post_csv(path.trim_start_matches("/api/v1"), b"pupil_ref,m\n1,1\n")
            }
            _ => client.call(&method, path, body),
        };
        let mut foreign = operation.path.replace("/members/{pupil_id}", &format!("/members/{pupil}"));
        foreign = foreign.replace("{field}", "sex").replace("{n}", "1");
        for (place, id) in &ids {
            for name in [
                "{id}",
                "{pupil_id}",
                "{version_id}",
                "{link_id}",
                "{placement_id}",
                "{sitting_id}",
                "{exemption_id}",
                "{entry_id}",
                "{earlier_id}",
                "{replica_id}",
            ] {
                foreign = foreign.replace(&format!("{place}{name}"), &format!("{place}{id}"));
            }
        }
        assert!(!foreign.contains('{'), "{foreign}");
        // What the query must say, so that only the ids are wrong.
        let query = match operation.id() {
            "import_carried_answers" => "?on=2026-11-24".to_owned(),
            "get_second_marks" | "get_agreement" | "get_log_sheet" => format!("?check_id={RANDOM}"),
            "list_group_sessions" => "?from=2026-11-23&to=2026-11-27".to_owned(),
            "compare_report_releases" => format!("?with={RANDOM}"),
            "get_snapshot_progress" => format!("?since={RANDOM}"),
            "propose_group_pace" => "?finish_by=2027-07-20".to_owned(),
            "remove_group_timetable_line" => "?from=2026-11-30".to_owned(),
            "compare_group_proposals" => format!("?with={RANDOM}"),
            _ => String::new(),
        };
        let unknown = ask(&client, &format!("{}{query}", filled(operation.path, RANDOM)));
        for path in [
            foreign,
            filled(operation.path, "x"),
            filled(operation.path, "00000000-0000-0000-0000-000000000000"),
        ] {
            tried += 1;
            let answer = ask(&client, &format!("{path}{query}"));
            if answer.status != 404 || unknown.status != 404 || answer.text != unknown.text {
                wrong.push(format!(
                    "{} {path}: {} {} but {} {}",
                    operation.id(),
                    answer.status,
                    answer.text,
                    unknown.status,
                    unknown.text
                ));
            }
            let nobody = ask(&school.nobody(), &path);
            if nobody.status != 401 {
                wrong.push(format!("{} {path} by nobody: {}", operation.id(), nobody.status));
            }
        }
    }
    none(&wrong);
    assert!(tried > 90, "{tried}");
}
