//! How pupils answer checks: usual speech, usual mode, what is not accessible.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, Pupils, School, TODAY, Value, column, json, text};

/// Zoe and Max in Alder, Ida in Rowan; a check of sounds and one of words in a round.
struct Autumn {
    school: School,
    pupils: Pupils,
    sounds: (String, Vec<String>),
    words: (String, Vec<String>),
    round: String,
}

fn start() -> Autumn {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
    school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let sounds = school.gpc_check("Sounds", &[("th", "θ"), ("m", "m")]);
    let words = school.word_check("Words", &["thin", "hot"]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&sounds.0, &words.0]);
    Autumn { school, pupils, sounds, words, round }
}

impl Autumn {
    fn path(&self, pupil: &str) -> String {
        format!("/pupils/{}", self.pupils[pupil])
    }

    fn say(&self, who: &Client, pupil: &str, what: &str, body: Value) -> Answer {
        let path = format!("{}/answering", self.path(pupil));
        let etag = self.school.lead().get(&path).etag();
        who.put(&format!("{path}/{what}"), &etag, body)
    }

    fn wrong(&self, who: &Client, pupil: &str, check: &str, item: &str, heard: &str) -> Value {
        let answer = json!({"item_id": item, "outcome": "wrong", "heard": heard});
        let body = json!({"check_id": check, "on": TODAY, "answers": [answer]});
        let path = format!("/check-rounds/{}/pupils/{}/responses", self.round, self.pupils[pupil]);
        who.post(&path, body).expect(201)["items"][0].clone()
    }

    fn not_accessible(&self, pupil: &str, body: Value) -> Answer {
        self.school.lead().post(&format!("{}/not-accessible", self.path(pupil)), body)
    }

    fn progress(&self, who: &Client, pupil: &str) -> Value {
        let listed = who.get(&format!("/check-rounds/{}/progress", self.round)).expect(200)["items"].clone();
        listed.as_array().unwrap().iter().find(|one| one["pupil_id"] == self.pupils[pupil]).unwrap().clone()
    }
}

#[test]
fn a_note_is_pairs_of_sounds_dated_and_kept() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let path = format!("{}/answering", a.path("Zoe"));
    let fresh = teacher.get(&path).expect(200);
    assert_eq!((&fresh["speech"], &fresh["mode"]), (&json!([]), &json!("spoken")));
    let pairs = json!([{"sound": "θ", "said": "f"}, {"sound": "h", "said": null}]);
    let said = a.say(&teacher, "Zoe", "speech", json!({"pairs": pairs, "from": "2026-11-02"})).expect(200);
    // In the order of the engine's sounds.
    assert_eq!(said["speech"], json!([{"sound": "θ", "said": "f"}, {"sound": "h", "said": null}]));
    assert_eq!(said["speech_days"][0]["from"], "2026-11-02");
    // Ended: no longer so today, and still on record with who said it.
    let ended = a.say(&teacher, "Zoe", "speech", json!({"pairs": []})).expect(200);
    assert_eq!(ended["speech"], json!([]));
    assert_eq!(
        (&ended["speech_days"][0]["until"], &ended["words"].as_array().unwrap().len()),
        (&json!("2026-11-24"), &2)
    );
    assert_eq!(ended["words"][0]["value"], "θ>f h>-");
    assert_eq!(ended["words"][0]["entered_by"], a.school.staff_id("teacher"));
    // An edit of what somebody else changed meanwhile is refused.
    teacher.put(&format!("{path}/speech"), "\"v1\"", json!({"pairs": []})).problem(412, "stale");
    // Reading it is in the audit log.
    let log = a.school.staff("administrator").get("/audit-entries").expect(200);
    assert!(column(&log["items"], "operation").contains(&"pupil.answering".to_owned()));
}

