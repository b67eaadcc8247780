//! The parts of the teaching year against each other, and against the roster. Today is Wednesday 25 November 2026.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, Value, json, lesson_ids, text};

struct Two {
    school: School,
    sequence: String,
    pupils: Pupils,
}

fn start() -> Two {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder")]);
    Two { school, sequence, pupils }
}

impl Two {
    /// A group to be made of all three.
    fn ask(&self, most: Value) -> Value {
        let ids: Vec<&String> = ["Zoe", "Max", "Ida"].map(|name| &self.pupils[name]).to_vec();
        json!({"sequence_id": self.sequence, "pupil_ids": ids,
               "groups": [{"name": "Foxes", "least": 3, "most": most}]})
    }

    fn proposal(&self) -> String {
        text(&self.school.lead().post("/group-proposals", self.ask(json!(3))).expect(201)["id"])
    }

    fn stale(&self, proposal: &str) {
        let lead = self.school.lead();
        assert_eq!(lead.get(&format!("/group-proposals/{proposal}")).expect(200)["stale"], true);
        let accept = lead.post(&format!("/group-proposals/{proposal}/accept"), json!({"on": "2026-11-30"}));
        accept.problem(409, "group_proposal_stale");
        assert_eq!(lead.get("/groups").expect(200)["items"], json!([]), "nothing was made");
    }
}

#[test]
fn a_proposal_is_of_the_pupils_as_they_were() {
    let t = start();
    let lead = t.school.lead();
    let proposal = t.proposal();
    let path = format!("/pupils/{}", t.pupils["Zoe"]);
    lead.patch(&path, &lead.get(&path).etag(), json!({"year_group": "year_2"})).expect(200);
    t.stale(&proposal);
    // Two of them become one: two are left, and three are the least.
    let proposal = t.proposal();
    let same = json!({"verdict": "same", "pupil_id": t.pupils["Max"], "other_id": t.pupils["Ida"]});
    lead.post("/pupil-decisions", same).expect(201);
    t.stale(&proposal);
}

#[test]
fn groups_of_any_size_are_asked_for_without_harm() {
    let t = start();
    let mut ask = t.ask(json!(u64::MAX));
    let groups = ask["groups"].as_array_mut().unwrap();
    groups.push(json!({"name": "Hares", "least": 0, "most": u64::MAX}));
    let made = t.school.lead().post("/group-proposals", ask);
    assert!([201, 422].contains(&made.status), "{}", made.text);
}

#[test]
fn what_no_check_asks_for_leaves_the_list_once_it_was_taught() {
    let t = start();
    let (lead, teacher) = (t.school.lead(), t.school.staff("teacher"));
    let id = text(&lead.post("/sequences", json!({"name": "Rules"})).expect(201)["id"]);
    let path = format!("/sequences/{id}/draft");
    let items = json!([{"kind": "gpc", "gpc": {"grapheme": "m", "phoneme": "m"}},
                       {"kind": "spelling_rule", "label": "double the last letter"},
                       {"kind": "word_part", "label": "-ing"}]);
    let draft = json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": items}]}]});
    lead.put(&path, &lead.get(&path).etag(), draft).expect(200);
    let version = lead.post(&format!("/sequences/{id}/versions"), json!({"effective_on": "2026-09-01"}));
    let content =
        lead.get(&format!("/sequences/{id}/versions/{}", text(&version.expect(201)["id"]))).expect(200);
    let group = t.school.group("Alder", &id, &[&t.pupils["Zoe"], &t.pupils["Max"]]);
    let away = json!({"register": [{"pupil_id": t.pupils["Max"], "mark": "absent"}]});
    let lesson = &lesson_ids(&content)[0];
    t.school.log_lesson(&teacher, &group, "2026-11-19", lesson, "delivered", &away).expect(201);
    let open = || {
        let list = teacher.get(&format!("/groups/{group}/catch-up")).expect(200);
        let lines = list["pupils"].as_array().unwrap().iter();
        lines.flat_map(|pupil| pupil["items"].as_array().unwrap().clone()).collect::<Vec<_>>()
    };
    assert_eq!(open().len(), 3);
    let items: Vec<Value> = open().iter().map(|line| line["item_id"].clone()).collect();
    let record = json!({"on": "2026-11-24", "items": items, "pupil_ids": [t.pupils["Max"]]});
    teacher.post(&format!("/groups/{group}/catch-up-records"), record).expect(201);
    let left = open();
    assert_eq!((left.len(), &left[0]["stage"]), (1, &json!("to_check")), "m is to be checked");
}

#[test]
fn a_cover_link_is_for_a_group_somebody_has_that_day() {
    let t = start();
    let (lead, teacher) = (t.school.lead(), t.school.staff("teacher"));
    let group = t.school.group("Alder", &t.sequence, &[&t.pupils["Zoe"]]);
    let path = format!("/groups/{group}");
    let until = |day: &str| {
        let adult = json!({"staff_id": t.school.staff_id("teacher"), "from": "2026-09-01", "until": day});
        let etag = lead.get(&path).etag();
        lead.put(&format!("{path}/adults"), &etag, json!({"adults": [adult]})).expect(200);
    };
    let link = |on: &str| teacher.post(&format!("{path}/cover-links"), json!({"on": on}));
    // The teacher has it until today: nobody is let in tomorrow.
    until("2026-11-25");
    link("2026-11-26").problem(404, "not_found");
    let made = link("2026-11-25").expect(201);
    let open = || t.school.nobody().post("/cover-pages", json!({"token": made["token"]})).status;
    assert_eq!(open(), 200);
    // The group ended yesterday: the link opens nothing.
    let close = lead.with("If-Match", &lead.get(&path).etag());
    close.post(&format!("{path}/close"), json!({"on": "2026-11-24"}));
    assert_eq!(lead.get(&path).expect(200)["closed_on"], "2026-11-24");
    assert_eq!(open(), 404);
}
