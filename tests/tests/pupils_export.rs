//! Pupils out as a file: who gets it, what stands in it, and that it goes back in.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, column, json};

const FILE: &str = "pupil_ref,upn,given_name,family_name,preferred_name,date_of_birth,year_group,class_name\n\
    A1,B801200005001,Zoë,\"Bell, late Moor\",Zo,2020-05-31,Year 2,Alder\n\
    A2,,ليلى,حداد,,2020-06-30,2,Alder\n\
    +A3,,-Jay,'Brook,,2021-01-31,1,=Oak\n\
    A4,,Ida,Hart,,2021-02-28,1,=Oak\n";

fn import(lead: &Client, file: &str) -> plumbline_tests::Value {
    let shown = lead.post_csv("/roster-imports", file.as_bytes()).expect(201);
    lead.post(&format!("/roster-imports/{}/confirm", shown["id"].as_str().unwrap()), json!({})).expect(200)
}

#[test]
fn it_holds_those_who_are_here_and_numbers_only_on_request() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    import(&lead, FILE);
    let ida = lead.get("/pupils?find=Ida").expect(200)["items"][0]["id"].as_str().unwrap().to_owned();
    let path = format!("/pupils/{ida}");
    lead.patch(&path, &lead.get(&path).etag(), json!({"left_on": "2026-11-24"})).expect(200);
    // By family name; the fields that were put behind an apostrophe are named at the end.
    let wanted = "\u{feff}pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name,guarded\r\n\
        A1,Zoë,\"Bell, late Moor\",Zo,2020-05-31,Year 2,Alder,\r\n\
        '+A3,'-Jay,''Brook,,2021-01-31,Year 1,'=Oak,pupil_ref given_name family_name class_name\r\n\
        A2,ليلى,حداد,,2020-06-30,Year 2,Alder,\r\n";
    let file = lead.get("/pupils/export");
    assert_eq!((file.status, file.text.as_str()), (200, wanted));
    assert_eq!(file.header("Content-Type"), "text/csv; charset=utf-8");
    let with = lead.get("/pupils/export?upn=true");
    assert_eq!((with.status, with.text.contains("A1,B801200005001,Zoë")), (200, true), "{}", with.text);
    lead.get("/pupils/export?upn=perhaps").problem(422, "invalid");
    // Either way back, nothing changes.
    for file in [&file.text, &with.text] {
        let again = import(&lead, file);
        for list in ["created", "updated", "completed", "held", "rejected", "attention", "new_classes"] {
            assert_eq!(again[list], json!([]), "{list}");
        }
        assert_eq!((&again["unchanged"], &again["absent"]), (&json!(3), &json!(0)));
        assert_eq!(lead.get("/pupils/export").text, wanted);
    }
    // Who looked is written down, and whether at the numbers.
    let audited = column(&lead.get("/audit-entries").expect(200)["items"], "operation");
    let count = |operation: &str| audited.iter().filter(|one| *one == operation).count();
    assert_eq!([count("pupil.export"), count("pupil.export_with_upn")], [3, 1]);
    assert_eq!(school.neighbour().get("/pupils/export").text.lines().count(), 1, "the header alone");
}
