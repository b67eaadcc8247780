//! What goes wrong between devices and a server, each by name in `sync_failures.tsv`; those that are no other file's
//! are here.
#![allow(clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};

use plumbline_tests::{Client, Device, Line, School, Stop, Value, Weather, json, lesson_ids, text};
use tempfile::TempDir;

const TABLE: &str = include_str!("sync_failures.tsv");

/// A group that the teacher has, in a school with a sequence, and a place for devices.
struct Class {
    school: School,
    group: String,
    lessons: Vec<String>,
    sequence: String,
    folder: TempDir,
}

impl Class {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Alder"), ("Ben", "Alder")]);
        let group = school.group("Alder", &sequence, &pupils.values().collect::<Vec<_>>());
        Self { school, group, lessons: lesson_ids(&content), sequence, folder: tempfile::tempdir().unwrap() }
    }

    fn device(&self, name: &str, who: &str) -> Device {
        Device::new(name, &self.school.signed_in(who), self.folder.path(), None)
    }

    /// The teacher's device, with everything on it.
    fn full(&self, name: &str) -> Device {
        let mut device = self.device(name, "teacher");
        device.pull(500, Stop::Never);
        device
    }

    fn lesson(&self, on: &str, nth: usize) -> Value {
        json!({"group_id": self.group, "on": on, "lesson_id": self.lessons[nth], "outcome": "not_delivered",
               "reason": "fire_drill"})
    }

    fn records(&self) -> Vec<Value> {
        let path = format!("/groups/{}/lesson-records", self.group);
        self.school.lead().get(&path).expect(200)["items"].as_array().unwrap().clone()
    }

    fn set_adults(&self, adults: &Value) {
        let path = format!("/groups/{}", self.group);
        let lead = self.school.lead();
        lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), json!({"adults": adults})).expect(200);
    }
}

fn outcome<'a>(device: &'a Device, op: &str) -> &'a str {
    device.kept.outcomes.get(op).and_then(|outcome| outcome["outcome"].as_str()).unwrap_or("none")
}

#[test]
fn each_failure_has_its_test() {
    let (mut wrong, mut names) = (Vec::new(), BTreeSet::new());
    for line in TABLE.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        let (failure, place) = line.split_once('\t').unwrap();
        let (file, test) = place.split_once("::").unwrap();
        let path = format!("{}/tests/{file}.rs", env!("CARGO_MANIFEST_DIR"));
        let there =
            std::fs::read_to_string(path).is_ok_and(|source| source.contains(&format!("fn {test}()")));
        if !there || !names.insert(failure) {
            wrong.push(line);
        }
    }
    assert!(wrong.is_empty(), "no such test, or named twice:\n{}", wrong.join("\n"));
    assert!(names.len() > 20, "{}", names.len());
}

#[test]
fn two_tabs_that_flush_one_outbox_have_one_effect_and_one_answer() {
    let class = Class::new();
    let mut tab = class.full("A");
    for (nth, on) in ["2026-11-18", "2026-11-19", "2026-11-20"].iter().enumerate() {
        tab.write("lesson.record", None, class.lesson(on, nth));
    }
    let mut other = tab.another_tab();
    std::thread::scope(|threads| {
        threads.spawn(|| tab.push(500, false));
        threads.spawn(|| other.push(500, false));
    });
    assert_eq!((tab.violations.clone(), other.violations.clone()), (vec![], vec![]));
    assert_eq!(tab.kept.outcomes, other.kept.outcomes);
    assert!(tab.kept.outcomes.values().all(|outcome| outcome["outcome"] == "applied"));
    let changes = |record: &Value| {
        let path = format!("/lesson-records/{}/history", text(&record["id"]));
        class.school.lead().get(&path).expect(200)["items"].as_array().unwrap().len()
    };
    assert_eq!(class.records().iter().map(changes).collect::<Vec<_>>(), [1, 1, 1]);
}

#[test]
fn a_first_sync_that_broke_off_goes_on_where_it_was() {
    let class = Class::new();
    let whole = class.full("whole");
    let mut device = class.device("A", "teacher");
    device.pull(2, Stop::After(3));
    device.crash();
    device.pull(2, Stop::Within(2));
    device.pull(2, Stop::Never);
    assert_eq!(device.kept.records, whole.kept.records);
    assert_eq!(device.rows, whole.rows, "nothing that was kept is sent again");
    assert_eq!(device.violations, Vec::<String>::new());
}

