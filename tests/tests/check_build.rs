//! Checks built by the engine: for a place, from a recipe, edited, in versions and forms.
#![allow(clippy::unwrap_used)]

mod building;

use std::collections::BTreeSet;

use building::{Building, LESSONS, prompts};
use plumbline_tests::{School, TODAY, Value, column, json, text};

/// The letters of the first lessons.
fn letters(lessons: usize) -> BTreeSet<char> {
    let items = LESSONS.iter().take(lessons).flat_map(|line| line.split(' '));
    items.filter_map(|item| item.split_once(':')).flat_map(|(grapheme, _)| grapheme.chars()).collect()
}

/// The first four fields of proposed items: what a new check takes.
fn to_add(items: &Value) -> Vec<Value> {
    let kept = ["prompt", "gpc", "section", "pseudo"];
    let item = |item: &Value| {
        let fields = item.as_object().unwrap().iter().filter(|(name, _)| kept.contains(&name.as_str()));
        Value::Object(fields.map(|(name, value)| (name.clone(), value.clone())).collect())
    };
    items.as_array().unwrap().iter().map(item).collect()
}

#[test]
fn a_check_is_proposed_for_a_groups_place_and_added_as_built_or_changed() {
    let b = Building::taught(7);
    let proposed = b.proposed("word_reading", 8, json!({"group_id": b.group, "forms": 2, "seed": 5}));
    // Seven lessons: the first of the third step.
    let recipe = &proposed["recipe"];
    assert_eq!((&recipe["step"], &recipe["lesson"]), (&json!(3), &json!(1)));
    assert_eq!(recipe["sequence_version_id"], json!(b.version));
    let forms = proposed["forms"].as_array().unwrap();
    let all: Vec<String> = forms.iter().flat_map(|form| prompts(&form["items"])).collect();
    assert_eq!((forms.len(), all.len(), all.iter().collect::<BTreeSet<_>>().len()), (2, 16, 16));
    let known = letters(7);
    assert!(all.iter().all(|word| word.chars().all(|letter| known.contains(&letter))), "{all:?}");
    assert_eq!((&proposed["short"], &proposed["shared_items"]), (&json!([]), &json!(0)));
    // Taught last: f, l and u.
    let for_gpc: BTreeSet<String> = column(&forms[0]["items"], "chosen_for").into_iter().collect();
    for newest in ["f /f/", "l /l/", "u /ʌ/"] {
        assert!(for_gpc.contains(newest), "{for_gpc:?}");
    }
    for (n, item) in forms[0]["items"].as_array().unwrap().iter().enumerate() {
        let other = &forms[1]["items"][n]["measure"];
        assert_eq!(item["measure"]["graphemes"], other["graphemes"], "{item} beside {other}");
        assert!(
            !item["gpc_ids"].as_array().unwrap().is_empty() && !item["accept"].as_array().unwrap().is_empty()
        );
    }
    assert_eq!(proposed["apart"]["graphemes"], json!(0.0));

    // As built: the items need not be sent.
    let second = json!({"name": "Form 2", "kind": "word_reading", "recipe": with(recipe, "form", json!(2))});
    let mut made = b.lead.post("/checks", second).expect(201);
    assert_eq!(made.as_object_mut().unwrap().remove("warnings"), Some(json!([])));
    assert_eq!(prompts(&made["items"]), prompts(&forms[1]["items"]));
    assert_eq!((&made["edited"], &made["recipe"]["form"]), (&json!(false), &json!(2)));
    let path = format!("/checks/{}", text(&made["id"]));
    assert_eq!(b.lead.get(&path).expect(200), made);
    // The GPCs each word asks for are kept with it.
    assert_eq!(made["items"][0]["gpc_ids"], forms[1]["items"][0]["gpc_ids"]);
    assert_eq!(made["items"][0]["accept"], forms[1]["items"][0]["accept"]);
    // Sent as proposed, then with a word changed.
    let mut items = to_add(&forms[0]["items"]);
    let add = |items: &[Value]| {
        let body = json!({"name": "Form 1", "kind": "word_reading", "items": items, "recipe": recipe});
        b.lead.post("/checks", body).expect(201)
    };
    assert_eq!(add(&items)["edited"], json!(false));
    items[0]["prompt"] = json!("mud");
    let changed = add(&items);
    assert_eq!((&changed["edited"], &changed["items"][0]["prompt"]), (&json!(true), &json!("mud")));
    assert_eq!(changed["items"][0]["accept"], json!(["mʌd"]));
}