#[test]
fn nothing_but_sounds_is_taken_and_the_refusal_says_why() {
    let a = start();
    let lead = a.school.lead();
    let refused =
        |pairs: Value| a.say(&lead, "Zoe", "speech", json!({"pairs": pairs})).problem(422, "invalid");
    for text in ["lisp", "speech and language therapy", "dyslexia?", "", "ʃ s"] {
        let said = refused(json!([{"sound": text, "said": "f"}]));
        assert!(said[0].starts_with("pairs[0].sound: must be one sound of English"), "{said:?}");
        assert!(said[0].contains("nothing about health or a difficulty"), "{said:?}");
        assert!(text.len() < 4 || !said[0].contains(text), "{said:?} repeats what was typed");
    }
    assert!(refused(json!([{"sound": "θ", "said": "θ"}]))[0].starts_with("pairs[0]: "));
    let many: Vec<Value> =
        "p b t d k g f v s z m n l".split(' ').map(|s| json!({"sound": s, "said": "h"})).collect();
    assert!(refused(json!(many))[0].starts_with("pairs: give at most 12 pairs"));
    let extra = a.say(&lead, "Zoe", "speech", json!({"pairs": [], "diagnosis": "x"}));
    assert!(extra.problem(422, "invalid")[0].starts_with("diagnosis: "));
    let extra = a.not_accessible("Zoe", json!({"reason": "agreed", "review_on": "2026-12-18", "note": "x"}));
    assert!(extra.problem(422, "invalid")[0].starts_with("note: "));
    assert_eq!(lead.get(&format!("{}/answering", a.path("Zoe"))).expect(200)["words"], json!([]));
}

#[test]
fn it_is_seen_by_that_pupils_adults_of_today_and_the_lead() {
    let a = start();
    let path = format!("{}/answering", a.path("Ida"));
    // Ida is in no group and no class of the teacher's.
    a.school.staff("teacher").get(&path).problem(404, "not_found");
    a.school.staff("head").get(&path).problem(404, "not_found");
    a.school.staff("office").get(&path).problem(404, "not_found");
    a.school.lead().get(&path).expect(200);
    let zoe = format!("{}/answering", a.path("Zoe"));
    a.school.staff("teacher").get(&zoe).expect(200);
    // The pupil's page and list say nothing of it.
    a.say(&a.school.lead(), "Zoe", "speech", json!({"pairs": [{"sound": "θ", "said": "f"}]})).expect(200);
    for path in [a.path("Zoe"), "/pupils".into()] {
        assert!(!a.school.lead().get(&path).text.contains('θ'));
    }
}

#[test]
fn a_marker_is_told_how_what_was_heard_stands_to_what_is_expected() {
    let a = start();
    let teacher = a.school.staff("teacher");
    a.say(&teacher, "Zoe", "speech", json!({"pairs": [{"sound": "θ", "said": "f"}]})).expect(200);
    let (sounds, words) = (&a.sounds, &a.words);
    let is = |pupil: &str, (check, items): &(String, Vec<String>), n: usize, heard: &str| {
        a.wrong(&teacher, pupil, check, &items[n], heard)["heard_is"].clone()
    };
    assert_eq!(is("Zoe", sounds, 0, "f"), "usual_speech");
    assert_eq!(is("Max", sounds, 0, "f"), "other");
    assert_eq!(is("Zoe", sounds, 1, "m"), "expected");
    assert_eq!(is("Zoe", words, 0, "f.ɪ.n"), "usual_speech");
    assert_eq!(is("Zoe", words, 1, "h.ɒ.p"), "other");
    // It was taken as sent: the marker decides, by a correction.
    let path = format!("/check-rounds/{}/pupils/{}/responses", a.round, a.pupils["Zoe"]);
    let listed = teacher.get(&path).expect(200)["items"].clone();
    assert_eq!(column(&listed, "outcome"), ["wrong"; 4]);
    assert_eq!(column(&listed, "heard_is"), ["usual_speech", "expected", "usual_speech", "other"]);
    // The head reads answers, and is told nothing of the note.
    let head = a.school.staff("head").get(&path).expect(200)["items"].clone();
    assert_eq!(column(&head, "heard_is"), ["other", "expected", "other", "other"]);
}

