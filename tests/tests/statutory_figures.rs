//! What results of the statutory check come to: thresholds that come late or change, figures, the return, letters.
#![allow(clippy::unwrap_used)]

mod screened;

use plumbline_tests::{Value, json, text};
use screened::{DAY, Screened, import};

/// Year 1: 31, 30, A, D and one missing; Year 2: Fay reached it before, 33 and 5.
fn submitted() -> Screened {
    let s = Screened::new();
    s.enter_all(&s.school.staff("teacher"), &[("Ann", "31"), ("Bea", "30"), ("Cal", "A")]);
    s.enter(&s.school.staff("head"), &[s.result("Dee", "D", &json!({"reason": "signs"}))]).expect(200);
    s.earlier("Fay", 2026, "40").expect(201);
    s.enter_all(&s.lead(), &[("Gus", "33"), ("Ida", "5")]);
    s.submit(&s.lead(), 1).expect(200);
    s
}

#[test]
fn outcomes_follow_the_threshold_whenever_it_comes_or_changes() {
    let s = submitted();
    let (lead, teacher) = (s.lead(), s.school.staff("teacher"));
    let path = format!("{}/outcomes", s.window);
    let outcome = |list: &Value, name: &str| text(&s.line(&list["items"], name)["outcome"]);
    let before = lead.get(&path).expect(200);
    assert_eq!((&before["threshold"], outcome(&before, "Ann")), (&Value::Null, "not_yet_known".into()));
    assert_eq!(s.line(&before["items"], "Cal")["outcome"], Value::Null);
    let early = teacher.get(&path).expect(200);
    assert_eq!(early["items"], json!([]));
    assert!(text(&early["note"]).contains("not published yet"));
    // A class teacher sees her own once it is known, without the reason the head decided by.
    s.threshold(31);
    let own = teacher.get(&path).expect(200);
    assert_eq!(own["items"].as_array().unwrap().len(), 4);
    assert_eq!((outcome(&own, "Ann"), outcome(&own, "Bea")), ("met".into(), "not_met".into()));
    assert_eq!(s.line(&own["items"], "Dee")["reason"], Value::Null);
    let all = lead.get(&path).expect(200);
    assert_eq!(s.line(&all["items"], "Dee")["reason"], "signs");
    assert_eq!(s.line(&all["items"], "Bea")["derived_code"], "Wt");
    for key in ["assistant", "office", "administrator"] {
        assert_eq!(s.school.staff(key).get(&path).status, 404, "{key}");
    }
    // Changed later: everything is worked out anew, and what was said before stays on record.
    let put = |etag: &str, body: Value| lead.put("/statutory-thresholds/2027", etag, body);
    let again = json!({"threshold": 30, "published_on": DAY});
    assert_eq!(put("\"v1\"", again.clone()).status, 412);
    assert_eq!(lead.call("PUT", "/statutory-thresholds/2027", Some(&again)).status, 428);
    s.threshold(30);
    let after = lead.get(&path).expect(200);
    assert_eq!((&after["threshold"], outcome(&after, "Bea")), (&json!(30), "met".into()));
    let listed = lead.get("/statutory-thresholds").expect(200)["items"].clone();
    let of_year: Vec<(Value, Value)> = listed
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["year"] == 2027)
        .map(|one| (one["threshold"].clone(), one["in_force"].clone()))
        .collect();
    assert_eq!(of_year, [(json!(31), json!(false)), (json!(30), json!(true))]);
    let history = format!("{}/results/{}/history", s.window, s.pupils["Bea"]);
    assert_eq!(lead.get(&history).expect(200)["items"].as_array().unwrap().len(), 1);
    // What the pack has is not entered, nor what cannot be.
    let refused =
        |year: u32, body: Value| lead.call("PUT", &format!("/statutory-thresholds/{year}"), Some(&body));
    assert_eq!(refused(2026, again).problem(409, "conflict").len(), 1);
    let far = json!({"threshold": 41, "published_on": DAY});
    assert_eq!(refused(2028, far).problem(422, "invalid"), ["threshold: must be 0 to 40"]);
    let future = json!({"threshold": 31, "published_on": "2027-06-17"});
    assert_eq!(refused(2028, future).problem(422, "invalid").len(), 1);
    assert_eq!(refused(1066, json!({"threshold": 31, "published_on": DAY})).status, 422);
    assert_eq!(
        teacher
            .call("PUT", "/statutory-thresholds/2028", Some(&json!({"threshold": 3, "published_on": DAY})))
            .status,
        403
    );
}

