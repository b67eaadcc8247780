//! How a group is asked for, and what was carried in for it. It has two adults; handing over is for a
//! day far ahead, so that today's assignments stay.

use plumbline_tests::{Client, Value, item_ids, json, lesson_ids, text};

use super::Call;

const CSV: &str = "given_name,family_name,date_of_birth,m\nZoe,Bell,2020-05-31,1\n";

/// What the group was taught before: the sequence's second lesson.
fn taught(lead: &Client, version: &str) -> Value {
    let lessons = lesson_ids(&lead.get(version).expect(200));
    json!({"as_of": "2026-11-02", "lesson_ids": [lessons[1]]})
}

/// Carries something in for the group and says its lessons; `version` is the address of the sequence version.
pub fn prepare(lead: &Client, group: &str, version: &str) {
    let path = format!("/groups/{group}/carried-in");
    lead.put(&path, &lead.get(&path).etag(), taught(lead, version)).expect(200);
    timetable_line(lead, group);
}

/// The day of a line of the group's timetable that is to be taken back.
const LINE: &str = "2026-11-30";

/// The ETag of the group's timetable, in which the line is made where there is none.
fn timetable_line(lead: &Client, group: &str) -> String {
    let path = format!("/groups/{group}/timetable");
    let seen = lead.get(&path);
    let lines = seen.json()["lines"].clone();
    if lines.as_array().unwrap().iter().any(|line| line["from"] == LINE) {
        return seen.etag();
    }
    lead.put(&path, &seen.etag(), json!({"from": LINE, "slots": null})).etag()
}

fn pace() -> Value {
    json!({"lessons": 4, "days": 5})
}

/// The ETag of the group's plan, which is made where there is none.
fn plan(lead: &Client, group: &str) -> String {
    let path = format!("{group}/pace-plan");
    let seen = lead.get(&path);
    if seen.json()["chosen"] == true {
        return seen.etag();
    }
    let made = lead.call("PUT", &path, Some(&pace()));
    made.expect(200);
    made.etag()
}

fn cover_link(lead: &Client, path: &str) -> Value {
    lead.post(&format!("{path}/cover-links"), json!({"on": "2026-11-25"})).expect(201)
}

/// The request of an operation on a group.
pub fn call(operation: &str, lead: &Client, group: &str, version: &str, pupil: &str) -> Option<Call> {
    let path = format!("/groups/{group}");
    let carried = format!("{path}/carried-in");
    let answers = format!("{carried}/answers");
    Some(match operation {
        "get_group" => Call::get(path),
        "get_group_timetable" => Call::get(format!("{path}/timetable")),
        "set_group_timetable" => {
            Call::put(format!("{path}/timetable"), lead.get(&path).etag(), json!({"slots": null}))
        }
        "remove_group_timetable_line" => {
            let etag = timetable_line(lead, group);
            Call { etag: Some(etag), ..Call::delete(format!("{path}/timetable?from={LINE}")) }
        }
        "list_group_sessions" => Call::get(format!("{path}/sessions?from=2026-11-23&to=2026-11-27")),
        "get_next_lesson" => Call::get(format!("{path}/next-lesson")),
        "get_cover_page" => Call::get(format!("{path}/cover-page")),
        "open_cover_page" => {
            let made = cover_link(lead, &path);
            Call::post("/cover-pages".into(), json!({"token": made["token"]}))
        }
        "list_cover_links" => Call::get(format!("{path}/cover-links")),
        "create_cover_link" => Call::post(format!("{path}/cover-links"), json!({"on": "2026-11-25"})),
        "revoke_cover_link" => {
            let made = cover_link(lead, &path);
            Call::delete(format!("{path}/cover-links/{}", text(&made["id"])))
        }
        "get_group_coverage" => Call::get(format!("{path}/coverage")),
        "get_class_attainment" => {
            let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
            Call::get(format!("/classes/{class}/attainment"))
        }
        "get_class_handover" => {
            let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
            Call::get(format!("/classes/{class}/handover"))
        }
        "get_group_handover" => Call::get(format!("{path}/handover")),
        "get_group_attainment" => Call::get(format!("{path}/attainment")),
        "get_group_next_items" => Call::get(format!("{path}/next-items")),
        "get_group_retention" => Call::get(format!("{path}/retention")),
        "get_group_re_check" => Call::get(format!("{path}/re-check")),
        "close_group" => {
            let close = Call::post(format!("{path}/close"), json!({"on": "2026-12-18"}));
            Call { etag: Some(lead.get(&path).etag()), ..close }
        }
        "get_group_pace" => Call::get(format!("{path}/pace")),
        "propose_group_pace" => Call::get(format!("{path}/pace/proposals?finish_by=2027-07-20")),
        "get_pace_plan" => Call::get(format!("{path}/pace-plan")),
        "save_pace_plan" => Call::put(format!("{path}/pace-plan"), plan(lead, &path), pace()),
        "remove_pace_plan" => {
            Call { etag: Some(plan(lead, &path)), ..Call::delete(format!("{path}/pace-plan")) }
        }
        "get_carried_in" => Call::get(carried),
        "save_carried_in" => {
            let etag = lead.get(&carried).etag();
            Call::put(carried, etag, taught(lead, version))
        }
        "remove_carried_in" => {
            if lead.get(&carried).expect(200)["taught"].is_null() {
                prepare(lead, group, version);
            }
            Call { etag: Some(lead.get(&carried).etag()), ..Call::delete(carried) }
        }
        "list_carried_answers" => Call::get(answers),
        "save_carried_answers" => {
            let item = &item_ids(&lead.get(version).expect(200), 0)[0];
            let answer = json!({"item_id": item, "outcome": "right"});
            let rows = json!([{"pupil_id": pupil, "answers": [answer]}]);
            Call::post(answers, json!({"on": "2026-11-02", "rows": rows}))
        }
        "import_carried_answers" => Call {
            file: Some(("text/csv", CSV)),
            ..Call::new("POST", format!("{answers}/imports?on=2026-11-02"))
        },
        "list_lesson_records" => Call::get(format!("{path}/lesson-records")),
        "hand_over_group" => {
            let seen = lead.get(&path);
            let staff = |n: usize| seen.json()["adults"][n]["staff_id"].clone();
            let body = json!({"from_staff_id": staff(0), "to_staff_id": staff(1), "on": "2027-06-01"});
            Call { etag: Some(seen.etag()), ..Call::post(format!("{path}/hand-over"), body) }
        }
        "set_group_version" => {
            Call::put(format!("{path}/version"), lead.get(&path).etag(), json!({"version_id": null}))
        }
        "set_member_weekdays" => {
            let seen = lead.get(&path);
            let member = text(&seen.json()["members"][0]["id"]);
            Call::put(format!("{path}/members/{member}/weekdays"), seen.etag(), json!({"weekdays": null}))
        }
        _ => return None,
    })
}
