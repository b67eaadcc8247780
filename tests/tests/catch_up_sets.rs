//! Sets of catch-up recorded whole, and the same recorded twice.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{
    Answer, Client, Pupils, School, TODAY, Value, column, item_ids, json, lesson_ids, text,
};

/// A school where Max of Alder and Ben of Birch missed m and o, and Zoe of Alder missed d and "the".
struct Two {
    school: School,
    content: Value,
    pupils: Pupils,
    alder: String,
    birch: String,
}

impl Two {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Max", "Alder"), ("Zoe", "Alder"), ("Ben", "Birch")]);
        let group = |name: &str, of: &[&str], adult: &str| {
            let ids: Vec<&String> = of.iter().map(|name| &pupils[*name]).collect();
            let id = school.group(name, &sequence, &ids);
            let (lead, path) = (school.lead(), format!("/groups/{id}"));
            let adults = json!({"adults": [{"staff_id": school.staff_id(adult), "from": "2026-09-01"}]});
            lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), adults).expect(200);
            id
        };
        let alder = group("Alder", &["Max", "Zoe"], "teacher");
        let birch = group("Birch", &["Ben"], "assistant");
        let made = Self { school, content, pupils, alder, birch };
        made.lesson(&made.alder, 0, "2026-11-19", "Max");
        made.lesson(&made.alder, 1, "2026-11-20", "Zoe");
        made.lesson(&made.birch, 0, "2026-11-20", "Ben");
        made
    }

    fn lesson(&self, group: &str, n: usize, on: &str, absent: &str) {
        let more = json!({"register": [{"pupil_id": self.pupils[absent], "mark": "absent"}]});
        let lesson = &lesson_ids(&self.content)[n];
        self.school.log_lesson(&self.school.lead(), group, on, lesson, "delivered", &more).expect(201);
    }

    /// Records what the first lesson was about, as taught to pupils each in a group.
    fn record(&self, who: &Client, of: &[(&str, &str)], more: &Value) -> Answer {
        let pupil = |(name, group): &(&str, &str)| json!({"pupil_id": self.pupils[*name], "group_id": group});
        let mut body = json!({"on": TODAY, "items": item_ids(&self.content, 0),
                              "pupils": of.iter().map(pupil).collect::<Vec<_>>()});
        for (name, value) in more.as_object().unwrap() {
            body[name] = value.clone();
        }
        who.post("/catch-up-records", body)
    }

    fn recorded(&self, group: &str) -> usize {
        let listed = self.school.lead().get(&format!("/groups/{group}/catch-up-records")).expect(200);
        listed["items"].as_array().unwrap().len()
    }
}

#[test]
fn a_set_of_pupils_of_two_groups_is_recorded_whole() {
    let w = Two::new();
    let (lead, teacher) = (w.school.lead(), w.school.staff_id("teacher"));
    let adults = json!([{"staff_id": teacher, "minutes": 6, "also_group_ids": [w.birch]}]);
    let plan = lead.post("/catch-up-plans", json!({"on": TODAY, "adults": adults})).expect(200);
    let set = &plan["sets"][0];
    let mut said: Vec<(Value, Value)> = set["pupils"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pupil| (pupil["id"].clone(), pupil["group_id"].clone()))
        .collect();
    said.sort_by_key(|(_, group)| *group != w.alder);
    let max = (json!(w.pupils["Max"]), json!(w.alder));
    assert_eq!(said, [max, (json!(w.pupils["Ben"]), json!(w.birch))]);
    // As the plan says it, in one request.
    let pupils: Vec<Value> =
        said.iter().map(|(pupil, group)| json!({"pupil_id": pupil, "group_id": group})).collect();
    let items = column(&set["items"], "item_id");
    let body = json!({"on": TODAY, "items": items, "pupils": pupils, "taught_by": teacher});
    let made = lead.post("/catch-up-records", body).expect(201);
    let of = |n: usize, field: &str| made["records"][n][field].clone();
    assert_eq!((of(0, "group_id"), of(0, "pupil_ids")), (json!(w.alder), json!([w.pupils["Max"]])));
    assert_eq!((of(1, "group_id"), of(1, "pupil_ids")), (json!(w.birch), json!([w.pupils["Ben"]])));
    assert_eq!((of(0, "taught_by"), of(1, "taught_by")), (json!(teacher), json!(teacher)));
    assert_eq!((w.recorded(&w.alder), w.recorded(&w.birch)), (1, 1));
    for (group, pupil) in [(&w.alder, "Max"), (&w.birch, "Ben")] {
        let open = lead.get(&format!("/groups/{group}/catch-up")).expect(200);
        let of_pupil =
            open["pupils"].as_array().unwrap().iter().find(|one| one["pupil_id"] == w.pupils[pupil]);
        assert_eq!(column(&of_pupil.unwrap()["items"], "stage"), ["to_check", "to_check"], "{pupil}");
    }
}

#[test]
fn who_is_in_two_groups_is_recorded_where_the_adult_takes_pupils() {
    let w = Two::new();
    let lead = w.school.lead();
    // Zoe is in Birch too, on other days than this Wednesday.
    let path = format!("/groups/{}", w.birch);
    let body = json!({"from": "2026-09-01", "pupil_ids": [w.pupils["Ben"], w.pupils["Zoe"]]});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
    let days = json!({"from": "2026-09-01", "weekdays": ["monday"]});
    let weekdays = format!("{path}/members/{}/weekdays", w.pupils["Zoe"]);
    lead.put(&weekdays, &lead.get(&path).etag(), days).expect(200);
    let place = |adult: &str, also: &[&String]| {
        let adults = json!([{"staff_id": w.school.staff_id(adult), "minutes": 30, "also_group_ids": also}]);
        let plan = lead.post("/catch-up-plans", json!({"on": TODAY, "adults": adults})).expect(200);
        let all = plan["sets"].as_array().unwrap().iter().flat_map(|set| set["pupils"].as_array().unwrap());
        text(&all.into_iter().find(|pupil| pupil["id"] == w.pupils["Zoe"]).unwrap()["group_id"])
    };
    assert_eq!(place("assistant", &[]), w.birch, "the assistant's only group");
    assert_eq!(place("teacher", &[]), w.alder);
    assert_eq!(place("assistant", &[&w.alder]), w.alder, "she comes to Alder that day");
}

