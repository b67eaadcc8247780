//! A schedule's own corner of a school: two groups, their pupils, two teachers with three devices, and the lead, who
//! writes online.

use std::{
    cell::Cell,
    collections::{BTreeMap, BTreeSet},
};

use plumbline_tests::{Client, Device, Fault, School, Stop, Value, json, lesson_ids, text};
use tempfile::TempDir;

use super::chance::Chance;

/// Days lessons are recorded on.
const DAYS: [&str; 4] = ["2026-11-18", "2026-11-19", "2026-11-20", "2026-11-23"];

/// A school that schedules share, one after the other.
pub struct Ground {
    pub school: School,
    sequence: String,
    lessons: Vec<String>,
    begun: Cell<usize>,
}

impl Ground {
    pub fn new() -> Self {
        let school = School::start();
        school.calendar();
        let (sequence, content) = school.sequence();
        Self { school, sequence, lessons: lesson_ids(&content), begun: Cell::new(0) }
    }
}

/// One schedule.
pub struct World<'a> {
    ground: &'a Ground,
    pub chance: Chance,
    lead: Client,
    pub groups: [String; 2],
    pupils: Vec<String>,
    /// Which teacher has which groups today.
    pub grants: BTreeMap<&'static str, BTreeSet<String>>,
    staff: BTreeMap<&'static str, String>,
    /// Whom each is in the school.
    keys: BTreeMap<&'static str, String>,
    /// Each device with the teacher who has it.
    pub devices: Vec<(Device, &'static str)>,
    /// Every operation somebody entered, by device.
    pub entered: Vec<Vec<String>>,
    pub folder: TempDir,
    /// What was done, for whoever looks for the fault.
    pub told: Vec<String>,
}

