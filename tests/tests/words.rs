//! Words: segmentation, what a group can read, texts, pseudo-words, and the lesson's words.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{School, Value, column, json, lesson_ids, text};

fn gpcs(reading: &Value) -> BTreeSet<String> {
    reading["gpcs"].as_array().unwrap().iter().map(text).collect()
}

fn set(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|one| (*one).to_owned()).collect()
}

#[test]
fn words_come_apart_into_graphemes_and_phonemes() {
    let school = School::start();
    let lead = school.lead();
    let body = json!({"words": ["Cake", "night", "blorf", "12", "bath"]});
    let words = lead.post("/words/segmentations", body).expect(200)["words"].clone();
    assert_eq!((&words[0]["word"], &words[0]["shown"]), (&json!("Cake"), &json!("cake")));
    assert_eq!(words[0]["variants"][0]["graphemes"], json!(["c", "a_e", "k"]));
    assert_eq!(words[0]["variants"][0]["phonemes"], json!(["k", "eɪ", "k"]));
    assert_eq!(words[0]["variants"][0]["gpcs"], json!(["c:k", "a_e:eɪ", "k:k"]));
    assert_eq!(words[1]["variants"][0]["graphemes"], json!(["n", "igh", "t"]));
    assert_eq!((&words[0]["guess"], &words[2]["guess"]), (&json!(false), &json!(true)));
    assert_eq!(words[3]["variants"], json!([]));
    assert!(text(&words[3]["problem"]).contains("digit"));
    // A northern child's bath has the vowel of cat; the correspondence is the same one.
    let body = json!({"words": ["bath"], "accent": {"short_a_in_bath": true}});
    let north = lead.post("/words/segmentations", body).expect(200)["words"][0]["variants"][0].clone();
    let south = &words[4]["variants"][0];
    assert_eq!((&south["phonemes"][1], &north["phonemes"][1]), (&json!("ɑː"), &json!("æ")));
    assert_eq!(south["gpcs"], north["gpcs"]);
    assert_eq!(lead.get("/words/cake").expect(200)["variants"][0], words[0]["variants"][0]);
}

#[test]
fn what_is_no_word_is_said_so() {
    let school = School::start();
    let lead = school.lead();
    let many: Vec<String> = (0..501).map(|n| format!("word{n}")).collect();
    lead.post("/words/segmentations", json!({"words": many})).problem(422, "invalid");
    lead.post("/words/segmentations", json!({"words": []})).problem(422, "invalid");
    let odd = ["", "a1", "two words", "слово", &"x".repeat(60), "café", "Zoe's", "re-do"];
    let words = lead.post("/words/segmentations", json!({"words": odd})).expect(200)["words"].clone();
    let refused: Vec<bool> = words.as_array().unwrap().iter().map(|w| !w["problem"].is_null()).collect();
    assert_eq!(refused, [true, true, true, true, true, false, false, false]);
}

#[test]
fn a_word_that_looks_like_a_day_is_answered_like_any_other() {
    let school = School::start();
    let body = json!({"words": ["cat", "1066-10-14"]});
    let words = school.lead().post("/words/segmentations", body).expect(200)["words"].clone();
    assert!(text(&words[1]["problem"]).contains("digit"));
    let book = json!({"title": "1066-10-14", "source": "text", "text": "Mod met Dom."});
    school.lead().post("/books", book).expect(201);
}

#[test]
fn a_bank_can_be_of_one_correspondence() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let ask = |query: &str| teacher.get(&format!("/groups/{group}/word-bank?audience=all&limit=2000{query}"));
    let (all, some) = (ask("").expect(200), ask("&gpc=e:e").expect(200));
    let with_e = |bank: &Value| -> Vec<String> {
        let words = bank["words"].as_array().unwrap().iter();
        words.filter(|word| gpcs(&word["reading"]).contains("e:e")).map(|word| text(&word["word"])).collect()
    };
    assert_eq!(column(&some["words"], "word"), with_e(&all));
    assert_eq!(some["total"], json!(with_e(&all).len()));
    assert!((1..all["total"].as_u64().unwrap()).contains(&some["total"].as_u64().unwrap()));
    let first = ask("&gpc=e:e").expect(200)["words"][0].clone();
    assert_eq!(
        teacher.get(&format!("/groups/{group}/word-bank?audience=all&gpc=e:e&limit=1")).expect(200)["words"],
        json!([first])
    );
    let unknown = ask("&gpc=qq:q").problem(422, "invalid");
    assert!(unknown[0].starts_with("gpc: qq:q"), "{unknown:?}");
}