#[test]
fn a_page_may_end_within_a_version_of_many_records() {
    let class = Class::new();
    let mut device = class.full("A");
    // All four leave and come again, each in one version.
    let (lead, path) = (class.school.lead(), format!("/groups/{}", class.group));
    let members = lead.get(&path).expect(200)["members"].clone();
    let ids: Vec<String> = members.as_array().unwrap().iter().map(|member| text(&member["id"])).collect();
    for pupils in [json!([]), json!(ids)] {
        let body = json!({"from": "2026-11-25", "pupil_ids": pupils});
        lead.put(&format!("{path}/members"), &lead.get(&path).etag(), body).expect(200);
        device.pull(1, Stop::After(2));
        device.crash();
    }
    device.pull(1, Stop::Never);
    assert_eq!(device.kept.records, class.full("cold").kept.records);
    assert_eq!(device.all("group_member").len(), 4);
}

#[test]
fn a_store_that_was_copied_or_put_back_begins_anew_and_loses_nothing() {
    let class = Class::new();
    let mut device = class.full("A");
    let mut copy = device.another_tab();
    let first = device.write("lesson.record", None, class.lesson("2026-11-18", 0));
    let second = copy.write("lesson.record", None, class.lesson("2026-11-19", 1));
    device.push(500, false);
    // Its first number is taken by the other's operation.
    copy.push(500, false);
    assert_ne!(copy.kept.replica, device.kept.replica);
    copy.push(500, false);
    copy.pull(500, Stop::Never);
    assert_eq!((outcome(&device, &first), outcome(&copy, &second)), ("applied", "applied"));
    assert_eq!(class.records().len(), 2);
    assert_eq!(copy.all("lesson_record").len(), 2);
}

#[test]
fn what_was_edited_again_while_its_push_was_under_way_is_kept() {
    let class = Class::new();
    let mut device = class.full("A");
    let first = device.write("lesson.record", None, class.lesson("2026-11-18", 0));
    device.push(500, true);
    let again = device.write("lesson.record", None, class.lesson("2026-11-18", 1));
    device.push(500, false);
    assert_eq!((outcome(&device, &first), outcome(&device, &again)), ("applied", "applied"));
    assert_eq!(class.records()[0]["lesson_id"], class.lessons[1].as_str());
}

#[test]
fn deleted_here_and_edited_there_stays_deleted() {
    let class = Class::new();
    let mut device = class.full("A");
    device.write("lesson.record", None, class.lesson("2026-11-18", 0));
    device.push(500, false);
    device.pull(500, Stop::Never);
    let (id, _) = device.all("lesson_record").into_iter().next().unwrap();
    let base = device.version("lesson_record", &id).map(str::to_owned);
    let lead = class.school.lead();
    let path = format!("/lesson-records/{id}");
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    let edit = device.write("lesson.record", base.as_deref(), class.lesson("2026-11-18", 1));
    device.push(500, false);
    device.pull(500, Stop::Never);
    assert_ne!(outcome(&device, &edit), "applied");
    assert!(class.records().is_empty() && device.all("lesson_record").is_empty());
}

#[test]
fn who_lost_the_group_while_offline_keeps_the_lessons_of_the_days_before_and_no_others() {
    let class = Class::new();
    let mut device = class.full("A");
    let id = class.school.staff_id("teacher");
    class.set_adults(&json!([{"staff_id": id, "from": "2026-09-01", "until": "2026-11-20"}]));
    let before = device.write("lesson.record", None, class.lesson("2026-11-19", 0));
    let after = device.write("lesson.record", None, class.lesson("2026-11-24", 1));
    device.push(500, false);
    device.pull(500, Stop::Never);
    assert_eq!((outcome(&device, &before), outcome(&device, &after)), ("applied", "rejected"));
    assert_eq!(class.records().len(), 1);
    assert!(device.all("group").is_empty() && device.all("lesson_record").is_empty());
    assert!(device.kept.outbox.is_empty());
}

#[test]
fn a_group_that_is_given_brings_its_old_records() {
    let class = Class::new();
    let mut device = class.full("A");
    for (nth, on) in ["2026-11-18", "2026-11-19"].iter().enumerate() {
        device.write("lesson.record", None, class.lesson(on, nth));
    }
    device.push(500, false);
    let mut other = class.device("B", "teacher:2");
    other.pull(500, Stop::Never);
    assert!(other.all("group").is_empty());
    let adults = ["teacher", "teacher:2"]
        .map(|key| json!({"staff_id": class.school.staff_id(key), "from": "2026-11-25"}));
    class.set_adults(&json!(adults));
    other.pull(1, Stop::Never);
    assert_eq!((other.all("group").len(), other.all("lesson_record").len()), (1, 2));
}

#[test]
fn a_pupil_who_leaves_one_group_of_two_stays_on_the_device() {
    let class = Class::new();
    let lead = class.school.lead();
    let members = lead.get(&format!("/groups/{}", class.group)).expect(200)["members"].clone();
    let pupil = text(&members[0]["id"]);
    let second = class.school.group("Birch", &class.sequence, &[&pupil]);
    let mut device = class.full("A");
    assert!(device.all("pupil").contains_key(&pupil));
    let path = format!("/groups/{second}");
    let none = json!({"from": "2026-11-25", "pupil_ids": []});
    lead.put(&format!("{path}/members"), &lead.get(&path).etag(), none).expect(200);
    device.pull(500, Stop::Never);
    assert!(device.all("pupil").contains_key(&pupil));
    let said = |device: &Device| -> BTreeMap<String, Value> {
        device.kept.records.iter().map(|(key, record)| (key.clone(), record.body.clone())).collect()
    };
    assert_eq!(said(&device), said(&class.full("cold")));
}

