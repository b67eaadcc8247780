//! The codes that forms ask for.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, column, json};

#[test]
fn every_code_a_form_needs_is_listed_with_its_words() {
    let school = School::start();
    let pack = school.staff("teacher").get("/rule-pack").expect(200);
    assert_eq!((&pack["id"], &pack["name"]), (&json!("england"), &json!("England")));
    for list in [
        "/year_groups",
        "/not_taught_reasons",
        "/closure_reasons",
        "/exemptions/reasons",
        "/not_accessible/reasons",
        "/response_modes",
        "/correction_reasons",
        "/statutory_check/terms",
        "/statutory_check/results",
        "/statutory_check/not_appropriate",
        "/statutory_check/amendment_reasons",
    ] {
        let codes = pack.pointer(list).unwrap();
        let labels = column(codes, "label");
        assert!(!labels.is_empty() && labels.iter().all(|label| !label.is_empty()), "{list}: {codes}");
    }
    assert!(column(&pack["exemptions"]["reasons"], "code").contains(&"newly_arrived".to_owned()));
    assert_eq!(pack["exemptions"]["review_days_most"], 92);
    assert_eq!(column(&pack["statutory_check"]["results"], "code"), ["A", "D", "L", "Q"]);
    let modes = ["spoken", "choosing", "communication_aid", "sign", "eye_gaze", "written"];
    assert_eq!(column(&pack["response_modes"], "code"), modes);
    assert_eq!(column(&pack["correction_reasons"], "code"), ["recorded_wrongly", "second_marking"]);
}
