//! A school in July, about to change to the next school year.
#![allow(dead_code)] // each of the tests uses a part

use plumbline_tests::{Answer, Client, School, Server, Value, column, json, text};

pub const PATH: &str = "/rollovers/2026";

/// Elm is Reception and Year 1, Oak is Year 2. By birth, Ada is of Reception, Leo (29 February) of
/// Year 1, Rey of Year 1 and taught in Reception.
const FILE: &str = "given_name,family_name,date_of_birth,year_group,class_name\n\
    Ada,Swift,2021-03-04,Reception,Elm\nLeo,Lark,2020-02-29,Year 1,Elm\nRey,Moor,2020-07-01,Reception,Elm\n\
    Gil,Hart,2019-05-06,Year 2,Oak\nUma,Vale,2019-06-07,Year 2,Oak\n";

/// The school of the tests of a change of year.
pub struct July {
    pub school: School,
    pub lead: Client,
    pub group: String,
    half_term: String,
}

impl July {
    /// A school in July 2026 whose group of Ada, Leo and Gil has had a lesson.
    pub fn new() -> Self {
        let school = School::on(Server::start("2026-07-15"));
        let lead = school.lead();
        let mut terms = Vec::new();
        for year in [2025, 2026] {
            let term = json!({"name": "All", "starts_on": format!("{year}-09-01"),
                              "ends_on": format!("{}-07-17", year + 1)});
            let body = json!({"starts_on": format!("{year}-09-01"), "ends_on": format!("{}-08-31", year + 1),
                              "half_terms": [term]});
            let saved = lead.call("PUT", &format!("/school-years/{year}"), Some(&body)).expect(200);
            terms.push(text(&saved["half_terms"][0]["id"]));
        }
        let preview = lead.post_csv("/roster-imports", FILE.as_bytes()).expect(201);
        let confirm = format!("/roster-imports/{}/confirm", text(&preview["id"]));
        lead.post(&confirm, json!({"from": "2025-09-01"})).expect(200);
        let (sequence, lesson) = sequence(&lead);
        let mut july = Self { school, lead, group: String::new(), half_term: terms[0].clone() };
        let made = july.lead.post("/groups", json!({"name": "Elm", "sequence_id": sequence}));
        july.group = text(&made.expect(201)["id"]);
        let pupils: Vec<String> = ["Ada", "Leo", "Gil"].iter().map(|name| july.pupil(name)).collect();
        let path = format!("/groups/{}", july.group);
        let members = json!({"from": "2025-09-01", "pupil_ids": pupils});
        let set = july.lead.put(&format!("{path}/members"), &made.etag(), members);
        set.expect(200);
        july.lead.put(&format!("{path}/adults"), &set.etag(), july.adults()).expect(200);
        let class = format!("/classes/{}", july.class("Elm"));
        let etag = july.lead.get(&class).etag();
        july.lead.put(&format!("{class}/adults"), &etag, july.adults()).expect(200);
        let body = json!({"on": "2026-07-06", "lesson_id": lesson, "outcome": "delivered"});
        july.lead.post(&format!("{path}/lesson-records"), body).expect(201);
        july
    }

    pub fn adults(&self) -> Value {
        json!({"adults": [{"staff_id": self.school.staff_id("teacher"), "from": "2025-09-01"}]})
    }

    pub fn pupil(&self, given: &str) -> String {
        let listed = self.lead.get("/pupils?leavers=true").expect(200)["items"].clone();
        let found = listed.as_array().unwrap().iter().find(|p| text(&p["name"]).starts_with(given));
        text(&found.unwrap()["id"])
    }

    pub fn class(&self, name: &str) -> String {
        let listed = self.lead.get("/classes").expect(200)["items"].clone();
        text(&listed.as_array().unwrap().iter().find(|class| class["name"] == name).unwrap()["id"])
    }

