//! How snapshots and releases of reports are asked for.

use plumbline_tests::{Client, Value, json, text};

use super::Call;

/// The request of an operation on reports.
pub fn call(operation: &str, lead: &Client, half_term: &str) -> Option<Call> {
    let body = || json!({"half_term_id": half_term});
    // A half term is released from one snapshot: the first.
    let snapshot = || match lead.get("/report-snapshots").expect(200)["items"].as_array().unwrap().last() {
        Some(first) => text(&first["id"]),
        None => text(&lead.post("/report-snapshots", body()).expect(201)["id"]),
    };
    let releases = || format!("/report-snapshots/{}/releases", snapshot());
    let closed = || json!({"audience": "closed", "by": ["year_group"]});
    let released = || {
        lead.post(&releases(), closed()).expect(201);
        text(&lead.get("/report-releases").expect(200)["items"][0]["id"])
    };
    Some(match operation {
        "get_attainment_report" => Call::get(format!("/reports/attainment?half_term_id={half_term}")),
        "take_report_snapshot" => Call::post("/report-snapshots".into(), body()),
        "list_report_snapshots" => Call::get("/report-snapshots".into()),
        "get_report_snapshot" => Call::get(format!("/report-snapshots/{}", snapshot())),
        "release_report" => Call::post(releases(), closed()),
        "get_snapshot_progress" => {
            let year = lead.get("/school-years").expect(200)["items"][0].clone();
            let first = json!({"half_term_id": year["half_terms"][0]["id"]});
            let since = text(&lead.post("/report-snapshots", first).expect(201)["id"]);
            let later = text(&lead.post("/report-snapshots", body()).expect(201)["id"]);
            Call::get(format!("/report-snapshots/{later}/progress?since={since}"))
        }
        "preview_release" => {
            Call::post(format!("/report-snapshots/{}/release-previews", snapshot()), closed())
        }
        "list_report_releases" => Call::get("/report-releases".into()),
        "get_report_release" => Call::get(format!("/report-releases/{}", released())),
        "export_report_release" => Call::get(format!("/report-releases/{}/table.csv", released())),
        "export_report_release_workbook" => Call::get(format!("/report-releases/{}/table.xlsx", released())),
        "show_report_release" => Call::get(format!("/report-releases/{}/page", released())),
        "print_report_release" => Call::get(format!("/report-releases/{}/report.pdf", released())),
        "compare_report_releases" => {
            let later = released();
            let year = lead.get("/school-years").expect(200)["items"][0].clone();
            let first = json!({"half_term_id": year["half_terms"][0]["id"]});
            let earlier = text(&lead.post("/report-snapshots", first).expect(201)["id"]);
            let made = lead.post(&format!("/report-snapshots/{earlier}/releases"), closed());
            // Of one half term only the first snapshot is released.
            assert!([201, 409].contains(&made.status), "{}", made.text);
            let all = lead.get("/report-releases").expect(200)["items"].as_array().unwrap().clone();
            let day = |one: &&Value| text(&one["as_of"]);
            let with = text(&all.iter().min_by_key(day).unwrap()["id"]);
            Call::get(format!("/report-releases/{later}/compared?with={with}"))
        }
        _ => return None,
    })
}
