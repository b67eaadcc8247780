//! Which grapheme was read as what, from the sounds recorded as heard.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Pupils, School, TODAY, Value, json, text};

struct Read {
    school: School,
    pupils: Pupils,
    group: String,
}

fn start() -> Read {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    Read { school, pupils, group }
}

impl Read {
    /// The lead records answers, each item, outcome and what was heard.
    fn answer(
        &self,
        pupil: &str,
        (round, check): (&str, &str),
        on: &str,
        answers: &[(&str, &str, &str)],
    ) -> Value {
        let answers: Vec<Value> = answers
            .iter()
            .map(|(item, outcome, heard)| {
                let heard = Some(*heard).filter(|heard| !heard.is_empty());
                json!({"item_id": item, "outcome": outcome, "heard": heard})
            })
            .collect();
        let body = json!({"check_id": check, "on": on, "answers": answers});
        let path = format!("/check-rounds/{round}/pupils/{}/responses", self.pupils[pupil]);
        self.school.lead().post(&path, body).expect(201)
    }

    fn of_group(&self, query: &str) -> Value {
        self.school.staff("teacher").get(&format!("/groups/{}/confusions{query}", self.group)).expect(200)
    }
}

#[test]
fn graphemes_are_counted_by_what_they_were_read_as() {
    let a = start();
    let words = a.school.word_check("Words", &["ship", "fish", "cake"]);
    let sounds = a.school.gpc_check("Sounds", &[("igh", "aɪ")]);
    let round = a.school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&words.0, &sounds.0]);
    let (w, i) = ((round.as_str(), words.0.as_str()), &words.1);
    a.answer(
        "Zoe",
        w,
        "2026-11-24",
        &[(&i[0], "wrong", "sɪp"), (&i[1], "right", ""), (&i[2], "wrong", "kæk")],
    );
    a.answer("Max", w, TODAY, &[(&i[0], "wrong", "s.ɪ.p"), (&i[1], "wrong", ""), (&i[2], "right", "")]);
    a.answer("Ida", w, TODAY, &[(&i[0], "wrong", "t.ɪ.p")]);
    a.answer("Zoe", (&round, &sounds.0), TODAY, &[(&sounds.1[0], "wrong", "ɪ")]);
    let found = a.of_group("");
    assert_eq!(
        [&found["answers"], &found["pupils"], &found["unheard"], &found["withheld"]],
        [&json!(7), &json!(2), &json!(1), &json!(0)]
    );
    let line = |grapheme: &str, found: &Value| {
        let mut lines = found["graphemes"].as_array().unwrap().iter();
        lines.find(|line| line["grapheme"] == grapheme).cloned().unwrap_or_default()
    };
    // sh was asked in ship and fish of two pupils; Ida is in another group.
    assert_eq!(
        line("sh", &found),
        json!({"grapheme": "sh", "sounds": "ʃ", "asked": 4, "pupils": 2, "chosen": 0,
               "read_as": [{"heard": "s", "answers": 2, "pupils": 2}]})
    );
    assert_eq!(line("a_e", &found)["read_as"], json!([{"heard": "æ", "answers": 1, "pupils": 1}]));
    assert_eq!(line("igh", &found)["read_as"], json!([{"heard": "ɪ", "answers": 1, "pupils": 1}]));
    assert_eq!(found["graphemes"].as_array().unwrap().len(), 3);
    assert_eq!(found["graphemes"][0]["grapheme"], "sh", "the most often misread first");
    // Of some days, and of one pupil.
    assert_eq!(line("sh", &a.of_group("?until=2026-11-24"))["read_as"][0]["answers"], 1);
    assert_eq!(line("sh", &a.of_group("?since=2026-11-25"))["pupils"], 1);
    let ida = format!("/pupils/{}/confusions", a.pupils["Ida"]);
    let of_ida = a.school.lead().get(&ida).expect(200);
    assert_eq!(line("sh", &of_ida)["read_as"], json!([{"heard": "t", "answers": 1, "pupils": 1}]));
    a.school.staff("teacher").get(&ida).problem(404, "not_found");
    // A correction takes the place of what it corrects.
    let listed = a.school.lead().get(&format!("/check-rounds/{round}/pupils/{}/responses", a.pupils["Max"]));
    let correction = json!({"response_id": listed.expect(200)["items"][0]["id"], "outcome": "right"});
    let path = format!("/check-rounds/{round}/pupils/{}/corrections", a.pupils["Max"]);
    a.school.lead().post(&path, correction).expect(201);
    assert_eq!(line("sh", &a.of_group(""))["read_as"][0]["answers"], 1);
}