#[test]
fn a_devices_clock_orders_nothing() {
    let class = Class::new();
    let mut device = class.full("A");
    let ops = ["1970-01-01T00:00:00Z", "2027-12-31T23:59:59Z", "2026-11-25T10:00:00+01:00"];
    for (nth, at) in ops.iter().enumerate() {
        device.write(
            "lesson.record",
            None,
            class.lesson(["2026-11-18", "2026-11-19", "2026-11-20"][nth], nth),
        );
        device.kept.outbox.last_mut().unwrap().at = (*at).to_owned();
    }
    device.push(500, false);
    assert!(device.kept.outcomes.values().all(|outcome| outcome["outcome"] == "applied"));
    let days: Vec<String> = class.records().iter().map(|record| text(&record["on"])).collect();
    assert_eq!(days, ["2026-11-20", "2026-11-19", "2026-11-18"], "the list begins with the latest day");
}

#[test]
fn a_queue_outlives_a_sign_in_that_ran_out() {
    let class = Class::new();
    let mut device = class.full("A");
    let op = device.write("lesson.record", None, class.lesson("2026-11-18", 0));
    let signed_in = device.signed_in_as(&class.school.nobody().with_token("stale"));
    device.push(500, false);
    assert_eq!(device.kept.outbox.len(), 1);
    assert_eq!(outcome(&device, &op), "none");
    device.signed_in_as(&signed_in);
    device.push(500, false);
    assert_eq!(outcome(&device, &op), "applied");
}

/// A proxy that is out of breath, a server that is down, a network that wants a sign-in of its own.
#[test]
fn what_is_no_answer_of_the_server_changes_nothing_and_is_asked_again() {
    let class = Class::new();
    let mut device = class.full("A");
    let op = device.write("lesson.record", None, class.lesson("2026-11-18", 0));
    let line = Line::to(&class.school.server.base);
    let direct = device.signed_in_as(&class.school.nobody());
    device.signed_in_as(&Client::new(&line.base).with_token(direct.token()));
    let before = device.all("group");
    let weathers = [Weather::Portal, Weather::Refuses(302)].into_iter();
    for weather in weathers.chain([429, 500, 502, 503, 504, 507].map(Weather::Refuses)) {
        line.is(weather.clone());
        device.push(500, false);
        assert_eq!(device.pull(500, Stop::Never), 0, "{weather:?}");
        assert_eq!((device.kept.outbox.len(), outcome(&device, &op)), (1, "none"), "{weather:?}");
        assert_eq!(device.all("group"), before, "{weather:?}");
    }
    let each = [200, 302, 429, 500, 502, 503, 504, 507];
    assert_eq!(device.unanswered, each.map(|status| [status, status]).concat());
    assert_eq!((device.violations.clone(), class.records()), (vec![], vec![]));
    // After the line is clear again, and after a crash meanwhile.
    device.crash();
    line.is(Weather::Clear);
    device.push(500, false);
    device.pull(500, Stop::Never);
    assert_eq!((outcome(&device, &op), class.records().len()), ("applied", 1));
    assert_eq!(device.all("lesson_record").len(), 1);
}

#[test]
fn writers_at_once_lose_no_row_for_who_reads_meanwhile() {
    let class = Class::new();
    let groups: Vec<String> = (0..3)
        .map(|n| class.school.group(&format!("Group {n}"), &class.sequence, &[]))
        .chain([class.group.clone()])
        .collect();
    let mut device = class.device("A", "teacher");
    std::thread::scope(|threads| {
        let writers: Vec<_> = groups
            .iter()
            .map(|group| {
                let (lead, lesson) = (class.school.lead(), &class.lessons[0]);
                threads.spawn(move || {
                    for day in 3..25 {
                        let on = format!("2026-11-{day:02}");
                        let body = json!({"on": on, "lesson_id": lesson, "outcome": "not_delivered", "reason": "fire_drill"});
                        lead.post(&format!("/groups/{group}/lesson-records"), body).expect(201);
                    }
                })
            })
            .collect();
        while !writers.iter().all(std::thread::ScopedJoinHandle::is_finished) {
            device.pull(3, Stop::Never);
        }
    });
    device.pull(3, Stop::Never);
    assert_eq!(device.all("lesson_record").len(), 4 * 22);
    assert_eq!(device.kept.records, class.full("cold").kept.records);
    assert_eq!(device.violations, Vec::<String>::new());
}