#[test]
fn percentages_have_the_denominator_of_the_published_ones() {
    let s = submitted();
    let lead = s.lead();
    let path = format!("{}/summary", s.window);
    let before = lead.get(&path).expect(200);
    let year_1 = &before["year_groups"][0];
    assert_eq!(
        year_1["in_window"],
        json!({"pupils": 5, "marks": 2, "codes": [{"code": "A", "pupils": 1}, {"code": "D", "pupils": 1}], "reached_before": 0, "missing": 1,
               "denominator": 4, "met": null, "not_met": null, "met_percent": null, "caution": null})
    );
    assert_eq!(year_1["whole_year_group"], Value::Null);
    s.threshold(31);
    let seen = lead.get(&path).expect(200);
    let of = |n: usize, which: &str, field: &str| seen["year_groups"][n][which][field].clone();
    // One of four; the one with nothing entered is missing and in no denominator.
    assert_eq!((of(0, "in_window", "met"), of(0, "in_window", "met_percent")), (json!(1), json!(25)));
    // Of Year 2 one of the two checked now, and two of all three by the end of the year.
    assert_eq!((of(1, "in_window", "denominator"), of(1, "in_window", "met_percent")), (json!(2), json!(50)));
    assert_eq!(
        (of(1, "whole_year_group", "met"), of(1, "whole_year_group", "met_percent")),
        (json!(2), json!(67))
    );
    let national = &seen["year_groups"][1]["national"];
    assert_eq!(national["points"].as_array().unwrap().last().unwrap(), &json!({"year": 2025, "value": 89}));
    assert_eq!(national["method_breaks"][0]["year"], 2024);
    assert_eq!(seen["year_groups"][0]["national"]["no_check"], json!([2020, 2021]));
    assert!(text(&seen["denominator_rule"]).contains("A, D or Q"));
    assert!(seen["cautions"].as_array().unwrap().len() == 3);
    assert_eq!(s.school.staff("teacher").get(&path).status, 403);
    // Marks about the threshold: for the lead alone, in counts.
    let near = format!("{}/near-threshold", s.window);
    assert_eq!(s.school.staff("head").get(&near).status, 403);
    let near = lead.get(&near).expect(200);
    assert_eq!((&near["near"]["at_threshold"], &near["near"]["one_below"]), (&json!(1), &json!(1)));
    assert_eq!(near["near"]["marks"].as_array().unwrap().len(), 9);
    assert!(!near.to_string().contains("Ann") && text(&near["caution"]).contains("by chance"));
}

#[test]
fn the_return_names_what_is_missing_and_is_on_the_audit_log() {
    let s = submitted();
    let (lead, head) = (s.lead(), s.school.staff("head"));
    let path = format!("{}/results.csv", s.window);
    let file = head.get(&path);
    assert_eq!((file.status, file.header("Content-Type").as_str()), (200, "text/csv; charset=utf-8"));
    let lines: Vec<&str> = file.text.trim_start_matches('\u{feff}').lines().collect();
    assert_eq!(
        lines[0],
        "upn,family_name,given_name,date_of_birth,year_group,class_name,mark,code,outcome_code,missing"
    );
    assert_eq!(lines[1], "B801200005001,Bell,Ann,2020-10-01,Year 1,Alder,31,,,");
    // A name that a spreadsheet could take for a formula is inert.
    assert_eq!(lines[2], ",'=Cole,Bea,2020-10-02,Year 1,Alder,30,,,upn");
    assert_eq!(lines[3], ",Dean,Cal,2020-10-03,Year 1,Alder,,A,,upn");
    assert_eq!(lines[5], ",Gale,Eli,2020-10-05,Year 1,Alder,,,,upn result");
    // Fay is not to be checked again; Reception is not of the window.
    assert_eq!(lines.len(), 8);
    s.threshold(31);
    let file = lead.get(&path).text;
    let lines: Vec<&str> = file.lines().collect();
    assert!(lines[1].ends_with(",31,,Wa,") && lines[2].ends_with(",30,,Wt,upn"), "{file}");
    assert_eq!(s.school.staff("office").get(&path).status, 404);
    let log = lead.get("/audit-entries?limit=100").expect(200);
    let exports = log["items"].as_array().unwrap().iter();
    let exports = exports.filter(|entry| entry["operation"] == "statutory_window.export_with_upn");
    assert_eq!(exports.count(), 2);
}