fn with(recipe: &Value, field: &str, value: Value) -> Value {
    let mut recipe = recipe.clone();
    recipe[field] = value;
    recipe
}

/// The same words on either store, before and after a restart.
#[test]
fn a_recipe_builds_the_same_again() {
    let mut b = Building::taught(9);
    let at = json!({"sequence_version_id": b.version, "step": 3, "seed": 11});
    let kinds = [("word_reading", 6), ("spelling", 6), ("gpc_recognition", 6), ("sentence_reading", 2)];
    let built: Vec<Value> = kinds.iter().map(|(kind, items)| b.proposed(kind, *items, at.clone())).collect();
    let shown: Vec<Vec<String>> = built.iter().map(|one| prompts(&one["forms"][0]["items"])).collect();
    assert_eq!(shown, GOLDEN.map(|list| list.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>()));
    b.school.server.stop_and_restart(TODAY);
    // The server is at another address now.
    let signed_in = b.school.sign_in(&School::email("lead"));
    b.lead = b.school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    for one in &built {
        let again = b.lead.post("/check-proposals", json!({"recipe": one["recipe"]})).expect(200);
        assert_eq!(again["rebuilt_alike"], json!(true));
        assert_eq!(again["forms"], one["forms"]);
    }
    // With a word struck off since, the recipe says that it is built with other words.
    b.lead.post("/struck-words", json!({"word": shown[0][0]})).expect(201);
    let again = b.lead.post("/check-proposals", json!({"recipe": built[0]["recipe"]})).expect(200);
    assert_eq!(again["rebuilt_alike"], json!(false));
    assert!(!prompts(&again["forms"][0]["items"]).contains(&shown[0][0]));
}

const GOLDEN: [&[&str]; 4] = [
    &["wet", "much", "chop", "chips", "crash", "shelf"],
    &["rip", "wet", "much", "chop", "crash", "shelf"],
    &["o", "ch", "c", "w", "sh", "i"],
    &["The man had chips.", "The dentist had ham."],
];

#[test]
fn another_wording_is_the_next_version_and_answers_keep_theirs() {
    let b = Building::taught(7);
    let check = |name: &str, words: &[&str], more: Value| {
        let items: Vec<Value> = words.iter().map(|word| json!({"prompt": word})).collect();
        let mut body = json!({"name": name, "kind": "word_reading", "items": items});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        b.lead.post("/checks", body)
    };
    let first = check("Words", &["mop", "sun"], json!({})).expect(201);
    assert_eq!((&first["version"], &first["series_id"]), (&json!(1), &first["id"]));
    let round = b.school.round("Now", "2026-11-16", "2026-11-27", &[&text(&first["id"])]);
    let of = (round.as_str(), b.pupils["Zoe"].as_str(), first["id"].as_str().unwrap());
    let item = text(&first["items"][0]["id"]);
    b.school.answer(&b.lead, of, TODAY, &[(&item, "right")]).expect(201);

    let second = check("Words", &["mop", "mud"], json!({"series_id": first["id"]})).expect(201);
    // The next after any of them is the next of all.
    let third = check("Words again", &["mop", "mug"], json!({"series_id": second["id"]})).expect(201);
    assert_eq!((&second["version"], &third["version"]), (&json!(2), &json!(3)));
    assert_eq!(third["series_id"], first["id"]);
    let listed = b.lead.get("/checks").expect(200)["items"].clone();
    assert_eq!(column(&listed, "id"), [text(&third["id"])], "the latest alone");
    assert_eq!(column(&listed[0]["earlier"], "id"), [text(&second["id"]), text(&first["id"])]);
    // The answer is still one to the first version, whose wording is still there.
    let answers =
        b.lead.get(&format!("/check-rounds/{round}/pupils/{}/responses", b.pupils["Zoe"])).expect(200);
    assert_eq!(
        (&answers["items"][0]["check_id"], &answers["items"][0]["item_id"]),
        (&first["id"], &json!(item))
    );
    let path = format!("/checks/{}", text(&first["id"]));
    assert_eq!(prompts(&b.lead.get(&path).expect(200)["items"]), ["mop", "sun"]);

    let said = check("Words", &["mop"], json!({"series_id": round})).problem(422, "invalid");
    assert_eq!(said, ["series_id: is not a check of this school"]);
    let other =
        json!({"name": "S", "kind": "spelling", "items": [{"prompt": "mop"}], "series_id": first["id"]});
    let said = b.lead.post("/checks", other).problem(422, "invalid");
    assert_eq!(said, ["series_id: is a check of another kind"]);
}