#[test]
fn a_pupil_answers_as_usual_unless_told_and_choosing_is_counted_apart() {
    let a = start();
    let lead = a.school.lead();
    a.say(&lead, "Zoe", "mode", json!({"mode": "choosing", "from": TODAY})).expect(200);
    let of = (a.round.as_str(), a.pupils["Zoe"].as_str(), a.words.0.as_str());
    let answered = |on: &str, item: usize| {
        a.school.answer(&lead, of, on, &[(&a.words.1[item], "right")]).expect(201)["items"][0]["mode"].clone()
    };
    // By the day of the answer, not of its recording.
    assert_eq!((answered("2026-11-24", 0), answered(TODAY, 1)), (json!("spoken"), json!("choosing")));
    let seen = a.progress(&lead, "Zoe");
    assert_eq!(seen["checks"], json!([{"check_id": a.words.0, "asked": 2, "chosen": 1}]));
    // Of GPCs asked about by the class, a chosen answer is none that was read aloud.
    let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
    let found = lead.get(&format!("/classes/{class}/confusions")).expect(200);
    assert_eq!((&found["answers"], &found["chosen"], &found["pupils"]), (&json!(1), &json!(1), &json!(1)));
}

#[test]
fn what_is_not_accessible_leaves_the_count_in_plain_sight() {
    let a = start();
    let (lead, teacher) = (a.school.lead(), a.school.staff("teacher"));
    assert_eq!(a.progress(&lead, "Zoe")["not_accessible"], json!([]));
    let refused = |body: Value| a.not_accessible("Zoe", body).problem(422, "invalid");
    assert!(
        refused(json!({"reason": "autism", "review_on": "2026-12-18"}))[0]
            .starts_with("reason: must be one of ")
    );
    assert!(refused(json!({"reason": "agreed"}))[0].starts_with("review_on: "));
    assert!(
        refused(json!({"reason": "agreed", "review_on": TODAY}))[0]
            .starts_with("review_on: must lie after today")
    );
    assert!(
        refused(json!({"reason": "agreed", "review_on": "2027-03-26"}))[0]
            .starts_with("review_on: must be 2027-03-25 at the latest")
    );
    let words = json!({"kind": "word_reading", "reason": "shown_out_of_reach", "review_on": "2026-12-01"});
    let made = a.not_accessible("Zoe", words).expect(201);
    assert_eq!((&made["said_by"], &made["holds"]), (&json!(a.school.staff_id("lead")), &json!(true)));
    assert_eq!(a.progress(&teacher, "Zoe")["not_accessible"], json!([a.words.0]));
    assert_eq!(a.progress(&teacher, "Max")["not_accessible"], json!([]));
    // A way Max does not use takes Max out of nothing, until it is the usual one.
    a.not_accessible("Max", json!({"mode": "sign", "reason": "aid_not_ready", "review_on": "2027-01-15"}))
        .expect(201);
    assert_eq!(a.progress(&lead, "Max")["not_accessible"], json!([]));
    a.say(&lead, "Max", "mode", json!({"mode": "sign"})).expect(200);
    assert_eq!(a.progress(&lead, "Max")["not_accessible"].as_array().unwrap().len(), 2);
    // Due within a fortnight for the lead, who may look further ahead.
    let due = lead.get("/not-accessible-reviews").expect(200)["items"].clone();
    assert_eq!(column(&due, "name"), ["Zoe Bell"]);
    assert_eq!((&due[0]["entry"]["id"], &due[0]["overdue"]), (&made["id"], &json!(false)));
    let later = lead.get("/not-accessible-reviews?until=2027-01-31").expect(200)["items"].clone();
    assert_eq!(column(&later, "name"), ["Zoe Bell", "Max Bell"]);
    // Ended, and still on record.
    let end = format!("{}/not-accessible/{}/end", a.path("Zoe"), text(&made["id"]));
    let ended = lead.call("POST", &end, None).expect(200);
    assert_eq!((&ended["holds"], &ended["ended_on"]), (&json!(false), &json!(TODAY)));
    lead.call("POST", &end, None).problem(409, "conflict");
    assert_eq!(a.progress(&lead, "Zoe")["not_accessible"], json!([]));
    let seen = lead.get(&format!("{}/answering", a.path("Zoe"))).expect(200);
    assert_eq!(column(&seen["not_accessible"], "id"), [text(&made["id"])]);
}