#[test]
fn letters_say_the_result_in_plain_words_and_nothing_else_about_a_child() {
    let s = Screened::new();
    let (lead, path) = (s.lead(), format!("{}/letters", s.window));
    s.enter_all(&lead, &[("Ann", "31"), ("Bea", "30"), ("Cal", "A"), ("Gus", "33"), ("Ida", "5")]);
    s.enter(&lead, &[s.result("Dee", "D", &json!({"reason": "signs"}))]).expect(200);
    assert_eq!(lead.get(&path).problem(409, "conflict").len(), 0);
    s.submit(&lead, 2).expect(200);
    let sheet = lead.get(&path);
    assert_eq!(sheet.header("Content-Type"), "text/html; charset=utf-8");
    assert_eq!(sheet.text.matches("<section").count(), 6);
    assert!(sheet.text.contains("Ann read 31 of 40 words correctly."));
    assert!(sheet.text.contains("published later") && !sheet.text.contains("at or above"));
    assert!(!sheet.text.contains("sign") && !sheet.text.contains("B801200005001"));
    s.threshold(31);
    let ann = lead.get(&format!("{path}?pupil_id={}", s.pupils["Ann"])).text;
    assert_eq!(ann.matches("<section").count(), 1);
    assert!(ann.contains("This is at or above the mark set for the check, which was 31 of 40."));
    assert!(ann.contains("not a diagnosis") && !ann.contains("Bea"));
    let bea = lead.get(&format!("{path}?pupil_id={}", s.pupils["Bea"])).text;
    assert!(bea.contains("below the mark set for the check") && bea.contains("taken again next year"));
    // Ida is of Year 2, after which nobody takes it.
    let ida = lead.get(&format!("{path}?pupil_id={}", s.pupils["Ida"])).text;
    assert!(ida.contains("below the mark set for the check") && !ida.contains("again"));
    assert!(ida.contains("class <bdi>Birch</bdi>") && ida.contains("16 June 2027"));
    let cal = lead.get(&format!("{path}?pupil_id={}", s.pupils["Cal"])).text;
    assert!(cal.contains("Cal was away on all days") && !cal.contains("below"));
    let classes = lead.get("/classes").expect(200);
    let birch = classes["items"].as_array().unwrap().iter().find(|one| one["name"] == "Birch").unwrap();
    let of_class = lead.get(&format!("{path}?class_id={}", text(&birch["id"]))).text;
    assert_eq!(of_class.matches("<section").count(), 2);
    assert!(of_class.contains("Gus") && of_class.contains("Ida") && !of_class.contains("Ann"));
    assert_eq!(lead.get(&format!("{path}?class_id={}", s.pupils["Ann"])).status, 422);
    assert_eq!(s.school.staff("teacher").get(&path).status, 403);
}

