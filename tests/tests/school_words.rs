//! What a school itself says about words, and that everything which shows words heeds it.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{School, Value, column, json, text};

fn bank(school: &School, group: &str) -> Vec<String> {
    let path = format!("/groups/{group}/word-bank?audience=all&limit=2000");
    column(&school.staff("teacher").get(&path).expect(200)["words"], "word")
}

#[test]
fn a_school_word_is_in_banks_and_texts_until_it_is_taken_out() {
    let (school, group) = School::with_lessons();
    let lead = school.lead();
    assert_eq!(lead.get("/words/demmo").expect(200)["guess"], true);
    let new = json!({"word": "Demmo", "readings": [{"gpcs": ["d:d", "e:e", "mm:m", "o:ɒ"]}]});
    let added = lead.post("/school-words", new.clone());
    let (etag, added) = (added.etag(), added.expect(201));
    assert_eq!(added["readings"][0]["graphemes"], json!(["d", "e", "mm", "o"]));
    let known = lead.get("/words/demmo").expect(200);
    assert_eq!((&known["word"], &known["guess"]), (&json!("Demmo"), &json!(false)));
    // mm comes with m where doubled letters are one idea and one of them is taught; none is, so
    // the word waits.
    let reads = |text: &str| {
        let body = json!({"text": text, "group_id": group});
        lead.post("/texts/analysis", body).expect(200)["words"][0].clone()
    };
    assert_eq!(reads("Demmo")["lacking"], json!(["mm:m"]));
    let policy = lead.get("/phonics-policy");
    let choice = json!({"doubled": "with_single"});
    lead.put("/phonics-policy", &policy.etag(), choice).expect(200);
    assert_eq!(reads("Demmo")["standing"], "decodable");
    assert!(bank(&school, &group).contains(&"Demmo".to_owned()));
    // Another reading, by sound; then out with it.
    let path = format!("/school-words/{}", text(&added["id"]));
    let sound = json!({"readings": [{"sound": "d e m əʊ"}]});
    let changed = lead.put(&path, &etag, sound.clone()).expect(200);
    assert_eq!(changed["readings"][0]["gpcs"], json!(["d:d", "e:e", "mm:m", "o:əʊ"]));
    lead.put(&path, &etag, sound).problem(412, "stale");
    assert_eq!(reads("Demmo")["lacking"], json!(["o:əʊ"]));
    assert!(lead.post("/school-words", new).problem(409, "conflict")[0].starts_with("word: "));
    lead.call("DELETE", &path, None).expect(204);
    assert_eq!(lead.get("/words/demmo").expect(200)["guess"], true);
    assert_eq!(lead.get("/school-words").expect(200)["items"], json!([]));
}

#[test]
fn a_school_word_that_does_not_fit_is_refused_at_its_field() {
    let school = School::start();
    let lead = school.lead();
    let refused = |word: &str, readings: Value| {
        lead.post("/school-words", json!({"word": word, "readings": readings})).problem(422, "invalid")[0]
            .clone()
    };
    assert!(refused("d3mo", json!([{"gpcs": ["d:d"]}])).starts_with("word: "));
    assert!(refused("ice-cream", json!([{"gpcs": ["i:aɪ"]}])).starts_with("word: "));
    assert!(refused("demo", json!([])).starts_with("readings: "));
    let unknown = refused("demo", json!([{"gpcs": ["d:d", "e:e", "m:m", "o:zz"]}]));
    assert!(unknown.starts_with("readings: ") && unknown.contains("o:ɒ"), "{unknown}");
    assert!(refused("demo", json!([{"gpcs": ["d:d", "e:e"]}])).contains("de"));
    assert!(refused("demo", json!([{"sound": "k æ t"}])).contains("demo"));
    assert!(refused("demo", json!([{"letters": "demo"}])).starts_with("readings[0]"));
    assert!(refused("demo", json!([{"gpcs": ["d:d"], "sound": "d"}])).starts_with("readings[0]: "));
}

