//! A school of which pupils are handed on.
#![allow(dead_code)] // Each file of tests uses a part of it.

use plumbline_tests::{Client, Pupils, School, Value, column, json, lesson_ids};

/// A school with an autumn behind it.
pub struct Autumn {
    pub school: School,
    pub pupils: Pupils,
    pub group: String,
}

/// Zoe and Max were taught m and o on the 5th of October and e on the 5th of November, Max alone d and "the" on the 6th
/// of October. Max was right about m on three days in October, the last of them fifteen days after it was taught, and
/// wrong about o in October; Zoe was right about m once in October. Nobody was asked since the holiday.
pub fn start() -> Autumn {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Kit", "Alder"), ("Ida", "Rowan")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let (lead, lessons) = (school.lead(), lesson_ids(&content));
    let absent = json!({"register": [{"pupil_id": pupils["Zoe"], "mark": "absent"}]});
    for (n, on, more) in
        [(0, "2026-10-05", &json!({})), (1, "2026-10-06", &absent), (2, "2026-11-05", &json!({}))]
    {
        school.log_lesson(&lead, &group, on, &lessons[n], "delivered", more).expect(201);
    }
    let (check, items) = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    for on in ["2026-10-07", "2026-10-14", "2026-10-20"] {
        let round = school.round(on, on, on, &[&check]);
        school.answer(&lead, (&round, &pupils["Max"], &check), on, &[(&items[0], "right")]).expect(201);
        if on == "2026-10-14" {
            let of = |name: &str| (round.clone(), pupils[name].clone());
            let (round, max) = of("Max");
            school.answer(&lead, (&round, &max, &check), on, &[(&items[1], "wrong")]).expect(201);
            let (round, zoe) = of("Zoe");
            let answers = [(items[0].as_str(), "right"), (items[1].as_str(), "not_offered")];
            school.answer(&lead, (&round, &zoe, &check), on, &answers).expect(201);
        }
    }
    Autumn { school, pupils, group }
}

impl Autumn {
    pub fn path(&self, name: &str) -> String {
        format!("/pupils/{}", self.pupils[name])
    }

    pub fn handover(&self, who: &Client, name: &str) -> Value {
        let page = who.get(&format!("{}/handover", self.path(name))).expect(200);
        assert_eq!(page["pupils"].as_array().unwrap().len(), 1);
        page["pupils"][0].clone()
    }

    pub fn write(&self, who: &Client, name: &str, line: Value) -> plumbline_tests::Answer {
        let etag = self.school.lead().get(&format!("{}/handover", self.path(name))).etag();
        who.put(&format!("{}/what-helped", self.path(name)), &etag, json!({"text": line}))
    }

    pub fn log(&self) -> Vec<String> {
        column(&self.school.lead().get("/audit-entries?limit=200").expect(200)["items"], "operation")
    }
}