impl<'a> World<'a> {
    pub fn new(ground: &'a Ground, seed: u64, fault: Option<Fault>) -> Self {
        let school = &ground.school;
        ground.begun.set(ground.begun.get() + 1);
        let nth = ground.begun.get();
        let names: Vec<String> = (0..4).map(|n| format!("Pupil{nth}x{n}")).collect();
        let class = format!("Class {nth}");
        let rows: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), class.as_str())).collect();
        let all = school.pupils(&rows);
        let pupils: Vec<String> = names.iter().map(|name| all[name].clone()).collect();
        let lead = school.lead();
        let keys = [("T", format!("teacher:{nth}t")), ("U", format!("teacher:{nth}u"))];

        let staff = keys.iter().map(|(name, key)| (*name, school.staff_id(key))).collect();
        let keys = keys.into_iter().collect();
        let groups = [1, 2].map(|n| {
            let new = json!({"name": format!("Group {nth}-{n}"), "sequence_id": ground.sequence});
            text(&lead.post("/groups", new).expect(201)["id"])
        });
        let mut world = Self {
            ground,
            chance: Chance::new(seed),
            lead,
            groups,
            pupils,
            grants: BTreeMap::from([("T", BTreeSet::new()), ("U", BTreeSet::new())]),
            staff,
            keys,
            devices: Vec::new(),
            entered: vec![Vec::new(); 3],
            folder: tempfile::tempdir().unwrap(),
            told: Vec::new(),
        };
        world.grant("T", 0);
        world.grant("T", 1);
        world.grant("U", 1);
        world.set_members(0, &[0, 1]);
        world.set_members(1, &[2, 3]);
        for (name, teacher) in [("A", "T"), ("B", "T"), ("C", "U")] {
            // The fault is one device's: the others show that the schedule itself is sound.
            let fault = fault.filter(|_| name == "A");
            let device =
                Device::new(name, &school.signed_in(&world.keys[teacher]), world.folder.path(), fault);
            world.devices.push((device, teacher));
        }
        world
    }

    /// Gives a teacher a group, or takes it away.
    fn grant(&mut self, teacher: &'static str, group: usize) {
        let id = self.groups[group].clone();
        let held = self.grants.get_mut(teacher).unwrap();
        if !held.remove(&id) {
            held.insert(id.clone());
        }
        let with: Vec<&str> =
            self.grants.iter().filter(|(_, held)| held.contains(&id)).map(|(who, _)| *who).collect();
        let adults: Vec<Value> =
            with.iter().map(|who| json!({"staff_id": self.staff[who], "from": "2026-09-01"})).collect();
        let path = format!("/groups/{id}");
        let etag = self.lead.get(&path).etag();
        self.lead.put(&format!("{path}/adults"), &etag, json!({"adults": adults})).expect(200);
        self.told.push(format!("group {group} is taught by {with:?}"));
    }

    fn set_members(&mut self, group: usize, pupils: &[usize]) {
        let path = format!("/groups/{}", self.groups[group]);
        let ids: Vec<&String> = pupils.iter().map(|n| &self.pupils[*n]).collect();
        let body = json!({"from": "2026-11-25", "pupil_ids": ids});
        self.lead.put(&format!("{path}/members"), &self.lead.get(&path).etag(), body).expect(200);
        self.told.push(format!("group {group} has pupils {pupils:?}"));
    }

    /// One thing happens.
    pub fn step(&mut self) {
        let device = self.chance.below(3);
        match self.chance.below(20) {
            0..=5 => self.enter(device),
            6..=7 => self.lead_writes(),
            8 => self.move_pupils(),
            9 => {
                let teacher = if self.chance.percent(60) { "T" } else { "U" };
                let group = self.chance.below(2);
                self.grant(teacher, group);
            }
            10..=13 => {
                let (most, lost) = (*self.chance.one(&[1, 2, 4, 500]), self.chance.percent(35));
                self.told.push(format!("{} pushes {most}, answer lost: {lost}", self.devices[device].0.name));
                self.devices[device].0.push(most, lost);
            }
            14..=18 => {
                let limit = *self.chance.one(&[1, 2, 3, 7, 500]);
                let page = self.chance.below(5) + 1;
                let stop =
                    *self.chance.one(&[Stop::Never, Stop::Never, Stop::After(page), Stop::Within(page)]);
                self.told.push(format!("{} pulls {limit}, stops {stop:?}", self.devices[device].0.name));
                self.devices[device].0.pull(limit, stop);
            }
            _ => {
                self.told.push(format!("{} crashes", self.devices[device].0.name));
                self.devices[device].0.crash();
            }
        }
    }

    fn report(&mut self) -> Value {
        let lesson = self.chance.one(&self.ground.lessons).clone();
        json!({"on": *self.chance.one(&DAYS), "slot": self.chance.below(2) + 1, "lesson_id": lesson,
               "outcome": "not_delivered", "reason": "fire_drill"})
    }

    /// A teacher enters something, by what the device shows.
    fn enter(&mut self, at: usize) {
        let groups: Vec<String> = self.devices[at].0.all("group").into_keys().collect();
        let known: Vec<(String, Value)> = self.devices[at].0.all("lesson_record").into_iter().collect();
        let mut set = self.report();
        let (kind, base, set) = match self.chance.below(4) {
            0 | 1 if !groups.is_empty() => {
                set["group_id"] = json!(self.chance.one(&groups));
                ("lesson.record", None, set)
            }
            2 if !known.is_empty() => {
                let (id, old) = self.chance.one(&known).clone();
                for field in ["group_id", "on", "slot"] {
                    set[field] = old[field].clone();
                }
                ("lesson.record", self.devices[at].0.version("lesson_record", &id), set)
            }
            3 if !known.is_empty() => {
                let (id, _) = self.chance.one(&known).clone();
                ("lesson.delete", self.devices[at].0.version("lesson_record", &id), json!({"id": id}))
            }
            _ => return,
        };
        let base = base.map(str::to_owned);
        self.told.push(format!("{} enters {kind} {base:?} {set}", self.devices[at].0.name));
        let id = self.devices[at].0.write(kind, base.as_deref(), set);
        self.entered[at].push(id);
    }

    /// The lead records, amends or deletes, online.
    fn lead_writes(&mut self) {
        let group = self.chance.one(&self.groups).clone();
        let list = self.lead.get(&format!("/groups/{group}/lesson-records")).expect(200)["items"].clone();
        let list = list.as_array().unwrap().clone();
        let mut report = self.report();
        if list.is_empty() || self.chance.percent(40) {
            let answer = self.lead.post(&format!("/groups/{group}/lesson-records"), report);
            self.told.push(format!("the lead records: {}", answer.status));
            return;
        }
        let old = self.chance.one(&list).clone();
        let path = format!("/lesson-records/{}", text(&old["id"]));
        let etag = self.lead.get(&path).etag();
        let answer = if self.chance.percent(50) {
            report["on"] = old["on"].clone();
            report["slot"] = old["slot"].clone();
            self.lead.put(&path, &etag, report)
        } else {
            self.lead.delete(&path, &etag)
        };
        self.told.push(format!("the lead changes {path}: {}", answer.status));
    }

    fn move_pupils(&mut self) {
        let mut sides = [Vec::new(), Vec::new()];
        for pupil in 0..self.pupils.len() {
            sides[self.chance.below(2)].push(pupil);
        }
        // Out of the one before into the other: nobody is in two.
        self.set_members(0, &[]);
        self.set_members(1, &sides[1]);
        self.set_members(0, &sides[0]);
    }

    /// Another device of the same teacher, which begins with nothing.
    pub fn cold(&self, teacher: &str) -> Device {
        let mut device =
            Device::new("cold", &self.ground.school.signed_in(&self.keys[teacher]), self.folder.path(), None);
        device.pull(500, Stop::Never);
        device
    }

    /// What the lead sees.
    pub fn lead(&self) -> &Client {
        &self.lead
    }

    /// Entries of the audit log by a teacher, of lessons.
    pub fn lesson_entries(&self, teacher: &str) -> usize {
        let (mut count, mut next) = (0, String::new());
        loop {
            let page = self.lead.get(&format!("/audit-entries?limit=500{next}")).expect(200);
            let items = page["items"].as_array().unwrap();
            count += items
                .iter()
                .filter(|entry| entry["staff_id"] == self.staff[teacher].as_str())
                .filter(|entry| entry["operation"].as_str().unwrap().starts_with("lesson."))
                .count();
            match page["next"].as_str() {
                Some(cursor) => next = format!("&cursor={cursor}"),
                None => return count,
            }
        }
    }
}