#[test]
fn a_struck_word_is_shown_nowhere_until_the_lead_takes_the_strike_back() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let before = bank(&school, &group);
    let word = before.first().unwrap().clone();
    let struck =
        teacher.post("/struck-words", json!({"word": format!("({}!", word.to_uppercase())})).expect(201);
    assert!(
        teacher.post("/struck-words", json!({"word": word})).problem(409, "conflict")[0].starts_with("word")
    );
    assert!(
        teacher.post("/struck-words", json!({"word": "4"})).problem(422, "invalid")[0].starts_with("word: ")
    );
    assert_eq!(bank(&school, &group), before[1..]);
    let lesson = teacher.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
    let words = &lesson["lesson"]["words"];
    let shown = [column(&words["read"], "word"), column(&words["spell"], "word")].concat();
    assert!(!shown.is_empty() && !shown.contains(&word));
    // A text that holds it is read all the same: the strike is about what is offered.
    let seen = teacher.post("/texts/analysis", json!({"text": word, "group_id": group})).expect(200);
    assert_eq!(seen["decodable"], 1);
    let path = format!("/struck-words/{}", text(&struck["id"]));
    teacher.call("DELETE", &path, None).problem(403, "forbidden");
    school.lead().call("DELETE", &path, None).expect(204);
    assert_eq!(bank(&school, &group), before);
}

#[test]
fn the_accent_of_the_school_counts_unless_another_is_asked_for() {
    let school = School::start();
    let lead = school.lead();
    let a = |body: Value| {
        lead.post("/words/segmentations", body).expect(200)["words"][0]["variants"][0]["phonemes"][1].clone()
    };
    assert_eq!(a(json!({"words": ["bath"]})), "ɑː");
    let etag = lead.get("/phonics-policy").etag();
    let north = json!({"accent": {"short_a_in_bath": true}});
    let saved = lead.put("/phonics-policy", &etag, north.clone()).expect(200);
    assert_eq!(
        (&saved["accent"]["short_a_in_bath"], &saved["schwa_tolerance"]),
        (&json!(true), &json!(true))
    );
    lead.put("/phonics-policy", &etag, north).problem(412, "stale");
    assert_eq!(a(json!({"words": ["bath"]})), "æ");
    assert_eq!(a(json!({"words": ["bath"], "accent": {}})), "ɑː");
    // The other school keeps its own.
    let neighbour = school.neighbour();
    let other = neighbour.post("/words/segmentations", json!({"words": ["bath"]})).expect(200);
    assert_eq!(other["words"][0]["variants"][0]["phonemes"][1], "ɑː");
    let unknown = json!({"accent": {"short_o": true}});
    assert!(
        lead.put("/phonics-policy", &lead.get("/phonics-policy").etag(), unknown).problem(422, "invalid")[0]
            .starts_with("accent.short_o")
    );
}

