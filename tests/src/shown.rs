//! Schools of a trust on one server, each with something to show, and the school where the trust's lead works.

use crate::{Client, School, Value, json, text};

/// A school of a trust.
pub struct Member {
    /// Its lead, who is its administrator too.
    pub lead: Client,
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
}

const PHONEMES: [(&str, &str); 3] = [("m", "m"), ("o", "ɒ"), ("d", "d")];

impl School {
    /// Another school on this server. Who founds it holds this role too.
    pub fn another(&self, name: &str, email: &str, role: &str) -> Member {
        let token = self.found(name, "Una Founder", email);
        self.nobody()
            .post("/invitations/accept", json!({"token": token, "password": Self::password()}))
            .expect(200);
        let signed_in = self.sign_in(email);
        let lead = self.nobody().with_token(&text(&signed_in["access_token"]));
        let path = format!("/staff/{}", text(&signed_in["staff_id"]));
        let roles = ["administrator", role].map(|role| json!({"role": role, "from": "2026-09-01"}));
        let etag = lead.get(&path).etag();
        lead.put(&format!("{path}/roles"), &etag, json!({"roles": roles})).expect(200);
        let id = text(&lead.get("/school").expect(200)["id"]);
        Member { lead, id, name: name.to_owned() }
    }

    /// A school with one class of twelve, of whom so many read the word, taught from a sequence of these graphemes (of m, o
    /// and d) in this order.
    pub fn member(&self, name: &str, email: &str, right: usize, graphemes: &[&str]) -> Member {
        let made = self.another(name, email, "lead");
        let lead = &made.lead;
        let year = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
            {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"}]});
        lead.call("PUT", "/school-years/2026", Some(&year)).expect(200);
        let mut csv = "given_name,family_name,date_of_birth,year_group,class_name\n".to_owned();
        for letter in 'a'..='l' {
            csv.push_str(&format!("Ida{letter},Bell,2020-10-05,Year 1,Kestrel\n"));
        }
        let preview = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
        let confirm = format!("/roster-imports/{}/confirm", text(&preview["id"]));
        lead.post(&confirm, json!({"from": "2026-09-01"})).expect(200);
        let pupils: Vec<String> = lead.get("/pupils?limit=200").expect(200)["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|pupil| text(&pupil["id"]))
            .collect();
        let check = json!({"name": "Words", "kind": "word_reading", "items": [{"prompt": "mop"}]});
        let check = lead.post("/checks", check).expect(201);
        let round = json!({"name": "R", "opens_on": "2026-11-23", "closes_on": "2026-11-25", "check_ids": [check["id"]]});
        let round = text(&lead.post("/check-rounds", round).expect(201)["id"]);
        for (n, pupil) in pupils.iter().enumerate() {
            let outcome = if n < right { "right" } else { "wrong" };
            let answers = json!({"check_id": check["id"], "on": "2026-11-24",
                                 "answers": [{"item_id": check["items"][0]["id"], "outcome": outcome}]});
            lead.post(&format!("/check-rounds/{round}/pupils/{pupil}/responses"), answers).expect(201);
        }
        taught(lead, graphemes, &pupils);
        made
    }
}

/// Gives a lesson of a sequence of these graphemes to these pupils.
pub fn taught(lead: &Client, graphemes: &[&str], pupils: &[String]) {
    taught_on(lead, graphemes, pupils, "2026-11-03");
}

/// The same on a day.
pub fn taught_on(lead: &Client, graphemes: &[&str], pupils: &[String], on: &str) {
    let sequence = text(&lead.post("/sequences", json!({"name": "Sounds in order"})).expect(201)["id"]);
    let items = graphemes.iter().map(|grapheme| {
        let phoneme = PHONEMES.iter().find(|(known, _)| known == grapheme).unwrap().1;
        json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}})
    });
    let lessons: Vec<Value> = items.map(|item| json!({"title": "Lesson", "items": [item]})).collect();
    let draft = format!("/sequences/{sequence}/draft");
    let etag = lead.get(&draft).etag();
    lead.put(&draft, &etag, json!({"steps": [{"title": "Step", "lessons": lessons}]})).expect(200);
    let versions = format!("/sequences/{sequence}/versions");
    let version = text(&lead.post(&versions, json!({"effective_on": "2025-09-01"})).expect(201)["id"]);
    let content = lead.get(&format!("{versions}/{version}")).expect(200);
    let made = lead.post("/groups", json!({"name": "All", "sequence_id": sequence}));
    let group = text(&made.expect(201)["id"]);
    let members = json!({"from": on, "pupil_ids": pupils});
    lead.put(&format!("/groups/{group}/members"), &made.etag(), members).expect(200);
    let lesson =
        json!({"on": on, "lesson_id": content["steps"][0]["lessons"][0]["id"], "outcome": "delivered"});
    lead.post(&format!("/groups/{group}/lesson-records"), lesson).expect(201);
}

/// Releases the words read in the half term of today to a closed circle, by year group and class; the release's id.
pub fn released(lead: &Client) -> String {
    let snapshot = text(&lead.post("/report-snapshots", json!({})).expect(201)["id"]);
    let asked = json!({"audience": "closed", "measures": ["words"], "by": ["year_group", "class"]});
    let made = lead.post(&format!("/report-snapshots/{snapshot}/releases"), asked);
    made.expect(201);
    made.header("Location").rsplit('/').next().unwrap().to_owned()
}

/// What would be sent to share a release with a trust, once it was looked at.
pub fn looked_at(lead: &Client, release: &str, trust: &str) -> Value {
    let seen = lead.get(&format!("/report-releases/{release}/for-trust")).expect(200);
    json!({"release_id": release, "trust_id": trust, "digest": seen["digest"]})
}
