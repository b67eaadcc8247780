//! What a school itself says about words, and that everything which shows words heeds it.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{Client, School, Value, column, json, lesson_ids, text};

fn bank(school: &School, group: &str) -> Vec<String> {
    let path = format!("/groups/{group}/word-bank?audience=all&limit=2000");
    column(&school.staff("teacher").get(&path).expect(200)["words"], "word")
}

#[test]
fn a_word_taken_out_is_gone_from_remembered_answers_and_a_late_repeat_does_not_bring_it_back() {
    let school = School::start();
    let lead = school.lead().with("Idempotency-Key", "demmo");
    let new = json!({"word": "Demmo", "readings": [{"gpcs": ["d:d", "e:e", "mm:m", "o:ɒ"]}]});
    let added = lead.post("/school-words", new.clone());
    let (etag, id) = (added.etag(), text(&added.expect(201)["id"]));
    assert_eq!(lead.post("/school-words", new.clone()).expect(201)["word"], "Demmo");
    school.lead().delete(&format!("/school-words/{id}"), &etag).expect(204);
    let repeated = lead.post("/school-words", new);
    assert_eq!((repeated.status, repeated.text.as_str()), (201, ""));
    assert_eq!(repeated.header("Location"), format!("/api/v1/school-words/{id}"));
    assert_eq!(school.lead().get("/school-words").expect(200)["items"], json!([]));
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
    assert_eq!((&known["word"], &known["shown"]), (&json!("demmo"), &json!("Demmo")));
    assert_eq!(known["guess"], false);
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
    lead.call("DELETE", &path, None).problem(428, "precondition_required");
    lead.delete(&path, &etag).problem(412, "stale");
    lead.delete(&path, &text(&changed["etag"])).expect(204);
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
    // Nothing that a lesson or a bank is made of holds it, in whatever list; nor an exception word
    // the sequence taught.
    teacher.post("/struck-words", json!({"word": "the"})).expect(201);
    let lesson = teacher.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
    let whole = teacher.get(&format!("/groups/{group}/word-bank?audience=all&limit=2000")).expect(200);
    let mut said = strings(&lesson["lesson"]["words"]);
    said.extend(strings(&whole));
    assert!(said.contains("m:m") && said.contains(&before[1]), "{said:?}");
    assert!(!said.contains(&word) && !said.contains("the"), "{said:?}");
    // A text that holds it is read all the same: the strike is about what is offered.
    let seen = teacher.post("/texts/analysis", json!({"text": word, "group_id": group})).expect(200);
    assert_eq!(seen["decodable"], 1);
    let path = format!("/struck-words/{}", text(&struck["id"]));
    teacher.call("DELETE", &path, None).problem(403, "forbidden");
    school.lead().call("DELETE", &path, None).expect(204);
    assert_eq!(bank(&school, &group), before);
}

/// What a sequence teaches stays in its lesson; it is only offered nowhere.
#[test]
fn a_struck_exception_word_stays_in_the_lesson_that_teaches_it() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let teacher = school.staff("teacher");
    let first = json!({"on": "2026-11-23", "lesson_id": lesson_ids(&content)[0], "outcome": "delivered"});
    teacher.post(&format!("/groups/{group}/lesson-records"), first).expect(201);
    let next =
        || teacher.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200)["lesson"].clone();
    assert_eq!(next()["words"]["exception_words"], json!(["the"]));
    teacher.post("/struck-words", json!({"word": "the"})).expect(201);
    let after = next();
    assert_eq!(column(&after["items"], "label"), ["d /d/", "the"]);
    assert!(!strings(&after["words"]).contains("the"), "{after}");
}

/// Every word of every text in a value, in lower case.
fn strings(value: &Value) -> BTreeSet<String> {
    match value {
        Value::String(text) => {
            text.to_lowercase().split([' ', '.', '?', '!', ',']).map(str::to_owned).collect()
        }
        Value::Array(all) => all.iter().flat_map(strings).collect(),
        Value::Object(all) => all.values().flat_map(strings).collect(),
        _ => BTreeSet::new(),
    }
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
    // Who may not approve is told so, and not what to send.
    teacher.call("POST", &approval, Some(&json!({}))).problem(403, "forbidden");
    lead.call("POST", &approval, Some(&json!({}))).problem(428, "precondition_required");
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
                            "items": [{"prompt": "frowl"}]});
    assert!(lead.post("/checks", with_items).problem(422, "invalid")[0].starts_with("items[0].prompt: "));
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
    lead.call("DELETE", &path, None).problem(428, "precondition_required");
    lead.delete(&path, "\"v0\"").problem(412, "stale");
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    assert_eq!(lead.get("/checks").expect(200)["items"][0]["items"][0]["prompt"], "bamp");
}