    /// Reception of Elm stays there, its Year 1 goes to Oak, Oak leaves, Rey goes to a new class. The
    /// group ends, another adult takes Elm.
    pub fn choices(&self) -> Value {
        json!({
            "classes": [{"class_id": self.class("Elm"), "to": "Elm"},
                        {"class_id": self.class("Elm"), "year_group": "year_1", "to": "oak"},
                        {"class_id": self.class("Oak"), "leaves": true}],
            "pupils": [{"pupil_id": self.pupil("Rey"), "to": "Birch"}],
            "groups_ending": [self.group],
            "adults": [{"class": "Elm", "staff_ids": [self.school.staff_id("teacher:2")]}]})
    }

    pub fn plan(&self) -> Answer {
        let plan = self.lead.call("PUT", PATH, Some(&self.choices()));
        plan.expect(200);
        plan
    }

    pub fn act(&self, what: &str, etag: &str) -> Answer {
        self.lead.clone().with("If-Match", etag).call("POST", &format!("{PATH}/{what}"), None)
    }

    pub fn applied(&self) -> Answer {
        let applied = self.act("apply", &self.plan().etag());
        assert_eq!(applied.expect(200)["status"], "applied");
        applied
    }

    /// The same school on another day.
    pub fn on(&mut self, day: &str) {
        self.school.server.stop_and_restart(day);
        let signed_in = self.school.sign_in(&School::email("lead"));
        self.lead = self.school.nobody().with_token(&text(&signed_in["access_token"]));
    }

    /// Everything that is shown of the roster today: each class with its pupils, each pupil's page,
    /// and the group.
    pub fn today(&self) -> Value {
        let classes: Vec<Value> = column(&self.lead.get("/classes").expect(200)["items"], "id")
            .iter()
            .map(|id| self.lead.get(&format!("/classes/{id}")).expect(200))
            .filter(|class| class["pupils"] != json!([]))
            .map(|class| json!([class["name"], column(&class["pupils"], "name")]))
            .collect();
        let pupils: Vec<Value> = column(&self.lead.get("/pupils").expect(200)["items"], "id")
            .iter()
            .map(|id| self.lead.get(&format!("/pupils/{id}")).expect(200))
            .map(|p| {
                json!([p["given_name"], p["year_group"], p["classes"][0]["name"], p["groups"][0]["name"]])
            })
            .collect();
        let group = self.lead.get(&format!("/groups/{}", self.group)).expect(200);
        json!({"classes": classes, "pupils": pupils, "group": column(&group["members"], "name")})
    }

    /// Pupils of the summer's report by class, and by year group.
    pub fn report(&self) -> [Vec<(String, u64)>; 2] {
        let path = format!("/reports/attainment?half_term_id={}&as_of=2026-07-15", self.half_term);
        let report = self.lead.get(&path).expect(200);
        ["classes", "year_groups"].map(|by| {
            let rows = report[by].as_array().unwrap().iter();
            rows.map(|row| (text(&row["name"]), row["pupils"].as_u64().unwrap())).collect()
        })
    }
}

/// A sequence of one lesson, taught from September 2025; its id and the lesson's.
fn sequence(lead: &Client) -> (String, String) {
    let id = text(&lead.post("/sequences", json!({"name": "Our sequence"})).expect(201)["id"]);
    let path = format!("/sequences/{id}/draft");
    let items = json!([{"kind": "gpc", "gpc": {"grapheme": "m", "phoneme": "m"}}]);
    let draft = json!({"steps": [{"title": "Step 1", "lessons": [{"title": "m", "items": items}]}]});
    lead.put(&path, &lead.get(&path).etag(), draft).expect(200);
    let versions = format!("/sequences/{id}/versions");
    let version = lead.post(&versions, json!({"effective_on": "2025-09-01"})).expect(201);
    let content = lead.get(&format!("{versions}/{}", text(&version["id"]))).expect(200);
    (id, text(&content["steps"][0]["lessons"][0]["id"]))
}