#[test]
fn a_bank_needs_nothing_untaught() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let bank = teacher.get(&format!("/groups/{group}/word-bank?audience=all&limit=2000")).expect(200);
    let words = column(&bank["words"], "word");
    assert!(words.contains(&"mod".to_owned()), "{words:?}");
    assert!(!words.contains(&"men".to_owned()), "n is not taught yet");
    for word in bank["words"].as_array().unwrap() {
        let needs = gpcs(&word["reading"]);
        assert!(needs.is_subset(&set(&["m:m", "o:ɒ", "d:d", "e:e", "dd:d", "mm:m"])), "{word}");
    }
    let the = bank["exception_words"].as_array().unwrap().iter().find(|word| word["word"] == "the").unwrap();
    assert_eq!(the["taught"], true);
    assert!(!the["lacking"].as_array().unwrap().is_empty());
    let spell =
        teacher.get(&format!("/groups/{group}/word-bank?kind=spell&audience=all&limit=2000")).expect(200);
    let spell: BTreeSet<String> = column(&spell["words"], "word").into_iter().collect();
    assert!(spell.is_subset(&words.into_iter().collect()));
    teacher.get(&format!("/groups/{group}/word-bank?limit=0")).problem(422, "invalid");
    teacher.get(&format!("/groups/{group}/word-bank?kind=sing")).problem(422, "invalid");
}

#[test]
fn a_text_is_judged_by_what_was_taught() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let body = json!({"text": "The Mod. Ten men 4 the mod!", "group_id": group});
    let seen = teacher.post("/texts/analysis", body).expect(200);
    // Six words: "the" twice was taught as a whole, "mod" twice is decodable, "ten" and "men" lack n.
    assert_eq!((&seen["running"], &seen["skipped"]), (&json!(6), &json!(1)));
    assert_eq!((&seen["decodable"], &seen["taught_exceptions"]), (&json!(2), &json!(2)));
    assert_eq!((&seen["percent_decodable"], &seen["percent_readable"]), (&json!(33.3), &json!(66.7)));
    let men = seen["words"].as_array().unwrap().iter().find(|word| word["word"] == "men").unwrap();
    assert_eq!(men["lacking"], json!(["n:n"]));
    let nothing = json!({"text": "", "group_id": group});
    assert_eq!(teacher.post("/texts/analysis", nothing).expect(200)["percent_decodable"], Value::Null);
    teacher.post("/texts/analysis", json!({"text": "x"})).problem(422, "invalid");
}

#[test]
fn a_step_out_of_range_is_refused() {
    let school = School::start();
    let (_, content) = school.sequence();
    let ask = |step: u32| {
        let body = json!({"text": "mod", "sequence_version_id": content["id"], "step": step});
        school.lead().post("/texts/analysis", body)
    };
    assert_eq!(ask(1).expect(200)["decodable"], 1);
    assert_eq!(ask(0).expect(200)["decodable"], 0);
    ask(2).expect(200);
    assert!(ask(3).problem(422, "invalid")[0].starts_with("step: "));
}

