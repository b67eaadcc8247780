//! A small school, made through the API like any other.

use std::{cell::RefCell, collections::BTreeMap};

use serde_json::{Value, json};

use crate::{Client, Server};

/// The day the tests play on: a Wednesday in the second half term.
pub const TODAY: &str = "2026-11-25";

const PASSWORD: &str = "correct horse battery staple";

/// A server with one school and its first administrator.
pub struct School {
    /// The server.
    pub server: Server,
    people: RefCell<BTreeMap<String, (Client, String)>>,
}

/// Ids of pupils by given name.
pub type Pupils = BTreeMap<String, String>;

impl Default for School {
    fn default() -> Self {
        Self::start()
    }
}

impl School {
    /// Starts with an administrator and nothing else.
    pub fn start() -> Self {
        Self::on(Server::start(TODAY))
    }

    /// On a server that has no school yet.
    pub fn on(server: Server) -> Self {
        let school = Self { server, people: RefCell::default() };
        let token = school.found("Farholt Infant School", "Ada Admin", "admin@farholt.example");
        school.join("administrator", &token, "admin@farholt.example");
        school
    }

    /// Makes a school by the operator's command; returns its administrator's invitation.
    pub fn found(&self, school: &str, name: &str, email: &str) -> String {
        let arguments = ["--school", school, "--name", name, "--email", email, "--today", &self.server.today];
        let made = self.server.run(&[["account", "create"].as_slice(), &arguments].concat());
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let text = String::from_utf8(made.stdout).unwrap();
        text.split("/#/invitation/").nth(1).unwrap().split_whitespace().next().unwrap().to_owned()
    }

    /// The lead of another school on the same server, which has a calendar of its own.
    pub fn neighbour(&self) -> Client {
        let enter = |token: &str, email: &str| {
            let acceptance = json!({"token": token, "password": PASSWORD});
            self.nobody().post("/invitations/accept", acceptance).expect(200);
            self.nobody().with_token(self.sign_in(email)["access_token"].as_str().unwrap())
        };
        let token = self.found("Millbrook School", "Bo Admin", "admin@millbrook.example");
        let admin = enter(&token, "admin@millbrook.example");
        let lead = json!({"name": "Cy Lead", "email": "lead@millbrook.example",
                          "roles": [{"role": "lead", "from": "2026-09-01"}]});
        let invited = admin.post("/invitations", lead).expect(201);
        let lead = enter(invited["token"].as_str().unwrap(), "lead@millbrook.example");
        let year = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
            {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"}]});
        lead.call("PUT", "/school-years/2026", Some(&year)).expect(200);
        lead
    }

    /// Nobody.
    pub fn nobody(&self) -> Client {
        Client::new(&self.server.base)
    }

    fn join(&self, key: &str, token: &str, email: &str) {
        self.nobody().post("/invitations/accept", json!({"token": token, "password": PASSWORD})).expect(200);
        let signed_in = self.sign_in(email);
        let client = self.nobody().with_token(signed_in["access_token"].as_str().unwrap());
        let id = signed_in["staff_id"].as_str().unwrap().to_owned();
        self.people.borrow_mut().insert(key.to_owned(), (client, id));
    }

    /// Signs someone in with the suite's password.
    pub fn sign_in(&self, email: &str) -> Value {
        self.nobody().post("/sessions", json!({"email": email, "password": PASSWORD})).expect(201)
    }

    /// The password of everybody in the tests.
    pub const fn password() -> &'static str {
        PASSWORD
    }

    /// A member of staff with this role, invited and signed in the first time asked for.
    /// The key is a role, with a suffix for a second one: `teacher`, `teacher:2`.
    pub fn staff(&self, key: &str) -> Client {
        self.person(key).0
    }

    /// The same on a sign-in of its own, as on a tablet: a sign-in is one tablet's.
    pub fn signed_in(&self, key: &str) -> Client {
        self.person(key);
        self.nobody().with_token(self.sign_in(&Self::email(key))["access_token"].as_str().unwrap())
    }

    /// The id of that member of staff.
    pub fn staff_id(&self, key: &str) -> String {
        self.person(key).1
    }

    /// The address of that member of staff.
    pub fn email(key: &str) -> String {
        let local = if key == "administrator" { "admin".into() } else { key.replace(':', "-") };
        format!("{local}@farholt.example")
    }