#[test]
fn a_check_of_pseudo_words_is_made_of_a_set_the_lead_approved() {
    let school = School::start();
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    let wrong = json!({"name": "Spring 1", "words": ["bamp", "cat", "Bamp"]});
    let said = teacher.post("/pseudo-word-sets", wrong).problem(422, "invalid");
    assert!(said[0].starts_with("words[1]: ") && said[1] == "words[2]: stands twice", "{said:?}");
    let set = teacher.post("/pseudo-word-sets", json!({"name": "Spring 1", "words": ["Bamp", "frowl"]}));
    let (etag, set) = (set.etag(), set.expect(201));
    assert_eq!(set["approved_by"], Value::Null);
    // ow as in snow and as in cow.
    let sounds: Vec<String> = set["words"][1]["accept"].as_array().unwrap().iter().map(text).collect();
    assert!(["fraʊl", "frəʊl"].iter().all(|sound| sounds.contains(&(*sound).to_owned())), "{sounds:?}");
    let path = format!("/pseudo-word-sets/{}", text(&set["id"]));
    let check =
        json!({"name": "Made-up words", "kind": "pseudo_word_reading", "pseudo_word_set_id": set["id"]});
    let said = lead.post("/checks", check.clone()).problem(422, "invalid");
    assert!(said[0].starts_with("pseudo_word_set_id: is not approved"), "{said:?}");
    let approval = format!("{path}/approval");
    teacher.call("POST", &approval, Some(&json!({}))).problem(428, "precondition_required");
    let with = |etag: &str| lead.with("If-Match", etag);
    let said = with(&etag).post(&approval, json!({"leave_out": ["zot"]})).problem(422, "invalid");
    assert!(said[0].starts_with("leave_out[0]: "), "{said:?}");
    let approved = with(&etag).post(&approval, json!({"leave_out": ["frowl"]})).expect(200);
    assert_eq!(column(&approved["words"], "word"), ["bamp"]);
    assert_eq!(approved["approved_by"], json!(school.staff_id("lead")));
    with(&etag).post(&approval, json!({})).problem(409, "conflict");
    let made = lead.post("/checks", check.clone()).expect(201);
    assert_eq!(
        (&made["items"][0]["prompt"], &made["items"][0]["accept"]),
        (&json!("bamp"), &json!(["bæmp"]))
    );
    let with_items = json!({"name": "X", "kind": "pseudo_word_reading", "pseudo_word_set_id": set["id"],
                            "items": [{"prompt": "bamp"}]});
    assert!(lead.post("/checks", with_items).problem(422, "invalid")[0].starts_with("items: "));
    let without = json!({"name": "X", "kind": "pseudo_word_reading"});
    assert!(lead.post("/checks", without).problem(422, "invalid")[0].starts_with("pseudo_word_set_id: "));
    let real = json!({"name": "X", "kind": "word_reading", "pseudo_word_set_id": set["id"], "items": [{"prompt": "cat"}]});
    assert!(lead.post("/checks", real).problem(422, "invalid")[0].starts_with("pseudo_word_set_id: "));
    // A word struck since stays out of new checks; the check made keeps it.
    teacher.post("/struck-words", json!({"word": "bamp"})).expect(201);
    let said = lead.post("/checks", check).problem(422, "invalid");
    assert!(said[0].contains("struck"), "{said:?}");
    assert!(text(&lead.get(&path).expect(200)["words"][0]["problem"]).contains("struck"));
    assert_eq!(lead.get("/pseudo-word-sets").expect(200)["items"][0]["count"], 1);
    lead.call("DELETE", &path, None).expect(204);
    assert_eq!(lead.get("/checks").expect(200)["items"][0]["items"][0]["prompt"], "bamp");
}

#[test]
fn what_checks_showed_to_be_often_wrong_comes_back_first() {
    let (school, group) = School::with_lessons();
    let lead = school.lead();
    let pupils = lead.get(&format!("/groups/{group}")).expect(200)["members"].clone();
    let (check, items) = school.gpc_check("Sounds", &[("m", "m"), ("d", "d")]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-12-04", &[&check]);
    let review = || {
        let lesson = lead.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
        lesson["lesson"]["words"]["review"].clone()
    };
    let why = |review: &Value, gpc: &str| {
        let all = review.as_array().unwrap();
        all.iter().find(|one| one["gpc"] == gpc).map(|one| text(&one["why"]))
    };
    assert_ne!(why(&review(), "d:d").as_deref(), Some("often_wrong"));
    // d wrong from both; m right from one, wrong from the other and put right afterwards.
    for (n, pupil) in pupils.as_array().unwrap().iter().enumerate() {
        let path = format!("/check-rounds/{round}/pupils/{}/responses", text(&pupil["id"]));
        let m = if n == 0 { "right" } else { "wrong" };
        let body = json!({"check_id": check, "on": "2026-11-24", "answers": [
            {"item_id": items[0], "outcome": m}, {"item_id": items[1], "outcome": "wrong"}]});
        lead.post(&path, body).expect(201);
    }
    let seen = review();
    assert_eq!(why(&seen, "d:d").as_deref(), Some("often_wrong"), "{seen}");
    // Half of the answers were wrong: that is often.
    assert_eq!(why(&seen, "m:m").as_deref(), Some("often_wrong"), "{seen}");
    let second = format!("/check-rounds/{round}/pupils/{}/responses", text(&pupils[1]["id"]));
    let recorded = lead.get(&second).expect(200)["items"].clone();
    let of_m = recorded.as_array().unwrap().iter().find(|r| r["item_id"] == json!(items[0])).unwrap().clone();
    let body = json!({"response_id": of_m["id"], "outcome": "right"});
    lead.post(&second.replace("responses", "corrections"), body).expect(201);
    assert_ne!(why(&review(), "m:m").as_deref(), Some("often_wrong"));
}