/// A group of five, the fewest pupils the rules show figures of, taught m, o, d, "the" and e, who
/// all had d wrong on Tuesday; m was wrong from three of them. Gives the round, the check's items.
fn five(names: &[(&str, &str)]) -> (School, String, String, Vec<Value>) {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(names);
    let ids: Vec<&String> = names.iter().map(|(name, _)| &pupils[*name]).collect();
    let group = school.group("Alder", &sequence, &ids);
    for (n, on) in ["2026-11-19", "2026-11-20", "2026-11-23"].iter().enumerate() {
        let body = json!({"on": on, "lesson_id": lesson_ids(&content)[n], "outcome": "delivered"});
        school.staff("teacher").post(&format!("/groups/{group}/lesson-records"), body).expect(201);
    }
    let (check, items) = school.gpc_check("Sounds", &[("m", "m"), ("d", "d")]);
    let round = school.round("Autumn 2", "2026-11-16", "2026-12-04", &[&check]);
    for (n, id) in ids.iter().enumerate() {
        let m = if n < 2 { "right" } else { "wrong" };
        let body = json!({"check_id": check, "on": "2026-11-24", "answers": [
            {"item_id": items[0], "outcome": m}, {"item_id": items[1], "outcome": "wrong"}]});
        let path = format!("/check-rounds/{round}/pupils/{id}/responses");
        school.lead().post(&path, body).expect(201);
    }
    let members = school.lead().get(&format!("/groups/{group}")).expect(200)["members"].clone();
    let mut more: Vec<Value> = vec![json!(round), json!(check), json!(items)];
    more.push(members);
    (school, group, round, more)
}

const FIVE: [(&str, &str); 5] =
    [("Ann", "Alder"), ("Ben", "Alder"), ("Cem", "Alder"), ("Dot", "Alder"), ("Eli", "Alder")];

/// Why a group goes back to a correspondence, as someone reads it.
fn why(who: &Client, group: &str, on: &str, gpc: &str) -> String {
    let lesson = who.get(&format!("/groups/{group}/next-lesson?on={on}")).expect(200);
    let review = lesson["lesson"]["words"]["review"].as_array().unwrap().clone();
    text(&review.iter().find(|one| one["gpc"] == gpc).unwrap()["why"])
}

#[test]
fn what_checks_showed_to_be_often_wrong_comes_back_first() {
    let (school, group, round, more) = five(&FIVE);
    let lead = school.lead();
    let told = |gpc: &str| why(&lead, &group, "2026-11-25", gpc);
    assert_eq!((told("d:d"), told("m:m")), ("often_wrong".into(), "often_wrong".into()));
    // Three of five is often; two of five, after one is put right, is not.
    let last = text(&more[3][4]["id"]);
    let path = format!("/check-rounds/{round}/pupils/{last}/responses");
    let recorded = lead.get(&path).expect(200)["items"].clone();
    let of_m = recorded.as_array().unwrap().iter().find(|r| r["item_id"] == more[2][0]).unwrap();
    let body = json!({"response_id": of_m["id"], "outcome": "right"});
    lead.post(&path.replace("responses", "corrections"), body).expect(201);
    assert_eq!((told("d:d"), told("m:m")), ("often_wrong".into(), "due".into()));
}

/// Cover teaches the same lesson and is not told what checks showed.
#[test]
fn who_may_not_read_checks_is_not_told_what_they_showed() {
    let (school, group, ..) = five(&FIVE);
    let lead = school.lead();
    let cover = school.staff("cover");
    let etag = lead.get(&format!("/groups/{group}")).etag();
    let adults = json!({"adults": [
        {"staff_id": school.staff_id("teacher"), "from": "2026-09-01"},
        {"staff_id": school.staff_id("cover"), "from": "2026-11-23", "until": "2026-11-30"}]});
    lead.put(&format!("/groups/{group}/adults"), &etag, adults).expect(200);
    let lesson = |who: &Client| who.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
    let (told, not_told) = (lesson(&school.staff("teacher")), lesson(&cover));
    assert!(told.to_string().contains("often_wrong") && !not_told.to_string().contains("often_wrong"));
    let gpcs = |lesson: &Value| column(&lesson["lesson"]["words"]["review"], "gpc");
    assert_eq!(gpcs(&told), gpcs(&not_told));
    assert_eq!(told["lesson"]["words"]["read"], not_told["lesson"]["words"]["read"]);
    assert_eq!(why(&cover, &group, "2026-11-25", "d:d"), "due");
}

/// In a group of one, "often wrong" would be that pupil's answer; four are still too few.
#[test]
fn a_group_too_small_never_shows_what_checks_showed() {
    for size in [1, 4] {
        let (school, group, ..) = five(&FIVE[..size]);
        let lesson = school.lead().get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
        assert!(!lesson.to_string().contains("often_wrong"), "{lesson}");
        assert_eq!(why(&school.lead(), &group, "2026-11-25", "d:d"), "due");
    }
}

/// Answers of Tuesday weigh on Wednesday and not on Tuesday.
#[test]
fn a_lesson_stays_the_same_while_its_day_is_checked() {
    let (school, group, _, more) = five(&FIVE);
    let lead = school.lead();
    let round = school.round("Again", "2026-11-16", "2026-12-04", &[more[1].as_str().unwrap()]);
    assert_ne!(why(&lead, &group, "2026-11-24", "d:d"), "often_wrong");
    let today = || lead.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
    let before = today();
    for member in more[3].as_array().unwrap() {
        let path = format!("/check-rounds/{round}/pupils/{}/responses", text(&member["id"]));
        let answers: Vec<Value> = more[2]
            .as_array()
            .unwrap()
            .iter()
            .map(|item| json!({"item_id": item, "outcome": "right"}))
            .collect();
        lead.post(&path, json!({"check_id": more[1], "on": "2026-11-25", "answers": answers})).expect(201);
    }
    assert_eq!(today(), before);
    assert_eq!(why(&lead, &group, "2026-11-26", "m:m"), "due", "seven of ten were right by then");
}
