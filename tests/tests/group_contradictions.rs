//! Proposals of groups that contradict themselves, or the groups there are: one name, one adult twice at one time.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, Value, json, text};

const PATH: &str = "/group-proposals";

/// Ants and Bees are there, both with the teacher, with a pupil each.
struct Start {
    school: School,
    sequence: String,
    ants: String,
    bees: String,
}

fn start() -> Start {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let ants = school.group("Ants", &sequence, &[&pupils["Zoe"]]);
    let bees = school.group("Bees", &sequence, &[&pupils["Max"]]);
    Start { school, sequence, ants, bees }
}

impl Start {
    /// Ants as they are at a time, and groups to be made of both pupils.
    fn ask(&self, time: Option<&str>, new: &[Value]) -> Value {
        let mut groups =
            vec![json!({"group_id": self.ants, "name": "Ants", "time": time, "least": 0, "most": 9})];
        groups.extend(new.iter().cloned());
        json!({"sequence_id": self.sequence, "year_groups": ["year_1"], "groups": groups})
    }

    fn slot(&self, name: &str, adult: &str, time: Option<&str>) -> Value {
        let staff = self.school.staff_id(adult);
        json!({"name": name, "staff_id": staff, "time": time, "least": 0, "most": 9})
    }

    fn refused(&self, body: &Value) -> Vec<String> {
        self.school.lead().post(PATH, body.clone()).problem(422, "invalid")
    }

    fn propose(&self, body: &Value) -> Value {
        self.school.lead().post(PATH, body.clone()).expect(201)
    }
}

#[test]
fn two_groups_of_one_name_are_refused_naming_both() {
    let it = start();
    let named = |names: &[&str]| {
        let new: Vec<Value> = names.iter().map(|name| json!({"name": name, "least": 0, "most": 9})).collect();
        it.refused(&it.ask(None, &new))
    };
    assert_eq!(named(&["Owls", "Foxes", "owls"]), ["groups[3].name: is the name of groups[1] too"]);
    assert_eq!(named(&["bees"]), ["groups[1].name: is the name of a group there is: Bees"]);
    // A group that has ended leaves its name.
    let lead = it.school.lead();
    let path = format!("/groups/{}", it.bees);
    let closed = lead.with("If-Match", &lead.get(&path).etag());
    closed.post(&format!("{path}/close"), json!({"on": "2026-11-24"})).expect(204);
    let made = it.propose(&it.ask(None, &[json!({"name": "Bees", "least": 0, "most": 9})]));
    // One that took the name since stands in the way of accepting.
    lead.post("/groups", json!({"name": "Bees", "sequence_id": it.sequence})).expect(201);
    let accept = format!("{PATH}/{}/accept", text(&made["id"]));
    let refused = lead.post(&accept, json!({"on": "2026-11-30"})).problem(409, "conflict");
    assert_eq!(refused, ["groups[1].name: is the name of a group there is: Bees"]);
}

#[test]
fn an_adult_is_in_one_place_at_a_time() {
    let it = start();
    let (nine, ten) = (Some("9.15"), Some("10.00"));
    let twice = [it.slot("Owls", "teacher:2", nine), it.slot("Foxes", "teacher:2", Some("09:15"))];
    assert_eq!(it.refused(&it.ask(ten, &twice)), ["groups[2].staff_id: takes Owls at the same time"]);
    // A group there is keeps its adult, whoever is named for another.
    let owls = |time| [it.slot("Owls", "teacher", time)];
    let takes = ["groups[1].staff_id: takes Ants at the same time"];
    assert_eq!(it.refused(&it.ask(nine, &owls(Some("9:15")))), takes);
    assert_eq!(it.refused(&it.ask(None, &owls(None))), takes);
    it.propose(&it.ask(ten, &owls(nine)));
    // Two groups there are with one adult are only contradictory at a time that is said.
    let both = |time: Option<&str>| json!({"group_id": it.bees, "name": "Bees", "time": time, "least": 0, "most": 9});
    let same = ["groups[1].time: Ants has the same adult at the same time"];
    assert_eq!(it.refused(&it.ask(nine, &[both(Some("9.15"))])), same);
    it.propose(&it.ask(nine, &[both(ten)]));
    it.propose(&it.ask(None, &[both(None)]));
    // Bees stand beside the proposal, at nine by their timetable.
    let lead = it.school.lead();
    let path = format!("/groups/{}", it.bees);
    let before = it.propose(&it.ask(ten, &owls(nine)));
    let slots = json!([{"weekday": "monday", "part": "morning", "starts_at": "09:15", "minutes": 30}]);
    let body = json!({"from": "2026-09-01", "slots": slots});
    lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    let by_timetable = ["groups[1].staff_id: takes Bees at that time by its timetable"];
    assert_eq!(it.refused(&it.ask(ten, &owls(nine))), by_timetable);
    // Its lesson takes half an hour: one at half past nine begins in the middle of it, one at a quarter to ten after.
    assert_eq!(it.refused(&it.ask(Some("11.00"), &owls(Some("9.30")))), by_timetable);
    it.propose(&it.ask(Some("11.00"), &owls(Some("9.45-10.00"))));
    let accept = format!("{PATH}/{}/accept", text(&before["id"]));
    assert_eq!(lead.post(&accept, json!({"on": "2026-11-30"})).problem(409, "conflict"), by_timetable);
    it.propose(&it.ask(Some("11.00"), &owls(ten)));
    // From now on at ten: what was said before does not count any more.
    let slots = json!([{"weekday": "monday", "part": "morning", "starts_at": "10:00", "minutes": 30}]);
    let body = json!({"from": "2026-11-23", "slots": slots});
    lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    it.propose(&it.ask(Some("11.00"), &owls(nine)));
}

/// Whoever leaves a group before the day, and lessons it has until then, stand in nobody's way on it.
#[test]
fn adults_and_lessons_count_as_they_are_on_the_day_of_accepting() {
    let it = start();
    let lead = it.school.lead();
    let path = format!("/groups/{}", it.bees);
    let slots = |at: &str| json!([{"weekday": "monday", "part": "morning", "starts_at": at, "minutes": 30}]);
    let timetable = |from: &str, at: &str| {
        let body = json!({"from": from, "slots": slots(at)});
        lead.put(&format!("{path}/timetable"), &lead.get(&path).etag(), body).expect(200);
    };
    // Bees have the teacher at eleven, and from Monday on at nine; Owls are to have the teacher at nine.
    timetable("2026-09-01", "11:00");
    let owls = [it.slot("Owls", "teacher", Some("9.15"))];
    let made = it.propose(&it.ask(Some("10.00"), &owls));
    timetable("2026-11-30", "09:15");
    let accept = |on: &str| lead.post(&format!("{PATH}/{}/accept", text(&made["id"])), json!({"on": on}));
    let by_timetable = ["groups[1].staff_id: takes Bees at that time by its timetable"];
    assert_eq!(accept("2026-11-30").problem(409, "conflict"), by_timetable);
    // The teacher hands Bees over for Monday: by then nobody is in two places.
    let adults = json!({"adults": [
        {"staff_id": it.school.staff_id("teacher"), "from": "2026-09-01", "until": "2026-11-29"},
        {"staff_id": it.school.staff_id("teacher:3"), "from": "2026-11-30"}]});
    lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), adults).expect(200);
    accept("2026-11-30").expect(200);
}