#[test]
fn usual_speech_is_no_confusion() {
    let a = start();
    let words = a.school.word_check("Words", &["thin"]);
    let round = a.school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&words.0]);
    let lead = a.school.lead();
    let path = format!("/pupils/{}/answering", a.pupils["Zoe"]);
    let etag = lead.get(&path).etag();
    lead.put(&format!("{path}/speech"), &etag, json!({"pairs": [{"sound": "θ", "said": "f"}]})).expect(200);
    for pupil in ["Zoe", "Max"] {
        a.answer(pupil, (&round, &words.0), TODAY, &[(&words.1[0], "wrong", "f.ɪ.n")]);
    }
    let found = a.of_group("");
    assert_eq!(found["acceptable"], 1);
    assert_eq!(found["graphemes"][0]["grapheme"], "th");
    assert_eq!(found["graphemes"][0]["read_as"], json!([{"heard": "f", "answers": 1, "pupils": 1}]));
}

#[test]
fn every_plausible_reading_of_a_pseudo_word_is_accepted_and_a_marker_is_told() {
    let a = start();
    let lead = a.school.lead();
    let set = lead.post("/pseudo-word-sets", json!({"name": "S", "words": ["frowl"]}));
    let path = format!("/pseudo-word-sets/{}/approval", text(&set.expect(201)["id"]));
    lead.with("If-Match", &set.etag()).post(&path, json!({})).expect(200);
    let check = json!({"name": "P", "kind": "pseudo_word_reading", "pseudo_word_set_id": set.json()["id"]});
    let check = lead.post("/checks", check).expect(201);
    let item = text(&check["items"][0]["id"]);
    let accept = check["items"][0]["accept"].as_array().unwrap().clone();
    assert!(accept.len() > 1, "ow has two sounds: {accept:?}");
    let round = a.school.round("Autumn 2", "2026-11-16", "2026-11-27", &[&text(&check["id"])]);
    let at = (round.as_str(), check["id"].as_str().unwrap());
    // Either reading, marked wrong, is taken as sent and shown for what it is.
    let zoe = a.answer("Zoe", at, TODAY, &[(&item, "wrong", &text(&accept[0]))]);
    assert_eq!(
        (&zoe["items"][0]["outcome"], &zoe["items"][0]["heard_is"]),
        (&json!("wrong"), &json!("expected"))
    );
    let max = a.answer("Max", at, TODAY, &[(&item, "wrong", &text(&accept[1]))]);
    assert_eq!(max["items"][0]["heard_is"], "expected");
    let found = a.of_group("");
    assert_eq!((&found["acceptable"], &found["graphemes"]), (&json!(2), &json!([])));
    // Another one is an error of the grapheme it was.
    let ida = a.answer("Ida", at, TODAY, &[(&item, "wrong", "f.l.aʊ.l")]);
    assert_eq!(ida["items"][0]["heard_is"], "other");
    let of_ida = lead.get(&format!("/pupils/{}/confusions", a.pupils["Ida"])).expect(200);
    assert_eq!(of_ida["graphemes"][0]["grapheme"], "r");
    assert_eq!(of_ida["graphemes"][0]["read_as"], json!([{"heard": "l", "answers": 1, "pupils": 1}]));
}