#[test]
fn a_set_is_recorded_whole_or_not_at_all() {
    let w = Two::new();
    let (lead, teacher, none) = (w.school.lead(), w.school.staff("teacher"), json!({}));
    let (alder, birch) = (w.alder.as_str(), w.birch.as_str());
    let refused = |who: &Client, of: &[(&str, &str)], more: &Value| {
        let answer = w.record(who, of, more);
        for name in ["Max", "Zoe", "Ben", "Bell"] {
            assert!(!answer.text.contains(name), "{}", answer.text);
        }
        answer.problem(422, "invalid")
    };
    let not_yours = "pupils[1].group_id: is not a group in which you may record on that day";
    assert_eq!(refused(&teacher, &[("Max", alder), ("Ben", birch)], &none), [not_yours]);
    let stranger = w.pupils["Zoe"].as_str();
    assert_eq!(refused(&lead, &[("Max", alder), ("Ben", stranger)], &none), [not_yours]);
    let elsewhere = "this pupil was not in the group that day";
    assert_eq!(
        refused(&lead, &[("Max", birch), ("Zoe", alder), ("Ben", alder)], &none),
        [format!("pupils[0].pupil_id: {elsewhere}"), format!("pupils[2].pupil_id: {elsewhere}")]
    );
    let d = item_ids(&w.content, 1);
    let new = "pupils[1].group_id: items[0]: \u{201c}d /d/\u{201d} was not taught to this group by then: \
        catch-up is no new teaching";
    assert_eq!(refused(&lead, &[("Zoe", alder), ("Ben", birch)], &json!({"items": [d[0]]})), [new]);
    assert_eq!(
        refused(&lead, &[("Max", alder), ("Ben", birch), ("Max", alder)], &none),
        ["pupils[2].pupil_id: this pupil stands twice"]
    );
    let two = [("Max", alder), ("Ben", birch)];
    assert_eq!(refused(&lead, &two, &json!({"on": "2026-11-26"})), ["on: 2026-11-26 is in the future"]);
    assert_eq!(
        refused(&lead, &two, &json!({"taught_by": stranger})),
        ["taught_by: is not of this school's staff"]
    );
    assert_eq!(refused(&lead, &[], &none), ["pupils: give 1 to 100 pupils"]);
    assert_eq!(refused(&lead, &two, &json!({"items": []})), ["items: give at least one"]);
    assert_eq!(refused(&lead, &two, &json!({"items": [d[0], d[0]]})), ["items[1]: this item stands twice"]);
    let closed = lead.with("If-Match", &lead.get(&format!("/groups/{birch}")).etag());
    closed.post(&format!("/groups/{birch}/close"), json!({"on": "2026-11-24"})).expect(204);
    let over = w.record(&lead, &two, &none).problem(409, "conflict");
    assert_eq!(over, ["pupils[1].group_id: the group was closed before that day"]);
    assert_eq!((w.recorded(alder), w.recorded(birch)), (0, 0));
    w.record(&teacher, &two[..1], &none).expect(201);
}

#[test]
fn the_same_catch_up_is_recorded_once_unless_it_was_taught_again() {
    let w = Two::new();
    let lead = w.school.lead();
    let path = format!("/groups/{}/catch-up-records", w.alder);
    let items = item_ids(&w.content, 0);
    let body = json!({"on": TODAY, "items": items, "pupil_ids": [w.pupils["Max"], w.pupils["Zoe"]]});
    let first = text(&lead.post(&path, body.clone()).expect(201)["id"]);
    let same =
        [format!("again: the same is recorded already, as {first}: say true if it was taught once more")];
    assert_eq!(lead.post(&path, body.clone()).problem(409, "conflict"), same);
    // In whatever order, and of a set too.
    let turned =
        json!({"on": TODAY, "items": [items[1], items[0]], "pupil_ids": [w.pupils["Zoe"], w.pupils["Max"]]});
    assert_eq!(lead.post(&path, turned).problem(409, "conflict"), same);
    let (alder, birch) = (w.alder.as_str(), w.birch.as_str());
    let set = [("Ben", birch), ("Max", alder), ("Zoe", alder)];
    assert_eq!(w.record(&lead, &set, &json!({})).problem(409, "conflict"), same);
    assert_eq!((w.recorded(alder), w.recorded(birch)), (1, 0));
    // Another adult, other items, other pupils or another day are another record.
    let with = |field: &str, value: Value| {
        let mut other = body.clone();
        other[field] = value;
        lead.post(&path, other).expect(201)
    };
    with("taught_by", json!(w.school.staff_id("teacher")));
    with("items", json!(items[..1]));
    with("pupil_ids", json!([w.pupils["Max"]]));
    with("on", json!("2026-11-24"));
    with("again", json!(true));
    assert_eq!(w.recorded(alder), 6);
    // What was deleted does not stand in the way.
    let only = json!({"on": "2026-11-23", "items": items, "pupil_ids": [w.pupils["Max"]]});
    let made = lead.post(&path, only.clone());
    lead.delete(&format!("/catch-up-records/{}", text(&made.expect(201)["id"])), &made.etag()).expect(204);
    lead.post(&path, only).expect(201);
}
