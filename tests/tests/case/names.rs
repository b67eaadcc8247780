//! Hard cases of names: found whatever the spelling, shown as their bearers want.

use super::{Case, read};
use plumbline_tests::{Value, column, json, text};

#[test]
fn a_nul_in_json_is_refused_at_its_field() {
    let case = Case::load("O21");
    let body: Value = serde_json::from_slice(&read("O21_nul_byte.json")).unwrap();
    assert!(case.lead.post("/pupils", body).problem(422, "invalid")[0].starts_with("given_name: "));
}

#[test]
fn o17_and_o24_search_sees_through_accents_and_signs() {
    let case = Case::load("O17");
    let input: Value = serde_json::from_slice(&read("O17_nfc_nfd_search.json")).unwrap();
    for pupil in input["store"].as_array().unwrap() {
        case.lead.post("/pupils", pupil.clone()).expect(201);
    }
    let find = |case: &Case, query: &str| -> Vec<String> {
        let query: String = query.bytes().map(|byte| format!("%{byte:02X}")).collect();
        let found = case.lead.get(&format!("/pupils?find={query}")).expect(200)["items"].clone();
        let ids = column(&found, "id");
        ids.iter().map(|id| text(&case.lead.get(&format!("/pupils/{id}")).expect(200)["pupil_ref"])).collect()
    };
    for query in input["queries"].as_array().unwrap() {
        let mut found = find(&case, &text(query));
        found.sort();
        assert_eq!(json!(found), case.expect["assert"]["each_finds"], "{query}");
    }
    let given: Vec<Value> = case.pupils().values().map(|pupil| pupil["given_name"].clone()).collect();
    assert_eq!(given[0], given[1]);

    let case = Case::load("O24");
    case.confirm(&case.upload().expect(201), &case.today).expect(200);
    for (query, wanted) in case.expect["assert"]["queries"].as_object().unwrap() {
        assert_eq!(&json!(find(&case, query)), wanted, "{query}");
    }
    for (pupil, name) in case.expect["assert"]["stored"].as_object().unwrap() {
        assert_eq!(&case.pupils()[pupil]["family_name"], name);
    }
}

#[test]
fn o23_the_preferred_name_is_shown_and_either_finds() {
    let case = Case::load("O23");
    case.confirm(&case.upload().expect(201), &case.today).expect(200);
    let pupils = case.pupils();
    for (pupil, label) in case.expect["assert"]["label"].as_object().unwrap() {
        assert_eq!(&pupils[pupil]["name"], label);
    }
    for (query, wanted) in case.expect["assert"]["search"].as_object().unwrap() {
        let found = case.lead.get(&format!("/pupils?find={query}")).expect(200)["items"].clone();
        let ids = column(&found, "id");
        let refs: Vec<String> = pupils
            .iter()
            .filter(|(_, pupil)| ids.contains(&text(&pupil["id"])))
            .map(|(r, _)| r.clone())
            .collect();
        assert_eq!(&json!(refs), wanted);
    }
}