#[test]
fn pseudo_words_repeat_by_seed_and_need_nothing_untaught() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let make = |seed: u32| {
        let body = json!({"group_id": group, "count": 5, "shape": "cvc", "seed": seed});
        teacher.post("/pseudo-words", body).expect(200)
    };
    let made = make(3);
    assert_eq!(made, make(3));
    for word in made["words"].as_array().unwrap() {
        assert!(gpcs(&word["reading"]).is_subset(&set(&["m:m", "o:ɒ", "d:d", "e:e"])), "{word}");
        assert!(!["mod", "dom", "mom", "dod"].contains(&word["word"].as_str().unwrap()));
    }
    teacher.post("/pseudo-words", json!({"group_id": group, "count": 0})).problem(422, "invalid");
}

#[test]
fn a_set_takes_every_pseudo_word_the_server_made() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Wide"})).expect(201)["id"]);
    let taught = "s:s a:æ t:t p:p i:ɪ n:n m:m d:d g:g o:ɒ c:k e:e u:ʌ r:r h:h b:b f:f l:l ll:l ss:s \
                  ff:f ck:k sh:ʃ ch:tʃ th:θ ee:iː ar:ɑː a_e:eɪ ow:aʊ";
    let item = |pair: &str| {
        let (grapheme, phoneme) = pair.split_once(':').unwrap();
        json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}})
    };
    let items: Vec<Value> = taught.split_whitespace().map(item).collect();
    let draft = json!({"steps": [{"title": "All", "lessons": [{"title": "All", "items": items}]}]});
    let path = format!("/sequences/{id}/draft");
    lead.put(&path, &lead.get(&path).etag(), draft).expect(200);
    let version = lead.post(&format!("/sequences/{id}/versions"), json!({"effective_on": "2026-09-01"}));
    let body = json!({"sequence_version_id": version.expect(201)["id"], "step": 1, "count": 100});
    let made = column(&lead.post("/pseudo-words", body).expect(200)["words"], "word");
    assert_eq!(made.len(), 100);
    let set = lead.post("/pseudo-word-sets", json!({"name": "Made", "words": made})).expect(201);
    assert_eq!(set["words"].as_array().unwrap().len(), 100);
    let long = json!({"name": "Long", "words": ["bamp", "bampbampbampb"]});
    let said = lead.post("/pseudo-word-sets", long).problem(422, "invalid");
    assert!(
        said.len() == 1 && said[0].starts_with("words[1]: ") && said[0].contains("at most 12"),
        "{said:?}"
    );
}

#[test]
fn an_unknown_gpc_is_refused_with_what_was_meant() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Other"})).expect(201)["id"]);
    let path = format!("/sequences/{id}/draft");
    let item = json!({"kind": "gpc", "gpc": {"grapheme": "igh", "phoneme": "m"}});
    let draft = json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": [item]}]}]});
    let said = lead.put(&path, &lead.get(&path).etag(), draft).problem(422, "invalid");
    assert!(
        said[0].starts_with("steps[0].lessons[0].items[0].gpc: ") && said[0].contains("igh:aɪ"),
        "{said:?}"
    );
    assert_eq!(lead.get(&path).expect(200)["steps"], json!([]));
}

#[test]
fn a_lesson_comes_with_words_of_what_was_taught_and_is_new() {
    let (school, group) = School::with_lessons();
    let teacher = school.staff("teacher");
    let ask = |on: &str| teacher.get(&format!("/groups/{group}/next-lesson?on={on}")).expect(200);
    let words = ask("2026-11-25")["lesson"]["words"].clone();
    assert_eq!(words, ask("2026-11-25")["lesson"]["words"], "the same at each look");
    assert_eq!(words["new"], json!(["n:n"]));
    let known = set(&["m:m", "o:ɒ", "d:d", "e:e", "n:n", "nn:n", "dd:d", "mm:m"]);
    let read = words["read"].as_array().unwrap();
    assert!(!read.is_empty());
    for word in read.iter().chain(words["spell"].as_array().unwrap()) {
        assert!(gpcs(&word["reading"]).is_subset(&known), "{word}");
    }
    let review: BTreeSet<String> = column(&words["review"], "gpc").into_iter().collect();
    assert!(review.is_subset(&set(&["m:m", "o:ɒ", "d:d", "e:e"])) && !review.is_empty());
}