#[test]
fn every_kind_can_be_written_by_hand_and_knows_what_it_asks_for() {
    let b = Building::taught(1);
    let add = |kind: &str, prompt: &str| {
        b.lead.post("/checks", json!({"name": "C", "kind": kind, "items": [{"prompt": prompt}]}))
    };
    let item = |kind: &str, prompt: &str| add(kind, prompt).expect(201)["items"][0].clone();
    let sat = item("word_reading", "sat");
    assert_eq!((sat["gpc_ids"].as_array().unwrap().len(), &sat["accept"]), (3, &json!(["sæt"])));
    assert_eq!(sat["gpc_id"], Value::Null, "a word is evidence of no single GPC");
    let blended = item("oral_blending", "sat");
    assert_eq!((&blended["sounds"], &blended["gpc_ids"]), (&json!("s.æ.t"), &sat["gpc_ids"]));
    let spelt = item("spelling", "sat");
    assert_eq!((&spelt["accept"], &spelt["sounds"]), (&Value::Null, &Value::Null), "nothing is read");
    assert_eq!(item("exception_word_reading", "said")["accept"], json!(["sed"]));
    let sentence = item("sentence_reading", "Mum sat in mud.");
    assert_eq!(sentence["gpc_ids"].as_array().unwrap().len(), 11);
    assert_eq!(item("word_reading", "7")["gpc_ids"], Value::Null, "known of nothing that is no word");
    for kind in ["oral_blending", "spelling", "exception_word_reading", "sentence_reading"] {
        let said = add(kind, "7").problem(422, "invalid");
        assert_eq!(said, ["items[0].prompt: must be made of words in letters a to z"], "{kind}");
    }
    let said = add("practice_check", "sat").problem(422, "invalid");
    assert_eq!(said, ["recipe: is required: have a practice check proposed, then change its words at will"]);
    let pair = json!({"prompt": "sat", "gpc": {"grapheme": "s", "phoneme": "s"}});
    let body = json!({"name": "C", "kind": "spelling", "items": [pair]});
    assert_eq!(
        b.lead.post("/checks", body).problem(422, "invalid"),
        ["items[0].gpc: is not for reading words"]
    );
}

#[test]
fn what_cannot_be_built_is_said_by_its_field() {
    let b = Building::taught(0);
    let refused = |body: Value| b.lead.post("/check-proposals", body).problem(422, "invalid");
    let at = |more: Value| {
        let mut body =
            json!({"sequence_version_id": b.version, "step": 2, "kind": "word_reading", "items": 5});
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        body
    };
    assert_eq!(refused(at(json!({"items": 0}))), ["items: must be 1 to 40"]);
    assert_eq!(
        refused(at(json!({"items": 41, "forms": 5}))),
        ["items: must be 1 to 40", "forms: must be 1 to 4"]
    );
    let nowhere = "step: is not a step of the version, or the step has no such lesson";
    assert_eq!(refused(at(json!({"step": 6}))), [nowhere]);
    assert_eq!(refused(at(json!({"step": 0}))), [nowhere]);
    assert_eq!(refused(at(json!({"lesson": 4}))), [nowhere]);
    assert_eq!(refused(at(json!({"kind": "placement"}))), ["kind: is made by a placement alone"]);
    let set = "pseudo_word_set_id: is required for reading pseudo-words";
    assert_eq!(refused(at(json!({"kind": "pseudo_word_reading"}))), [set]);
    let group = json!({"group_id": b.group, "kind": "word_reading", "items": 5});
    assert_eq!(refused(group), ["group_id: its first lesson is not taught yet"]);
    let both = "group_id: give either a group_id, or sequence_version_id and step";
    assert_eq!(refused(at(json!({"group_id": b.group}))), [both]);
    let unknown = "sequence_version_id: is not a version of this school's sequences";
    assert_eq!(refused(at(json!({"sequence_version_id": b.group}))), [unknown]);
    let recipe = b.lead.post("/check-proposals", at(json!({}))).expect(200)["recipe"].clone();
    let both = "recipe: says it all: leave out the other fields";
    assert_eq!(refused(at(json!({"recipe": recipe}))), [both]);
    let add = |kind: &str, recipe: Value| {
        let body = json!({"name": "C", "kind": kind, "recipe": recipe});
        b.lead.post("/checks", body).problem(422, "invalid")
    };
    assert_eq!(add("spelling", recipe.clone()), ["recipe.kind: is not the kind of this check"]);
    assert_eq!(
        add("word_reading", with(&recipe, "form", json!(2))),
        ["recipe.form: must be 1 to 1, the forms built"]
    );
    assert_eq!(add("word_reading", with(&recipe, "step", json!(9))), [format!("recipe.{nowhere}")]);
}

