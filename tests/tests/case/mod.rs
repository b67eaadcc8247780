//! A hard case: its files, and a school of its day to try them at.

mod history;
mod names;
mod versions;

use std::{collections::BTreeMap, fs, path::PathBuf};

use plumbline_tests::{Answer, Client, School, Server, Value, json, text};

/// A case at hand.
pub struct Case {
    school: School,
    pub lead: Client,
    pub id: String,
    pub expect: Value,
    pub file: Vec<u8>,
    pub media: &'static str,
    pub before: Option<Value>,
    pub today: String,
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("cases")
}

pub fn read(name: &str) -> Vec<u8> {
    fs::read(folder().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

impl Case {
    /// A case's files, at a school of its day.
    pub fn load(id: &str) -> Self {
        let names: Vec<String> = fs::read_dir(folder())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.starts_with(id))
            .collect();
        let find = |end: &str| names.iter().find(|name| name.ends_with(end));
        let json_of = |name: &String| serde_json::from_slice::<Value>(&read(name)).unwrap();
        let expect = json_of(find(".expect.json").unwrap());
        let (file, media) = match find(".xlsx") {
            Some(book) => (read(book), "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            None => (find(".csv").map(|name| read(name)).unwrap_or_default(), "text/csv"),
        };
        let today = expect["assert"]["import_date"].as_str().unwrap_or("2025-03-10").to_owned();
        let school = School::on(Server::start(&today));
        let lead = school.lead();
        for year in [2024, 2025] {
            let half_term = json!({"name": "All", "starts_on": format!("{year}-09-02"), "ends_on": format!("{}-07-18", year + 1)});
            let body = json!({"starts_on": format!("{year}-09-01"), "ends_on": format!("{}-08-31", year + 1), "half_terms": [half_term]});
            lead.call("PUT", &format!("/school-years/{year}"), Some(&body)).expect(200);
        }
        let before = find("_before.json").map(json_of);
        Self { school, lead, id: id.to_owned(), expect, file, media, before, today }
    }

    pub fn assert(&self) -> &serde_json::Map<String, Value> {
        self.expect["assert"].as_object().unwrap()
    }

    /// The most memory the server has held so far, in KiB.
    pub fn peak_memory(&self) -> u64 {
        self.school.server.peak_memory()
    }

    pub fn upload(&self) -> Answer {
        self.lead.send("POST", "/api/v1/roster-imports", Some(self.media), &self.file)
    }

    pub fn answer(&self, preview: &Value, answers: Value) -> Value {
        let path = format!("/roster-imports/{}/answers", text(&preview["id"]));
        let now = self.lead.get(&format!("/roster-imports/{}", text(&preview["id"])));
        self.lead.put(&path, &now.etag(), answers).expect(200)
    }

    pub fn confirm(&self, preview: &Value, from: &str) -> Answer {
        self.lead.post(&format!("/roster-imports/{}/confirm", text(&preview["id"])), json!({"from": from}))
    }

    /// The pupils the school has, by reference.
    pub fn pupils(&self) -> BTreeMap<String, Value> {
        let listed = self.lead.get("/pupils?limit=500").expect(200);
        let pages = listed["items"].as_array().unwrap().iter();
        let pages = pages.map(|line| self.lead.get(&format!("/pupils/{}", text(&line["id"]))).expect(200));
        pages.map(|pupil| (text(&pupil["pupil_ref"]), pupil)).collect()
    }

    /// A pupil the school has from before, with class and group.
    pub fn add(&self, row: &Value) {
        let mut new = row.clone();
        let fields = new.as_object_mut().unwrap();
        if let Some(class) = fields.remove("class_name") {
            let class = self.lead.post("/classes", json!({"name": class})).expect(201);
            fields.insert("class_id".into(), class["id"].clone());
        }
        let group = fields.remove("teaching_group");
        let pupil = text(&self.lead.post("/pupils", new).expect(201)["id"]);
        if let Some(group) = group {
            let sequence = self.lead.post("/sequences", json!({"name": "Ours"})).expect(201);
            let group = json!({"name": group, "sequence_id": sequence["id"]});
            let made = self.lead.post("/groups", group);
            let path = format!("/groups/{}/members", text(&made.expect(201)["id"]));
            let members = json!({"from": self.today, "pupil_ids": [pupil]});
            self.lead.put(&path, &made.etag(), members).expect(200);
        }
    }
}