#[test]
fn a_draft_is_analysed_for_the_words_it_unlocks() {
    let school = School::start();
    let (sequence, _) = school.sequence();
    let seen = school.lead().get(&format!("/sequences/{sequence}/draft/analysis")).expect(200);
    let steps = seen["phonics"]["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 2);
    assert_eq!(steps[0]["gpcs"], json!(["m:m", "o:ɒ", "d:d"]));
    assert!(steps[1]["total_words"].as_u64() > steps[0]["total_words"].as_u64());
    // m and n look and sound alike and stand one step apart.
    let close = seen["phonics"]["too_close"].as_array().unwrap();
    assert!(close.iter().any(|pair| pair["first"] == "m:m" && pair["second"] == "n:n"), "{close:?}");
    // m, o, d, n and e are taught; x and most others are not.
    let letters = seen["phonics"]["letters_never_taught"].as_array().unwrap();
    assert!(letters.len() == 21 && letters.contains(&json!("x")) && !letters.contains(&json!("m")));
    let untaught = seen["phonics"]["never_taught"].as_array().unwrap();
    assert!(untaught.iter().any(|unit| unit["missing"].as_array().unwrap().contains(&json!("igh:aɪ"))));
}

#[test]
fn a_lesson_on_a_suffix_shows_words_that_carry_it() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let made = lead.post("/sequences", json!({"name": "With a suffix"})).expect(201);
    let id = text(&made["id"]);
    let path = format!("/sequences/{id}/draft");
    let gpc = |pair: &str| {
        let (grapheme, phoneme) = pair.split_once(':').unwrap();
        json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}})
    };
    let first = [
        "s:s", "a:æ", "t:t", "p:p", "i:ɪ", "n:n", "m:m", "d:d", "g:ɡ", "o:ɒ", "k:k", "l:l", "r:r", "h:h",
        "f:f", "ng:ŋ", "ck:k", "ll:l", "ee:iː",
    ];
    let items: Vec<Value> = first.iter().map(|pair| gpc(pair)).collect();
    let suffix = json!({"kind": "word_part", "label": "suffix -ing, with no change"});
    let draft = json!({"steps": [
        {"title": "Step 1", "lessons": [{"title": "many", "items": items}]},
        {"title": "Step 2", "lessons": [{"title": "-ing", "items": [suffix]},
            {"title": "k", "items": [{"kind": "spelling_rule", "label": "k, not c, before e"}]}]}]});
    lead.put(&path, &lead.get(&path).etag(), draft).expect(200);
    let version = json!({"effective_on": "2026-09-01"});
    let version = lead.post(&format!("/sequences/{id}/versions"), version).expect(201);
    let content = lead.get(&format!("/sequences/{id}/versions/{}", text(&version["id"]))).expect(200);
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &id, &[&pupils["Zoe"]]);
    let body = json!({"on": "2026-11-23", "lesson_id": lesson_ids(&content)[0], "outcome": "delivered"});
    lead.post(&format!("/groups/{group}/lesson-records"), body).expect(201);
    let next = lead.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200);
    let read = column(&next["lesson"]["words"]["read"], "word");
    assert!(read.len() >= 4 && read.iter().all(|word| word.ends_with("ing") && word != "ring"), "{read:?}");
    assert_eq!(next["lesson"]["words"]["no_words"], Value::Null);
    // A rule no kind of words is known for: no words, and why, not words that have nothing to do with it.
    let body = json!({"on": "2026-11-25", "lesson_id": lesson_ids(&content)[1], "outcome": "delivered"});
    lead.post(&format!("/groups/{group}/lesson-records"), body).expect(201);
    let words =
        lead.get(&format!("/groups/{group}/next-lesson?on=2026-11-25")).expect(200)["lesson"]["words"]
            .clone();
    assert_eq!((&words["read"], &words["spell"]), (&json!([]), &json!([])));
    assert_eq!((&words["no_words"], &words["no_spelling"]), (&json!("kind_unknown"), &json!("kind_unknown")));
}
