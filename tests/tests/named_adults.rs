//! Adults are named for teaching and checking only where a role of theirs lets them.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, TODAY, Value, json, text};

const SAID: &str = "holds no role then that may teach or check pupils: name somebody else";

struct Named {
    school: School,
    sequence: String,
    group: String,
}

impl Named {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let pupils = school.pupils(&[("Zoe", "Oak")]);
        let (sequence, _) = school.sequence();
        let group = school.group("Ants", &sequence, &[&pupils["Zoe"]]);
        Self { school, sequence, group }
    }

    fn lead(&self) -> Client {
        self.school.lead()
    }

    fn set_adults(&self, adults: &Value) -> plumbline_tests::Answer {
        let path = format!("/groups/{}", self.group);
        let etag = self.lead().get(&path).etag();
        self.lead().put(&format!("{path}/adults"), &etag, json!({"adults": adults}))
    }

    /// Everybody who has no role that teaches.
    fn others(&self) -> Vec<String> {
        ["office", "administrator", "head"].map(|key| self.school.staff_id(key)).to_vec()
    }
}

#[test]
fn a_group_has_adults_who_may_teach() {
    let a = Named::new();
    let teacher = a.school.staff_id("teacher");
    for other in a.others() {
        let adults =
            json!([{"staff_id": teacher, "from": "2026-09-01"}, {"staff_id": other, "from": "2026-09-01"}]);
        assert_eq!(a.set_adults(&adults).problem(422, "invalid"), [format!("adults[1].staff_id: {SAID}")]);
    }
    a.set_adults(&json!([{"staff_id": teacher, "from": "2026-09-01"}])).expect(200);
    let nobody = json!([{"staff_id": a.group, "from": "2026-09-01"}]);
    assert_eq!(
        a.set_adults(&nobody).problem(422, "invalid"),
        ["adults: one of them is not of this school's staff"]
    );
}

#[test]
fn proposed_groups_rounds_and_plans_name_adults_who_may() {
    let a = Named::new();
    let lead = a.lead();
    let check = a.school.gpc_check("Sounds", &[("m", "m")]);
    let round = |adult: &str| {
        let body = json!({"name": "Autumn 2", "opens_on": TODAY, "closes_on": "2026-12-04", "check_ids": [check.0],
                          "checkers": [{"staff_id": adult, "group_id": a.group}]});
        lead.post("/check-rounds", body)
    };
    let plan = |adult: &str| {
        let body = json!({"on": TODAY, "adults": [{"staff_id": adult, "minutes": 20}]});
        lead.post("/catch-up-plans", body)
    };
    let propose = |adult: &str| {
        let groups = json!([{"group_id": a.group, "name": "Ants", "least": 0, "most": 9},
                            {"name": "Bees", "least": 0, "most": 9, "staff_id": adult}]);
        lead.post("/group-proposals", json!({"sequence_id": a.sequence, "groups": groups}))
    };
    for other in a.others() {
        let other = other.as_str();
        assert_eq!(round(other).problem(422, "invalid"), [format!("checkers[0].staff_id: {SAID}")]);
        assert_eq!(plan(other).problem(422, "invalid"), [format!("adults[0].staff_id: {SAID}")]);
        assert_eq!(propose(other).problem(422, "invalid"), [format!("groups[1].staff_id: {SAID}")]);
    }
    let assistant = a.school.staff_id("assistant");
    let made = round(&assistant).expect(201);
    plan(&assistant).expect(200);
    propose(&assistant).expect(201);
    // A round that goes on keeps to the same.
    let path = format!("/check-rounds/{}", text(&made["id"]));
    let office = a.school.staff_id("office");
    let checkers = json!({"checkers": [{"staff_id": assistant, "group_id": a.group}, {"staff_id": office}]});
    let said = lead.patch(&path, &lead.get(&path).etag(), checkers).problem(422, "invalid");
    assert!(said.iter().any(|one| one.starts_with("checkers[1]")), "{said:?}");
}
