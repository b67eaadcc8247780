//! A school whose sequence makes enough words to build checks from.

use plumbline_tests::{Client, Pupils, School, Value, column, json, lesson_ids, text};

/// Correspondences of each lesson; a word without a colon is an exception word. A step has three lessons.
pub const LESSONS: [&str; 15] = [
    "s:s a:æ t:t",
    "p:p i:ɪ n:n",
    "m:m d:d the",
    "g:ɡ o:ɒ c:k",
    "k:k e:e r:r",
    "h:h b:b to",
    "f:f l:l u:ʌ",
    "j:dʒ v:v w:w",
    "sh:ʃ ch:tʃ said",
    "ck:k ng:ŋ ll:l",
    "ee:iː oo:uː",
    "ar:ɑː or:ɔː was",
    "a_e:eɪ i_e:aɪ",
    "ai:eɪ oa:əʊ",
    "ay:eɪ igh:aɪ",
];

/// A school with a sequence of those lessons, of which a group was taught some.
pub struct Building {
    pub school: School,
    pub lead: Client,
    pub version: String,
    pub group: String,
    pub pupils: Pupils,
}

impl Building {
    /// The group was taught the first so many lessons, one a day from 2 November on.
    pub fn taught(lessons: usize) -> Self {
        let school = School::start();
        school.calendar();
        let lead = school.lead();
        let sequence = text(&lead.post("/sequences", json!({"name": "Sounds"})).expect(201)["id"]);
        let path = format!("/sequences/{sequence}");
        let item = |text: &str| match text.split_once(':') {
            Some((g, p)) => json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}}),
            None => json!({"kind": "exception_word", "label": text}),
        };
        let lesson = |(n, line): (usize, &&str)| {
            let items: Vec<Value> = line.split(' ').map(item).collect();
            json!({"title": format!("Lesson {}", n + 1), "items": items})
        };
        let all: Vec<Value> = LESSONS.iter().enumerate().map(lesson).collect();
        let steps: Vec<Value> = all
            .chunks(3)
            .enumerate()
            .map(|(n, lessons)| json!({"title": format!("Step {}", n + 1), "lessons": lessons}))
            .collect();
        let draft = format!("{path}/draft");
        lead.put(&draft, &lead.get(&draft).etag(), json!({"steps": steps})).expect(200);
        let published = lead.post(&format!("{path}/versions"), json!({"effective_on": "2026-09-01"}));
        let version = text(&published.expect(201)["id"]);
        let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
        let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
        let content = lead.get(&format!("{path}/versions/{version}")).expect(200);
        for (n, lesson) in lesson_ids(&content).iter().take(lessons).enumerate() {
            let on = format!("2026-11-{:02}", 2 + n / 5 * 7 + n % 5);
            let record = json!({"on": on, "lesson_id": lesson, "outcome": "delivered"});
            lead.post(&format!("/groups/{group}/lesson-records"), record).expect(201);
        }
        Self { school, lead, version, group, pupils }
    }

    /// What is proposed; `more` says what for.
    pub fn proposed(&self, kind: &str, items: usize, more: Value) -> Value {
        let mut body = json!({"kind": kind, "items": items});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        self.lead.post("/check-proposals", body).expect(200)
    }

    /// An approved set of made-up words.
    pub fn approved(&self, words: &[&str]) -> String {
        let set = self.lead.post("/pseudo-word-sets", json!({"name": "Made up", "words": words}));
        let path = format!("/pseudo-word-sets/{}", text(&set.expect(201)["id"]));
        let approving = self.lead.with("If-Match", &set.etag());
        approving.post(&format!("{path}/approval"), json!({})).expect(200);
        text(&set.json()["id"])
    }
}

/// What a list of items asks for, in order.
pub fn prompts(items: &Value) -> Vec<String> {
    column(items, "prompt")
}
