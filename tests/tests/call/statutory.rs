//! How operations on the statutory check are asked for.

use plumbline_tests::{Answer, Client, Value, json, text};

use super::Call;

/// A window that is open today, and one of the summer before whose results are submitted.
pub fn prepare(lead: &Client) {
    let year = json!({"starts_on": "2025-09-01", "ends_on": "2026-08-31", "half_terms": [
        {"name": "Summer 2", "starts_on": "2026-06-01", "ends_on": "2026-07-21"}]});
    lead.call("PUT", "/school-years/2025", Some(&year)).expect(200);
    for pupil in pupils(lead) {
        let path = format!("/pupils/{pupil}");
        let before = json!({"year_group": "Year 1", "from": "2026-06-01"});
        lead.patch(&path, &lead.get(&path).etag(), before).expect(200);
    }
    let now = json!({"year": 2026, "term": "autumn", "opens_on": "2026-11-23", "closes_on": "2026-11-27"});
    lead.post("/statutory-windows", now).expect(201);
    let before = lead.post("/statutory-windows", json!({"year": 2026, "term": "summer"}));
    let path = format!("/statutory-windows/{}", text(&before.expect(201)["id"]));
    submitted(lead, &path);
}

fn pupils(lead: &Client) -> Vec<String> {
    let listed = lead.get("/pupils").expect(200);
    listed["items"].as_array().unwrap().iter().map(|pupil| text(&pupil["id"])).collect()
}

fn submitted(lead: &Client, path: &str) {
    let seen = lead.get(path);
    let body = json!({"go_on_without": seen.json()["left"]});
    let answer = lead.with("If-Match", &seen.etag()).post(&format!("{path}/submission"), body);
    answer.expect(200);
}

/// A window nobody is of, in a year without one.
fn another(lead: &Client) -> Answer {
    let held = lead.get("/statutory-windows").expect(200);
    let taken = |year: &i32| held["items"].as_array().unwrap().iter().any(|one| one["year"] == *year);
    let year = (2000..).find(|year| !taken(year)).unwrap();
    let days = json!({"year": year, "term": "summer", "opens_on": format!("{year}-06-12"),
                      "closes_on": format!("{year}-06-16")});
    let made = lead.post("/statutory-windows", days);
    made.expect(201);
    made
}

fn window(lead: &Client, term: &str) -> String {
    let listed = lead.get("/statutory-windows").expect(200);
    let found =
        listed["items"].as_array().unwrap().iter().find(|one| one["year"] == 2026 && one["term"] == term);
    format!("/statutory-windows/{}", text(&found.unwrap()["id"]))
}

/// The version of what is entered for the pupil.
fn version(seen: &Answer, pupil: &str) -> Value {
    let page = seen.json();
    let found = page["pupils"].as_array().unwrap().iter().find(|one| one["pupil_id"] == pupil);
    found.map_or(Value::Null, |one| one["entered"]["version"].clone())
}

fn result(lead: &Client, path: &str, pupil: &str) -> Value {
    let replaces = version(&lead.get(path), pupil);
    json!({"results": [{"pupil_id": pupil, "result": "20", "on": "2026-11-24", "replaces": replaces}]})
}

/// The request of an operation on the statutory check.
pub fn call(operation: &str, lead: &Client, pupil: &str) -> Option<Call> {
    let thresholds = "/statutory-thresholds";
    let earlier = format!("/pupils/{pupil}/earlier-statutory-results");
    let (now, before) = (|| window(lead, "autumn"), || window(lead, "summer"));
    // None of them twice.
    let year = || {
        let held = lead.get(&earlier).expect(200)["items"].as_array().unwrap().len();
        json!({"year": 2000 + held, "term": "summer", "result": "A", "source": "another_school"})
    };
    Some(match operation {
        "list_statutory_windows" => Call::get("/statutory-windows".into()),
        "open_statutory_window" => {
            let days =
                json!({"year": 2028, "term": "summer", "opens_on": "2028-06-12", "closes_on": "2028-06-16"});
            Call::post("/statutory-windows".into(), days)
        }
        "get_statutory_window" => Call::get(now()),
        "enter_statutory_results" => {
            let path = now();
            let body = result(lead, &path, pupil);
            Call::post(format!("{path}/results"), body)
        }
        "take_back_statutory_result" => {
            let path = now();
            lead.post(&format!("{path}/results"), result(lead, &path, pupil)).expect(200);
            let etag = format!("\"v{}\"", version(&lead.get(&path), pupil));
            Call { etag: Some(etag), ..Call::delete(format!("{path}/results/{pupil}")) }
        }
        "amend_statutory_result" => {
            let path = before();
            let replaces = version(&lead.get(&path), pupil);
            let body = json!({"result": "A", "amended_for": "found_since", "note": "Away all week.", "replaces": replaces});
            Call::post(format!("{path}/results/{pupil}/amendments"), body)
        }
        "get_statutory_result_history" => Call::get(format!("{}/results/{pupil}/history", now())),
        "remove_statutory_window" => {
            let made = another(lead);
            let path = format!("/statutory-windows/{}", text(&made.json()["id"]));
            Call { etag: Some(made.etag()), ..Call::delete(path) }
        }
        "submit_statutory_window" => {
            let made = another(lead);
            let path = format!("/statutory-windows/{}/submission", text(&made.json()["id"]));
            Call { etag: Some(made.etag()), ..Call::post(path, json!({})) }
        }
        "list_statutory_outcomes" => Call::get(format!("{}/outcomes", now())),
        "get_statutory_summary" => Call::get(format!("{}/summary", now())),
        "get_statutory_near_threshold" => Call::get(format!("{}/near-threshold", now())),
        "export_statutory_results" => Call::get(format!("{}/results.csv", now())),
        "get_statutory_letters" => Call::get(format!("{}/letters", before())),
        "list_statutory_thresholds" => Call::get(thresholds.into()),
        "enter_statutory_threshold" => {
            let listed = lead.get(thresholds).expect(200);
            let entered = listed["items"].as_array().unwrap().iter().rfind(|one| one["year"] == 2011);
            let etag = entered.map(|one| text(&one["etag"]));
            let body = json!({"threshold": 30, "published_on": "2026-11-25"});
            Call { etag, body: Some(body), ..Call::new("PUT", format!("{thresholds}/2011")) }
        }
        "list_earlier_statutory_results" => Call::get(earlier.clone()),
        "add_earlier_statutory_result" => Call::post(earlier.clone(), year()),
        "remove_earlier_statutory_result" => {
            lead.post(&earlier, year()).expect(201);
            let held = lead.get(&earlier).expect(200)["items"].as_array().unwrap().last().cloned().unwrap();
            let path = format!("{earlier}/{}", text(&held["id"]));
            Call { etag: Some(text(&held["etag"])), ..Call::delete(path) }
        }
        _ => return None,
    })
}