#[test]
fn results_follow_a_child_with_two_records_and_stand_in_the_way_of_an_undo() {
    let s = submitted();
    let lead = s.lead();
    let merge = |kept: &str, other: &str| {
        let body = json!({"verdict": "same", "pupil_id": s.pupils[kept], "other_id": s.pupils[other]});
        lead.post("/pupil-decisions", body)
    };
    // Two results of one window, and not the same: an adult says which holds.
    assert_eq!(merge("Ann", "Bea").problem(409, "conflict").len(), 0);
    // Eli has none: Bea's is the child's now, and Fay's earlier one Ida's.
    let made = merge("Eli", "Bea").expect(201);
    let seen = s.seen(&lead);
    assert_eq!(s.line(&seen["pupils"], "Eli")["entered"]["mark"], 30);
    assert_eq!(s.line(&seen["pupils"], "Bea"), Value::Null);
    assert_eq!(seen["left"], 0);
    let path = format!("/pupil-decisions/{}", text(&made["id"]));
    assert_eq!(lead.delete(&path, &text(&made["etag"])).status, 204);
    let seen = s.seen(&lead);
    assert_eq!(s.line(&seen["pupils"], "Bea")["entered"]["mark"], 30);
    assert_eq!((&s.line(&seen["pupils"], "Eli")["entered"], &seen["left"]), (&Value::Null, &json!(1)));
    let made = merge("Ida", "Fay").expect(201);
    let earlier = format!("/pupils/{}/earlier-statutory-results", s.pupils["Ida"]);
    assert_eq!(lead.get(&earlier).expect(200)["items"][0]["mark"], 40);
    // What was entered since takes the two for one child only where the other had a result.
    let path = format!("/pupil-decisions/{}", text(&made["id"]));
    assert_eq!(lead.delete(&path, &text(&made["etag"])).status, 204);
    let made = merge("Eli", "Bea").expect(201);
    let amended = json!({"result": "29", "on": "2027-06-15", "amended_for": "typed_wrongly", "note": "29.",
                         "replaces": s.version("Eli")});
    lead.post(&format!("{}/results/{}/amendments", s.window, s.pupils["Eli"]), amended).expect(200);
    let path = format!("/pupil-decisions/{}", text(&made["id"]));
    let refused = lead.delete(&path, &text(&made["etag"]));
    assert_eq!(refused.status, 409);
    assert!(refused.text.contains("a result of the statutory check was entered since"), "{}", refused.text);
}

#[test]
fn an_import_that_added_a_pupil_with_a_result_is_not_taken_back() {
    let s = Screened::new();
    let lead = s.lead();
    let undo = |given: &str, entered: bool| {
        let csv = format!("given_name,family_name,year_group,class_name\n{given},Lane,Year 1,Alder\n");
        let id = import(&lead, &csv, "2026-09-01").remove(given).unwrap();
        if entered {
            let body = json!({"results": [{"pupil_id": id, "result": "A"}]});
            lead.post(&format!("{}/results", s.window), body).expect(200);
        }
        let listed = lead.get("/roster-imports").expect(200);
        let page = format!("/roster-imports/{}", text(&listed["items"][0]["id"]));
        lead.with("If-Match", &lead.get(&page).etag()).call("POST", &format!("{page}/undo"), None)
    };
    assert_eq!(undo("Lou", false).status, 200);
    let refused = undo("Kit", true);
    assert_eq!(refused.status, 409, "{}", refused.text);
    assert!(refused.text.contains("pupils it added are in a group, a lesson, a check"), "{}", refused.text);
}

#[test]
fn who_enters_marks_sees_no_threshold_and_no_outcome_before_they_are_submitted() {
    let s = Screened::new();
    let (lead, teacher) = (s.lead(), s.school.staff("teacher"));
    s.enter_all(&teacher, &[("Ann", "31"), ("Bea", "30")]);
    s.threshold(31);
    let path = format!("{}/outcomes", s.window);
    let early = teacher.get(&path).expect(200);
    assert_eq!((&early["threshold"], &early["items"]), (&Value::Null, &json!([])));
    assert!(text(&early["note"]).contains("not submitted yet"), "{early}");
    let whole = lead.get(&path).expect(200);
    assert_eq!((&whole["threshold"], whole["items"].as_array().unwrap().len()), (&json!(31), 2));
    s.submit(&lead, 6).expect(200);
    let own = teacher.get(&path).expect(200);
    assert_eq!((&own["threshold"], own["items"].as_array().unwrap().len()), (&json!(31), 2));
    assert_eq!(own["note"], Value::Null);
}