#[test]
fn a_review_that_nobody_made_lets_the_pupil_be_asked_again() {
    let mut a = start();
    a.not_accessible("Zoe", json!({"reason": "aid_not_ready", "review_on": "2026-11-26"})).expect(201);
    a.school.server.stop_and_restart("2026-11-27");
    let signed_in = a.school.sign_in(&School::email("lead"));
    let lead = a.school.nobody().with_token(&text(&signed_in["access_token"]));
    assert_eq!(a.progress(&lead, "Zoe")["not_accessible"], json!([]));
    let due = lead.get("/not-accessible-reviews").expect(200)["items"].clone();
    assert_eq!((&due[0]["name"], &due[0]["overdue"]), (&json!("Zoe Bell"), &json!(true)));
}

#[test]
fn two_records_of_one_child_keep_what_was_said_of_both() {
    let a = start();
    let lead = a.school.lead();
    let again = json!({"given_name": "Zoé", "family_name": "Bell", "date_of_birth": "2020-05-31", "pupil_ref": "R07"});
    let other = text(&lead.post("/pupils", again).expect(201)["id"]);
    let path = format!("/pupils/{other}/answering");
    let etag = lead.get(&path).etag();
    let pairs = json!([{"sound": "θ", "said": "f"}]);
    lead.put(&format!("{path}/speech"), &etag, json!({"pairs": pairs})).expect(200);
    let new = json!({"reason": "aid_not_ready", "review_on": "2026-12-18"});
    lead.post(&format!("/pupils/{other}/not-accessible"), new).expect(201);
    let before = lead.get(&path).expect(200);
    a.say(&lead, "Zoe", "mode", json!({"mode": "sign"})).expect(200);
    let same = json!({"verdict": "same", "pupil_id": a.pupils["Zoe"], "other_id": other});
    let decision = lead.post("/pupil-decisions", same).expect(201);
    let whole = lead.get(&format!("{}/answering", a.path("Zoe"))).expect(200);
    assert_eq!((&whole["speech"], &whole["mode"]), (&pairs, &json!("sign")));
    assert_eq!(whole["not_accessible"].as_array().unwrap().len(), 1);
    lead.get(&path).problem(404, "not_found");
    let at = format!("/pupil-decisions/{}", text(&decision["id"]));
    lead.delete(&at, &text(&decision["etag"])).expect(204);
    let apart = lead.get(&format!("{}/answering", a.path("Zoe"))).expect(200);
    assert_eq!((&apart["speech"], &apart["mode"]), (&json!([]), &json!("sign")));
    assert_eq!(lead.get(&path).expect(200), before);
}

#[test]
fn an_import_that_added_a_pupil_is_not_undone_under_what_was_said_of_it() {
    let a = start();
    let lead = a.school.lead();
    let preview = lead.post_csv("/roster-imports", b"given_name,family_name\nKit,Bell\n").expect(201);
    let import = format!("/roster-imports/{}", text(&preview["id"]));
    lead.post(&format!("{import}/confirm"), json!({"from": "2026-09-01"})).expect(200);
    let kit = text(&lead.get("/pupils?find=Kit").expect(200)["items"][0]["id"]);
    let path = format!("/pupils/{kit}/answering");
    let etag = lead.get(&path).etag();
    lead.put(&format!("{path}/mode"), &etag, json!({"mode": "sign"})).expect(200);
    lead.call("POST", &format!("{import}/undo"), None).problem(409, "conflict");
    lead.get(&path).expect(200);
}