    fn person(&self, key: &str) -> (Client, String) {
        if let Some(person) = self.people.borrow().get(key) {
            return person.clone();
        }
        let role = key.split(':').next().unwrap();
        // In force on the server's day, also where that lies before the usual one.
        let from = self.server.today.as_str().min("2026-09-01");
        let until = (role == "cover").then_some("2026-12-18");
        let admin = self.people.borrow()["administrator"].0.clone();
        let email = Self::email(key);
        let invited = admin
            .post(
                "/invitations",
                json!({"name": format!("{key} person").replace(':', " "), "email": email,
                       "roles": [{"role": role, "from": from, "until": until}]}),
            )
            .expect(201);
        self.join(key, invited["token"].as_str().unwrap(), &email);
        self.people.borrow()[key].clone()
    }

    /// The lead.
    pub fn lead(&self) -> Client {
        self.staff("lead")
    }

    /// Saves the school year 2026-27 with two half terms; returns their ids.
    pub fn calendar(&self) -> Vec<String> {
        let year = self.lead().call(
            "PUT",
            "/school-years/2026",
            Some(&json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
                {"name": "Autumn 1", "starts_on": "2026-09-01", "ends_on": "2026-10-23"},
                {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"}]})),
        );
        let year = year.expect(200);
        year["half_terms"].as_array().unwrap().iter().map(|t| t["id"].as_str().unwrap().to_owned()).collect()
    }

    /// Imports pupils into a class from 1 September: given name and class.
    pub fn pupils(&self, pupils: &[(&str, &str)]) -> Pupils {
        let mut csv = String::from("given_name,family_name,date_of_birth,year_group,class_name\n");
        for (given, class) in pupils {
            csv.push_str(&format!("{given},Bell,2020-05-31,Year 1,{class}\n"));
        }
        let lead = self.lead();
        let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
        let path = format!("/roster-imports/{}/confirm", preview["id"].as_str().unwrap());
        lead.post(&path, json!({"from": "2026-09-01"})).expect(200);
        let listed = lead.get("/pupils?limit=500").expect(200);
        listed["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| {
                (
                    p["name"].as_str().unwrap().split(' ').next().unwrap().to_owned(),
                    p["id"].as_str().unwrap().to_owned(),
                )
            })
            .collect()
    }

    /// Publishes a sequence of two steps with two lessons each, effective 1 September.
    /// Returns the sequence's id and the published content.
    pub fn sequence(&self) -> (String, Value) {
        let lead = self.lead();
        let made = lead.post("/sequences", json!({"name": "Our sequence"})).expect(201);
        let id = made["id"].as_str().unwrap().to_owned();
        let path = format!("/sequences/{id}/draft");
        let etag = lead.get(&path).etag();
        let gpc = |g: &str, p: &str| json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
        let draft = json!({"steps": [
            {"title": "Step 1", "lessons": [
                {"title": "m and o", "items": [gpc("m", "m"), gpc("o", "ɒ")]},
                {"title": "d", "items": [gpc("d", "d"), {"kind": "exception_word", "label": "the"}]}]},
            {"title": "Step 2", "lessons": [
                {"title": "e", "items": [gpc("e", "e")]},
                {"title": "review", "items": [{"kind": "review", "label": "review of step 1"}, gpc("n", "n")]}]}]});
        lead.put(&path, &etag, draft).expect(200);
        let version = lead
            .post(&format!("/sequences/{id}/versions"), json!({"effective_on": "2026-09-01"}))
            .expect(201);
        let path = format!("/sequences/{id}/versions/{}", version["id"].as_str().unwrap());
        (id, lead.get(&path).expect(200))
    }

    /// A group of these pupils from 1 September with the `teacher` assigned; returns its id.
    pub fn group(&self, name: &str, sequence: &str, pupils: &[&String]) -> String {
        let lead = self.lead();
        let made = lead.post("/groups", json!({"name": name, "sequence_id": sequence}));
        let id = made.expect(201)["id"].as_str().unwrap().to_owned();
        let adults = json!({"adults": [{"staff_id": self.staff_id("teacher"), "from": "2026-09-01"}]});
        let set = lead.put(&format!("/groups/{id}/adults"), &made.etag(), adults);
        set.expect(200);
        let members = json!({"from": "2026-09-01", "pupil_ids": pupils});
        lead.put(&format!("/groups/{id}/members"), &set.etag(), members).expect(200);
        id
    }
}
