//! The change of school year: planned and rehearsed in July, in force on 1 September, reversible.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Server, Value, column, json, text};

const PATH: &str = "/rollovers/2026";

/// Elm is Reception and Year 1, Oak is Year 2. By birth, Ada is of Reception, Leo (29 February) of
/// Year 1, Rey of Year 1 and taught in Reception.
const FILE: &str = "given_name,family_name,date_of_birth,year_group,class_name\n\
    Ada,Swift,2021-03-04,Reception,Elm\nLeo,Lark,2020-02-29,Year 1,Elm\nRey,Moor,2020-07-01,Reception,Elm\n\
    Gil,Hart,2019-05-06,Year 2,Oak\nUma,Vale,2019-06-07,Year 2,Oak\n";

struct July {
    school: School,
    lead: Client,
    group: String,
    half_term: String,
}

impl July {
    /// A school in July 2026 whose group of Ada, Leo and Gil has had a lesson.
    fn new() -> Self {
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

    fn adults(&self) -> Value {
        json!({"adults": [{"staff_id": self.school.staff_id("teacher"), "from": "2025-09-01"}]})
    }

    fn pupil(&self, given: &str) -> String {
        let listed = self.lead.get("/pupils?leavers=true").expect(200)["items"].clone();
        let found = listed.as_array().unwrap().iter().find(|p| text(&p["name"]).starts_with(given));
        text(&found.unwrap()["id"])
    }

    fn class(&self, name: &str) -> String {
        let listed = self.lead.get("/classes").expect(200)["items"].clone();
        text(&listed.as_array().unwrap().iter().find(|class| class["name"] == name).unwrap()["id"])
    }

    /// Reception of Elm stays there, its Year 1 goes to Oak, Oak leaves, Rey goes to a new class. The
    /// group ends, another adult takes Elm.
    fn choices(&self) -> Value {
        json!({
            "classes": [{"class_id": self.class("Elm"), "to": "Elm"},
                        {"class_id": self.class("Elm"), "year_group": "year_1", "to": "oak"},
                        {"class_id": self.class("Oak"), "leaves": true}],
            "pupils": [{"pupil_id": self.pupil("Rey"), "to": "Birch"}],
            "groups_ending": [self.group],
            "adults": [{"class": "Elm", "staff_ids": [self.school.staff_id("teacher:2")]}]})
    }

    fn plan(&self) -> Answer {
        let plan = self.lead.call("PUT", PATH, Some(&self.choices()));
        plan.expect(200);
        plan
    }

    fn act(&self, what: &str, etag: &str) -> Answer {
        self.lead.clone().with("If-Match", etag).call("POST", &format!("{PATH}/{what}"), None)
    }

    fn applied(&self) -> Answer {
        let applied = self.act("apply", &self.plan().etag());
        assert_eq!(applied.expect(200)["status"], "applied");
        applied
    }

    /// The same school on another day.
    fn on(&mut self, day: &str) {
        self.school.server.stop_and_restart(day);
        let signed_in = self.school.sign_in(&School::email("lead"));
        self.lead = self.school.nobody().with_token(&text(&signed_in["access_token"]));
    }

    /// Everything that is shown of the roster today: each class with its pupils, each pupil's page,
    /// and the group.
    fn today(&self) -> Value {
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
    fn report(&self) -> [Vec<(String, u64)>; 2] {
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

/// By name: Gil Hart, Leo Lark, Rey Moor, Ada Swift, Uma Vale.
fn before() -> Value {
    json!({"classes": [["Elm", ["Leo Lark", "Rey Moor", "Ada Swift"]], ["Oak", ["Gil Hart", "Uma Vale"]]],
           "pupils": [["Gil", "year_2", "Oak", "Elm"], ["Leo", "year_1", "Elm", "Elm"],
                      ["Rey", "reception", "Elm", null], ["Ada", "reception", "Elm", "Elm"],
                      ["Uma", "year_2", "Oak", null]],
           "group": ["Gil Hart", "Leo Lark", "Ada Swift"]})
}

fn after() -> Value {
    json!({"classes": [["Birch", ["Rey Moor"]], ["Elm", ["Ada Swift"]], ["Oak", ["Leo Lark"]]],
           "pupils": [["Leo", "year_2", "Oak", null], ["Rey", "year_1", "Birch", null],
                      ["Ada", "year_1", "Elm", null]],
           "group": []})
}

#[test]
fn the_rehearsal_shows_what_would_change_and_changes_nothing() {
    let july = July::new();
    let plan = july.plan().expect(200);
    assert_eq!(
        (&plan["status"], &plan["starts_on"], &plan["stale"]),
        (&json!("draft"), &json!("2026-09-01"), &json!(false))
    );
    assert_eq!((&plan["leaving"], &plan["staying"], &plan["questions"]), (&json!(2), &json!(3), &json!([])));
    let moves: Vec<Value> = plan["pupils"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| json!([p["name"], p["from"], p["to"], p["leaves"], p["year_group_before"], p["year_group"]]))
        .collect();
    // Leo is six on 31 August 2026, so Year 2 by birth too; Rey stays a year below the year of birth.
    let expected = json!([
        ["Gil Hart", ["Oak"], [], true, "year_2", null],
        ["Leo Lark", ["Elm"], ["Oak"], false, "year_1", "year_2"],
        ["Rey Moor", ["Elm"], ["Birch"], false, "reception", "year_1"],
        ["Ada Swift", ["Elm"], ["Elm"], false, "reception", "year_1"],
        ["Uma Vale", ["Oak"], [], true, "year_2", null],
    ]);
    assert_eq!(json!(moves), expected);
    let classes = plan["classes"].as_array().unwrap().iter();
    let classes: Vec<Value> = classes
        .map(|c| {
            json!([
                c["name"],
                c["id"].is_null(),
                c["pupils_before"],
                c["pupils"],
                column(&c["adults"], "name")
            ])
        })
        .collect();
    let expected = json!([
        ["Birch", true, 0, 1, []],
        ["Elm", false, 3, 1, ["teacher 2 person"]],
        ["Oak", false, 2, 1, []]
    ]);
    assert_eq!(json!(classes), expected);
    let years = plan["year_groups"].as_array().unwrap().iter();
    let years: Vec<Value> = years.map(|year| json!([year["name"], year["pupils"]])).collect();
    assert_eq!(json!(years), json!([["Nursery", 0], ["Reception", 0], ["Year 1", 2], ["Year 2", 1]]));
    assert_eq!(plan["groups"], json!([{"id": july.group, "name": "Elm", "ends": true}]));
    let warnings = plan["warnings"].as_array().unwrap().iter();
    let warnings: Vec<Value> = warnings.map(|w| json!([w["what"], w["pupil_id"], w["class"]])).collect();
    let expected = json!([
        ["out_of_cohort", july.pupil("Rey"), null],
        ["no_adult", null, "Birch"],
        ["no_adult", null, "Oak"]
    ]);
    assert_eq!(json!(warnings), expected);
    assert_eq!(july.today(), before());
    assert_eq!(july.lead.get(PATH).expect(200), plan);
}

#[test]
fn applied_in_july_it_is_there_on_the_first_of_september() {
    let mut july = July::new();
    let summer = july.report();
    let of = |rows: &[(&str, u64)]| rows.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect::<Vec<_>>();
    assert_eq!(
        summer,
        [of(&[("Elm", 3), ("Oak", 2)]), of(&[("Reception", 2), ("Year 1", 1), ("Year 2", 2)])]
    );
    july.applied();
    assert_eq!(july.today(), before());
    july.on("2026-08-31");
    assert_eq!(july.today(), before());
    // The teacher of the old year still has Elm, the one of the new year not yet.
    let sees = |july: &July, who: &str| {
        let signed_in = july.school.sign_in(&School::email(who));
        let client = july.school.nobody().with_token(&text(&signed_in["access_token"]));
        column(&client.get("/classes").expect(200)["items"], "name")
    };
    assert_eq!([sees(&july, "teacher"), sees(&july, "teacher:2")], [vec!["Elm".to_owned()], vec![]]);
    july.on("2026-09-01");
    assert_eq!(july.today(), after());
    assert_eq!([sees(&july, "teacher"), sees(&july, "teacher:2")], [vec![], vec!["Elm".to_owned()]]);
    // Leavers keep their place, and everybody the class and year group, in the term that is over.
    assert_eq!(july.report(), summer);
    let group = july.lead.get(&format!("/groups/{}", july.group)).expect(200);
    assert_eq!(group["closed_on"], "2026-08-31");
    let records = july.lead.get(&format!("/groups/{}/lesson-records", july.group)).expect(200);
    assert_eq!(records["items"].as_array().unwrap().len(), 1);
}

#[test]
fn one_who_left_with_it_comes_back() {
    let mut july = July::new();
    july.applied();
    let summer = july.report();
    july.on("2026-09-14");
    let path = format!("/pupils/{}", july.pupil("Uma"));
    let left = july.lead.get(&path);
    assert_eq!((&left.expect(200)["left_on"], &left.json()["classes"]), (&json!("2026-08-31"), &json!([])));
    let body = json!({"left_on": null, "class_id": july.class("Oak"), "from": "2026-09-14"});
    july.lead.patch(&path, &left.etag(), body).expect(200);
    let listed = july.today();
    assert_eq!(listed["classes"][2], json!(["Oak", ["Leo Lark", "Uma Vale"]]));
    assert_eq!(july.report(), summer);
    // Work that depends on the rollover.
    let refused = july.act("undo", &july.lead.get(PATH).etag());
    refused.problem(409, "conflict");
    assert_eq!(refused.json()["detail"], "other work depends on it: 1 pupils were changed since");
}

#[test]
fn it_is_taken_back_whole_and_can_be_applied_again() {
    let mut july = July::new();
    let class = |july: &July| july.lead.get(&format!("/classes/{}", july.class("Elm"))).expect(200);
    let group = |july: &July| july.lead.get(&format!("/groups/{}", july.group)).expect(200);
    let (class_before, group_before) = (class(&july), group(&july));
    let undone = july.act("undo", &july.applied().etag());
    assert_eq!((&undone.expect(200)["status"], &undone.json()["stale"]), (&json!("draft"), &json!(false)));
    assert_eq!(july.today(), before());
    assert_eq!((class(&july), group(&july)), (class_before, group_before));
    assert_eq!(column(&july.lead.get("/classes").expect(200)["items"], "name"), ["Elm", "Oak"]);
    july.act("undo", &undone.etag()).problem(409, "conflict");
    july.on("2026-09-01");
    assert_eq!(july.today(), before());
    // A day late is still in time: it is dated to the first day all the same.
    july.on("2026-09-02");
    july.act("apply", &undone.etag()).expect(200);
    assert_eq!(july.today(), after());
    july.act("undo", &july.lead.get(PATH).etag()).expect(200);
    assert_eq!(july.today(), before());
}

#[test]
fn a_plan_is_not_applied_unless_it_is_whole_and_the_latest() {
    let july = July::new();
    let whole = july.choices();
    let mut open = whole.clone();
    open["classes"].as_array_mut().unwrap().pop();
    let saved = july.lead.call("PUT", PATH, Some(&open));
    let oak = json!([{"id": july.class("Oak"), "name": "Oak", "pupils": 2}]);
    assert_eq!(saved.expect(200)["questions"], oak);
    let refused = july.act("apply", &saved.etag()).problem(422, "invalid");
    assert_eq!(refused, ["classes: say where all pupils of these classes go: Oak"]);
    // A known plan is changed with its ETag.
    july.lead.call("PUT", PATH, Some(&whole)).problem(428, "precondition_required");
    let plan = july.lead.put(PATH, &saved.etag(), whole.clone());
    plan.expect(200);
    july.lead.put(PATH, &saved.etag(), whole.clone()).problem(412, "stale");
    july.act("apply", &saved.etag()).problem(412, "stale");
    // Another child joins Elm: the plan was made without.
    let ida =
        json!({"given_name": "Ida", "class_id": july.class("Elm"), "from": "2026-07-15", "year_group": "R"});
    july.lead.post("/pupils", ida).expect(201);
    assert_eq!(july.lead.get(PATH).expect(200)["stale"], true);
    july.act("apply", &plan.etag()).problem(409, "rollover_stale");
    let plan = july.lead.put(PATH, &plan.etag(), whole.clone());
    assert_eq!(plan.expect(200)["staying"], 4);
    let applied = july.act("apply", &plan.etag());
    assert_eq!(applied.expect(200)["status"], "applied");
    // Twice is once; and what is applied is no plan any more.
    assert_eq!(july.act("apply", &plan.etag()).expect(200), applied.json());
    july.lead.put(PATH, &applied.etag(), whole).problem(409, "conflict");
}

#[test]
fn what_cannot_be_planned_is_refused_with_its_field() {
    let july = July::new();
    let none = json!({});
    let refused = july.lead.call("PUT", "/rollovers/2027", Some(&none)).problem(422, "invalid");
    assert_eq!(refused, ["year: is no school year of the calendar; save the year first"]);
    july.lead.get("/rollovers/2026").problem(404, "not_found");
    let away =
        json!({"classes": [{"class_id": july.class("Oak")}], "adults": [{"class": "Yew", "staff_ids": []}]});
    let refused = july.lead.call("PUT", PATH, Some(&away)).problem(422, "invalid");
    let expected = [
        "classes[0]: say either `to` with a class or `leaves`",
        "adults[0].class: is no class of this school, and no pupil goes to it",
    ];
    assert_eq!(refused, expected);
}

#[test]
fn a_lesson_of_the_new_year_depends_on_it() {
    let mut july = July::new();
    let mut choices = july.choices();
    choices["groups_ending"] = json!([]);
    let plan = july.lead.call("PUT", PATH, Some(&choices));
    july.act("apply", &plan.etag()).expect(200);
    july.on("2026-09-03");
    // The group goes on, without Gil, who left.
    let path = format!("/groups/{}", july.group);
    let group = july.lead.get(&path).expect(200);
    assert_eq!(column(&group["members"], "name"), ["Leo Lark", "Ada Swift"]);
    let records = july.lead.get(&format!("{path}/lesson-records")).expect(200);
    let body =
        json!({"on": "2026-09-03", "lesson_id": records["items"][0]["lesson_id"], "outcome": "retaught"});
    let record = july.lead.post(&format!("{path}/lesson-records"), body);
    record.expect(201);
    let refused = july.act("undo", &july.lead.get(PATH).etag());
    refused.problem(409, "conflict");
    let said = "other work depends on it: 2 places in registers of lessons lie in the school year";
    assert_eq!(refused.json()["detail"], said);
    // Deleted, nothing depends on it any more.
    let record = format!("/lesson-records/{}", text(&record.json()["id"]));
    july.lead
        .clone()
        .with("If-Match", &july.lead.get(&record).etag())
        .call("DELETE", &record, None)
        .expect(204);
    july.act("undo", &july.lead.get(PATH).etag()).expect(200);
    assert_eq!(july.today(), before());
}

#[test]
fn it_can_be_taken_back_until_a_last_day() {
    let mut july = July::new();
    let applied = july.applied();
    // 28 days from 1 September on, when it takes effect.
    assert_eq!(applied.json()["undo_until"], "2026-09-29");
    july.on("2026-09-29");
    july.act("undo", "\"v1\"").problem(412, "stale");
    july.on("2026-09-30");
    let refused = july.act("undo", &applied.etag());
    refused.problem(410, "gone");
    let said = "it can no longer be taken back: what was before was kept until 2026-09-29";
    assert_eq!(refused.json()["detail"], said);
    let audited = july.lead.get("/audit-entries").expect(200)["items"].clone();
    let dropped = audited.as_array().unwrap().iter().find(|entry| entry["operation"] == "rollover.drop");
    assert_eq!(dropped.unwrap()["staff_id"], july.school.staff_id("lead"));
}