#[test]
fn a_practice_check_says_which_sections_are_short_and_is_no_statutory_result() {
    let b = Building::taught(15);
    let set = b.approved(&["frowl", "bamp", "vush", "dremp"]);
    let proposed = b.proposed("practice_check", 1, json!({"group_id": b.group, "pseudo_word_set_id": set}));
    assert_eq!(proposed["recipe"]["items"], json!(40), "as many as the shape has");
    // Of four made-up words ow is not taught; the others are of the first section, but for one of its length.
    let short = proposed["short"].as_array().unwrap();
    let missing = |section: u64, pseudo: bool| {
        let found =
            short.iter().find(|one| one["section"] == json!(section) && one["pseudo"] == json!(pseudo));
        found.map_or(0, |one| one["missing"].as_u64().unwrap())
    };
    let form = &proposed["forms"][0]["items"];
    let count = |section: u64, pseudo: bool| {
        let items = form.as_array().unwrap().iter();
        let of = items.filter(|one| {
            one["section"] == json!(section) && one["pseudo"].as_bool().unwrap_or(false) == pseudo
        });
        of.count() as u64
    };
    for (section, pseudo, whole) in [(1, true, 12), (1, false, 8), (2, true, 8), (2, false, 12)] {
        assert_eq!(count(section, pseudo) + missing(section, pseudo), whole, "{section} {pseudo}");
    }
    assert_eq!((count(1, true), count(2, true)), (2, 1));
    assert_eq!(count(1, false), 8);
    let said = proposed["cautions"].to_string();
    assert!(said.contains("Never put words of a statutory check into it"), "{said}");

    let add = |items: &[Value]| {
        let body = json!({"name": "Practice", "kind": "practice_check", "items": items, "recipe": proposed["recipe"]});
        b.lead.post("/checks", body)
    };
    let items = to_add(form);
    let made = add(&items).expect(201);
    assert_eq!((&made["kind"], &made["edited"]), (&json!("practice_check"), &json!(false)));
    assert!(
        made["cautions"].to_string().contains("no result of the statutory check"),
        "{}",
        made["cautions"]
    );
    let wrong = |n: usize, field: &str, value: Value| {
        let mut items = items.clone();
        items[n][field] = value;
        add(&items).problem(422, "invalid")
    };
    assert_eq!(wrong(0, "prompt", json!("zot")), ["items[0].prompt: is not a word of the approved set"]);
    assert_eq!(
        wrong(0, "section", json!(3)),
        ["items[0].section: is not a section of the statutory check's shape"]
    );
    assert_eq!(wrong(0, "section", Value::Null), ["items[0].section: is required in a practice check"]);
}

#[test]
fn made_up_words_come_from_the_approved_set_alone() {
    let b = Building::taught(9);
    let set = b.approved(&["bamp", "vush", "dremp", "frowl"]);
    let at = json!({"group_id": b.group, "pseudo_word_set_id": set});
    let proposed = b.proposed("pseudo_word_reading", 4, at);
    let built: BTreeSet<String> = prompts(&proposed["forms"][0]["items"]).into_iter().collect();
    assert_eq!(built, ["bamp", "vush", "dremp"].map(str::to_owned).into(), "ow is not taught");
    assert_eq!(proposed["short"], json!([{"section": null, "pseudo": true, "missing": 1}]));
    let body = |word: &str| json!({"name": "P", "kind": "pseudo_word_reading", "items": [{"prompt": word}], "recipe": proposed["recipe"]});
    let made = b.lead.post("/checks", body("bamp")).expect(201);
    assert_eq!((&made["edited"], &made["items"][0]["accept"][0]), (&json!(true), &json!("bæmp")));
    assert_eq!(made["items"][0]["gpc_ids"].as_array().unwrap().len(), 4);
    let said = b.lead.post("/checks", body("zot")).problem(422, "invalid");
    assert_eq!(said, ["items[0].prompt: is not a word of the approved set"]);
}

