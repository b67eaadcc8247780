//! A school at a window of the statutory check.

use plumbline_tests::{Answer, Client, Pupils, School, Server, Value, json, text};

/// A Wednesday within the window.
pub const DAY: &str = "2027-06-16";

/// Alder with five of Year 1, Birch with three of Year 2, one of Reception; the window is open.
pub struct Screened {
    pub school: School,
    pub pupils: Pupils,
    /// The window's address.
    pub window: String,
}

const PUPILS: &str = "given_name,family_name,date_of_birth,year_group,class_name,upn\n\
    Ann,Bell,2020-10-01,Year 1,Alder,B801200005001\nBea,=Cole,2020-10-02,Year 1,Alder,\n\
    Cal,Dean,2020-10-03,Year 1,Alder,\nDee,Ford,2020-10-04,Year 1,Alder,\nEli,Gale,2020-10-05,Year 1,Alder,\n\
    Fay,Hart,2019-10-06,Year 2,Birch,\nGus,Ives,2019-10-07,Year 2,Birch,\nIda,Kerr,2019-10-08,Year 2,Birch,\n\
    Hal,Judd,2021-10-09,Reception,Oak,\n";

/// Imports pupils from the first day of the school year on; ids by given name.
pub fn import(lead: &Client, csv: &str, from: &str) -> Pupils {
    let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    lead.post(&format!("/roster-imports/{}/confirm", text(&preview["id"])), json!({"from": from}))
        .expect(200);
    let listed = lead.get("/pupils?limit=500").expect(200);
    let first = |pupil: &Value| {
        let name = text(&pupil["name"]);
        (name.split(' ').next().unwrap().to_owned(), text(&pupil["id"]))
    };
    listed["items"].as_array().unwrap().iter().map(first).collect()
}

impl Screened {
    pub fn new() -> Self {
        let school = School::on(Server::start(DAY));
        let lead = school.lead();
        let year = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
            {"name": "Autumn 1", "starts_on": "2026-09-01", "ends_on": "2026-10-23"},
            {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"},
            {"name": "Summer 2", "starts_on": "2027-06-07", "ends_on": "2027-07-21"}]});
        lead.call("PUT", "/school-years/2026", Some(&year)).expect(200);
        let pupils = import(&lead, PUPILS, "2026-09-01");
        for (name, key) in [("Alder", "teacher"), ("Birch", "teacher:2")] {
            let classes = lead.get("/classes").expect(200);
            let class = classes["items"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap();
            let path = format!("/classes/{}", text(&class["id"]));
            let adults = json!({"adults": [{"staff_id": school.staff_id(key), "from": "2026-09-01"}]});
            lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), adults).expect(200);
        }
        let days = json!({"year": 2027, "term": "summer", "opens_on": "2027-06-14", "closes_on": "2027-06-18",
                          "absentees_until": "2027-06-25"});
        let window = lead.post("/statutory-windows", days).expect(201);
        let window = format!("/statutory-windows/{}", text(&window["id"]));
        Self { school, pupils, window }
    }

    pub fn lead(&self) -> Client {
        self.school.lead()
    }

    /// The window as somebody sees it.
    pub fn seen(&self, who: &Client) -> Value {
        who.get(&self.window).expect(200)
    }

    /// The line of one pupil in a list.
    pub fn line(&self, list: &Value, name: &str) -> Value {
        let lines = list.as_array().unwrap();
        lines.iter().find(|one| one["pupil_id"] == *self.pupils[name]).cloned().unwrap_or(Value::Null)
    }

    /// The version of what is entered for a pupil.
    pub fn version(&self, name: &str) -> Value {
        self.line(&self.seen(&self.lead())["pupils"], name)["entered"]["version"].clone()
    }

    /// One pupil's result of the Tuesday, with further fields.
    pub fn result(&self, name: &str, result: &str, more: &Value) -> Value {
        let mut body = json!({"pupil_id": self.pupils[name], "result": result});
        if result.trim().chars().all(|c| c.is_ascii_digit()) {
            body["on"] = json!("2027-06-15");
        }
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        body
    }

    pub fn enter(&self, who: &Client, results: &[Value]) -> Answer {
        who.post(&format!("{}/results", self.window), json!({"results": results}))
    }

    /// Enters results of several at once, on the Tuesday.
    pub fn enter_all(&self, who: &Client, results: &[(&str, &str)]) -> Value {
        let results: Vec<Value> =
            results.iter().map(|(name, result)| self.result(name, result, &json!({}))).collect();
        self.enter(who, &results).expect(200)
    }

    pub fn submit(&self, who: &Client, go_on_without: u32) -> Answer {
        let etag = self.lead().get(&self.window).etag();
        let body = json!({"go_on_without": go_on_without, "away_stay": true});
        who.with("If-Match", &etag).post(&format!("{}/submission", self.window), body)
    }

    /// Enters the threshold of the window's year.
    pub fn threshold(&self, threshold: u8) -> Value {
        let listed = self.lead().get("/statutory-thresholds").expect(200);
        let known = listed["items"].as_array().unwrap().iter().rfind(|one| one["year"] == 2027).cloned();
        let body = json!({"threshold": threshold, "published_on": DAY});
        match known {
            Some(known) => self.lead().put("/statutory-thresholds/2027", &text(&known["etag"]), body),
            None => self.lead().call("PUT", "/statutory-thresholds/2027", Some(&body)),
        }
        .expect(200)
    }

    /// Brings in a result of a year before.
    pub fn earlier(&self, name: &str, year: i32, result: &str) -> Answer {
        let body = json!({"year": year, "term": "summer", "result": result, "source": "another_school"});
        self.lead().post(&format!("/pupils/{}/earlier-statutory-results", self.pupils[name]), body)
    }
}