#[test]
fn forms_are_set_side_by_side_by_counts_and_no_verdict_comes_of_few() {
    let b = Building::taught(7);
    let proposed = b.proposed("word_reading", 3, json!({"group_id": b.group, "forms": 2}));
    let add = |form: u8| {
        let recipe = with(&proposed["recipe"], "form", json!(form));
        b.lead
            .post("/checks", json!({"name": format!("F{form}"), "kind": "word_reading", "recipe": recipe}))
            .expect(201)
    };
    let (two, one) = (add(2), add(1));
    let round = b.school.round("Now", "2026-11-16", "2026-11-27", &[&text(&one["id"]), &text(&two["id"])]);
    let answer = |check: &Value, pupil: &str, outcomes: &[&str]| {
        let ids = column(&check["items"], "id");
        let answers: Vec<(&str, &str)> =
            ids.iter().map(String::as_str).zip(outcomes.iter().copied()).collect();
        let of = (round.as_str(), b.pupils[pupil].as_str(), check["id"].as_str().unwrap());
        b.school.answer(&b.lead, of, TODAY, &answers).expect(201);
    };
    answer(&one, "Zoe", &["right", "wrong", "right"]);
    answer(&one, "Max", &["right", "no_response", "not_offered"]);
    answer(&two, "Zoe", &["right", "right", "right"]);
    let path = format!("/checks/{}/forms", text(&two["id"]));
    let forms = b.lead.get(&path).expect(200);
    let lines: Vec<Value> = forms["forms"]
        .as_array()
        .unwrap()
        .iter()
        .map(|form| {
            json!([form["form"], form["pupils"], form["answers"], form["right"], form["right_percent"]])
        })
        .collect();
    assert_eq!(lines, [json!([1, 2, 5, 3, null]), json!([2, 1, 3, 3, null])]);
    assert_eq!(forms["answers_enough"], json!(60));
    let entry = b.lead.get("/audit-entries").expect(200)["items"][0].clone();
    assert_eq!(entry["operation"], json!("check.compare_forms"), "{entry}");
}

#[test]
fn what_was_struck_off_stands_twice_or_is_short_is_said_and_taken() {
    let b = Building::taught(9);
    let warned = |body: Value| {
        let made = b.lead.post("/checks", body).expect(201);
        let line = |one: &Value| format!("{}: {}", text(&one["field"]), text(&one["message"]));
        made["warnings"].as_array().unwrap().iter().map(line).collect::<Vec<_>>()
    };
    let item = |prompt: &str, gpc: Value| json!({"prompt": prompt, "gpc": gpc});
    let words = json!(["mud", "mop", "Mud"].map(|word| item(word, Value::Null)));
    let by_hand = |kind: &str, items: &Value| json!({"name": "By hand", "kind": kind, "items": items});
    let twice = "items[2].prompt: stands in items[0] already";
    assert_eq!(warned(by_hand("word_reading", &words)), [twice]);
    b.lead.post("/struck-words", json!({"word": "mop"})).expect(201);
    let struck = "items[1].prompt: “mop” is struck off at this school: it is not to be shown to children";
    assert_eq!(warned(by_hand("word_reading", &words)), [struck, twice]);
    // One grapheme may be asked for twice, for a phoneme each.
    let ow = |phoneme: &str| item("ow", json!({"grapheme": "ow", "phoneme": phoneme}));
    assert_eq!(warned(by_hand("gpc_recognition", &json!([ow("aʊ"), ow("əʊ")]))), [""; 0]);
    let again = by_hand("gpc_recognition", &json!([ow("aʊ"), ow("aʊ")]));
    assert_eq!(warned(again), ["items[1].prompt: stands in items[0] already"]);

    let set = b.approved(&["bamp", "vush", "dremp", "frowl"]);
    let proposed =
        b.proposed("pseudo_word_reading", 4, json!({"group_id": b.group, "pseudo_word_set_id": set}));
    let short = json!({"name": "P", "kind": "pseudo_word_reading", "recipe": proposed["recipe"]});
    assert_eq!(warned(short), ["recipe: is short: 1 of 4 items could not be built"]);
}
