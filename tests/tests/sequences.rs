//! Sequences: drafts, publishing, versions that never change.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, TODAY, Value, column, item_ids, json, lesson_ids, text};

fn gpc(grapheme: &str, phoneme: &str) -> Value {
    json!({"kind": "gpc", "gpc": {"grapheme": grapheme, "phoneme": phoneme}})
}

fn lesson(title: &str, items: &[Value]) -> Value {
    json!({"title": title, "items": items})
}

fn step(title: &str, lessons: &[Value]) -> Value {
    json!({"title": title, "lessons": lessons})
}

/// A new sequence and the path of its draft.
fn sequence(lead: &Client) -> (String, String) {
    let id = text(&lead.post("/sequences", json!({"name": "Our sequence"})).expect(201)["id"]);
    let draft = format!("/sequences/{id}/draft");
    (id, draft)
}

/// Saves a draft over the one there is.
fn save(lead: &Client, draft: &str, steps: &[Value]) -> Answer {
    lead.put(draft, &lead.get(draft).etag(), json!({"steps": steps}))
}

fn publish(lead: &Client, id: &str, effective_on: &str) -> Answer {
    lead.post(&format!("/sequences/{id}/versions"), json!({"effective_on": effective_on}))
}

#[test]
fn a_draft_gets_ids_and_keeps_them_when_it_is_sent_back_in_another_order() {
    let school = School::start();
    let lead = school.lead();
    let (_, draft) = sequence(&lead);
    let steps = [
        step("One", &[lesson("a", &[gpc("m", "m"), json!({"kind": "exception_word", "label": "the"})])]),
        step(
            "Two",
            &[lesson("b", &[gpc("a_e", "eɪ")]), lesson("c", &[json!({"kind": "review", "label": "all"})])],
        ),
    ];
    let saved = save(&lead, &draft, &steps).expect(200);
    assert_eq!(lead.get(&draft).expect(200), saved);
    assert_eq!(saved["steps"][0]["lessons"][0]["items"][0]["label"], "m /m/");
    let mut ids = column(&saved["steps"], "id");
    ids.extend(lesson_ids(&saved));
    ids.extend((0..3).flat_map(|n| item_ids(&saved, n)));
    let mut distinct = ids.clone();
    distinct.sort();
    distinct.dedup();
    assert_eq!((ids.len(), distinct.len()), (2 + 3 + 4, 9));

    // The steps swapped, the lessons of the second too, and a new one between.
    let mut two = saved["steps"][1].clone();
    let lessons = two["lessons"].as_array().unwrap().clone();
    two["lessons"] = json!([lessons[1], lesson("new", &[gpc("o", "ɒ")]), lessons[0]]);
    let swapped = save(&lead, &draft, &[two, saved["steps"][0].clone()]).expect(200);
    assert_eq!(column(&swapped["steps"], "id"), [ids[1].clone(), ids[0].clone()]);
    let after = lesson_ids(&swapped);
    let before = lesson_ids(&saved);
    assert_eq!((&after[0], &after[2], &after[3]), (&before[2], &before[1], &before[0]));
    assert!(!before.contains(&after[1]));
    assert_eq!(item_ids(&swapped, 3), item_ids(&saved, 0));
}

#[test]
fn ids_of_another_sequence_are_refused() {
    let school = School::start();
    let lead = school.lead();
    let (_, theirs) = sequence(&lead);
    let items = [json!({"kind": "exception_word", "label": "the"})];
    let foreign = save(&lead, &theirs, &[step("One", &[lesson("a", &items)])]).expect(200);
    let (_, ours) = sequence(&lead);
    let refused = save(&lead, &ours, &[foreign["steps"][0].clone()]).problem(422, "invalid");
    let wrong = "is not an id of this sequence; leave it out for something new";
    let fields = ["steps[0].id", "steps[0].lessons[0].id", "steps[0].lessons[0].items[0].id"];
    assert_eq!(refused, fields.map(|field| format!("{field}: {wrong}")));
    assert_eq!(lead.get(&ours).expect(200), json!({"steps": []}), "nothing was written");
    // The same id twice would make two things one.
    let own = save(&lead, &ours, &[step("One", &[lesson("a", &items)])]).expect(200);
    let twice =
        save(&lead, &ours, &[own["steps"][0].clone(), own["steps"][0].clone()]).problem(422, "invalid");
    assert_eq!(twice[0], "steps[1].id: stands twice in this draft");
}

#[test]
fn every_fault_of_a_draft_is_named_with_its_path() {
    let school = School::start();
    let lead = school.lead();
    let (_, draft) = sequence(&lead);
    let mut taken = gpc("m", "m");
    taken["id"] = json!("c090554b-55fd-56e2-92da-2bfe29aa5983");
    let items = [
        gpc("M", "m"),
        gpc("m", "/m/"),
        json!({"kind": "gpc"}),
        json!({"kind": "oral_skill"}),
        json!({"kind": "exception_word", "label": "the", "gpc": {"grapheme": "m", "phoneme": "m"}}),
        json!({"kind": "word_part", "label": "-ing", "keyword": "king"}),
        taken,
    ];
    let refused = save(&lead, &draft, &[step("One", &[lesson("a", &[]), lesson("b", &items)])]);
    let fields: Vec<String> = refused
        .problem(422, "invalid")
        .iter()
        .map(|line| line.split(':').next().unwrap().to_owned())
        .collect();
    let expected =
        ["0].gpc.grapheme", "1].gpc.phoneme", "2].gpc", "3].label", "4].gpc", "5].keyword", "6].id"];
    assert_eq!(fields, expected.map(|field| format!("steps[0].lessons[1].items[{field}")));
    // What the types themselves refuse.
    let unknown = save(&lead, &draft, &[step("One", &[lesson("a", &[json!({"kind": "sound"})])])]);
    assert!(unknown.problem(422, "invalid")[0].starts_with("steps[0].lessons[0].items[0].kind: "));
    let untitled = save(&lead, &draft, &[step(" ", &[])]).problem(422, "invalid");
    assert_eq!(untitled, ["steps[0].title: must not be empty"]);
    let crowded: Vec<Value> =
        (0..31).map(|n| json!({"kind": "word_part", "label": format!("-{n}")})).collect();
    let crowded = save(&lead, &draft, &[step("One", &[lesson("a", &crowded)])]).problem(422, "invalid");
    assert_eq!(crowded, ["steps[0].lessons[0].items: holds 31; at most 30 are possible"]);
    assert_eq!(lead.get(&draft).expect(200), json!({"steps": []}));
}

#[test]
fn an_unsound_draft_is_kept_analysed_and_not_published() {
    let school = School::start();
    let lead = school.lead();
    let (id, draft) = sequence(&lead);
    let versions = format!("/sequences/{id}/versions");
    assert_eq!(
        publish(&lead, &id, "2026-09-01").problem(422, "not_publishable"),
        ["steps: the sequence has no steps"]
    );
    // Empty places, a pair new twice, a word new twice whatever its case.
    let word = |label: &str| json!({"kind": "exception_word", "label": label});
    let steps = [
        step("One", &[lesson("a", &[gpc("m", "m"), word("the")]), lesson("b", &[])]),
        step("Two", &[]),
        step(
            "Three",
            &[lesson("c", &[word("The"), gpc("m", "m"), gpc("o", "ɒ"), gpc("d", "d"), gpc("e", "e")])],
        ),
    ];
    save(&lead, &draft, &steps).expect(200);
    let refused = publish(&lead, &id, "2026-09-01").problem(422, "not_publishable");
    let faults = [
        "steps[0].lessons[1].items: lesson \"b\" teaches nothing",
        "steps[1].lessons: step \"Two\" has no lessons",
        "steps[2].lessons[0].items[0]: \"The\" is already taught at steps[0].lessons[0].items[1]; use a review to go back to it",
        "steps[2].lessons[0].items[1]: \"m /m/\" is already taught at steps[0].lessons[0].items[0]; use a review to go back to it",
    ];
    assert_eq!(refused, faults);
    assert_eq!(lead.get(&versions).expect(200)["items"], json!([]), "nothing was written");
    let analysis = lead.get(&format!("{draft}/analysis")).expect(200);
    assert_eq!(
        (&analysis["steps"], &analysis["lessons"], &analysis["publishable"]),
        (&json!(3), &json!(3), &json!(false))
    );
    let severities = column(&analysis["findings"], "severity");
    assert_eq!(severities, ["fault", "fault", "fault", "fault", "advice"]);
    assert_eq!(analysis["findings"][4]["field"], "steps[2].lessons[0]");
    assert_eq!(analysis["items"][0], json!({"kind": "gpc", "count": 5}));
    // Advice alone stands in nobody's way; two sounds of one spelling are two pairs.
    let sound =
        [step("One", &[lesson("a", &[gpc("ow", "aʊ"), gpc("ow", "əʊ"), gpc("d", "d"), gpc("e", "e")])])];
    save(&lead, &draft, &sound).expect(200);
    publish(&lead, &id, "2026-09-01").expect(201);
}

#[test]
fn a_version_never_changes_and_the_next_one_takes_effect_on_its_day() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (id, first) = school.sequence();
    let path = format!("/sequences/{id}/versions");
    let group = school.group("Alder", &id, &[]);
    let draft = format!("/sequences/{id}/draft");
    let before = lead.get(&draft).expect(200);
    // The second step goes first.
    save(&lead, &draft, &[before["steps"][1].clone(), before["steps"][0].clone()]).expect(200);
    let made = lead.post(&path, json!({"effective_on": "2026-11-30", "note": "Step 2 first"}));
    let second = made.expect(201);
    assert_eq!(made.header("Location"), format!("/api/v1{path}/{}", text(&second["id"])));
    assert_eq!(
        (&second["number"], &second["effective_on"], &second["note"]),
        (&json!(2), &json!("2026-11-30"), &json!("Step 2 first"))
    );
    assert_eq!(second["published_by"], school.staff_id("lead"));
    let listed = lead.get(&path).expect(200);
    assert_eq!(column(&listed["items"], "id"), [text(&second["id"]), text(&first["id"])]);
    assert_eq!(lead.get(&format!("{path}/{}", text(&first["id"]))).expect(200), first);
    let read = lead.get(&format!("{path}/{}", text(&second["id"]))).expect(200);
    assert_eq!(read["steps"], lead.get(&draft).expect(200)["steps"]);
    // A GPC's id is the pair's, whatever the place and the version.
    assert_eq!(item_ids(&read, 2), item_ids(&first, 0));

    let next = |on: &str| {
        let next = lead.get(&format!("/groups/{group}/next-lesson?on={on}")).expect(200);
        (text(&next["version_id"]), text(&next["lesson"]["title"]))
    };
    assert_eq!(next("2026-11-29"), (text(&first["id"]), "m and o".into()));
    assert_eq!(next("2026-11-30"), (text(&second["id"]), "e".into()));
    lead.get(&format!("/groups/{group}/next-lesson?on=2026-08-31")).problem(404, "not_found");

    let early = publish(&lead, &id, "2026-11-29").problem(422, "invalid");
    assert_eq!(early, ["effective_on: lies before the day an earlier published version takes effect"]);
    // On the same day the later one counts.
    let mut steps = lead.get(&draft).expect(200)["steps"].as_array().unwrap().clone();
    steps[0]["title"] = json!("First");
    save(&lead, &draft, &steps).expect(200);
    let third = publish(&lead, &id, "2026-11-30").expect(201);
    assert_eq!((&third["number"], next("2026-11-30").0), (&json!(3), text(&third["id"])));
    lead.get(&format!("{path}/{group}")).problem(404, "not_found");
}

#[test]
fn a_pair_has_one_id_in_every_sequence_and_version() {
    let school = School::start();
    let lead = school.lead();
    let mut ids = Vec::new();
    for (name, place) in [("One", 0), ("Two", 1)] {
        let id = text(&lead.post("/sequences", json!({"name": name})).expect(201)["id"]);
        let draft = format!("/sequences/{id}/draft");
        let mut lessons = vec![lesson("other", &[gpc("d", "d")])];
        // A decomposed or padded spelling is the same pair.
        lessons.insert(place, lesson("igh", &[gpc(" igh ", "aɪ")]));
        save(&lead, &draft, &[step("S", &lessons)]).expect(200);
        let version = text(&publish(&lead, &id, "2026-09-01").expect(201)["id"]);
        let content = lead.get(&format!("/sequences/{id}/versions/{version}")).expect(200);
        ids.push(item_ids(&content, place)[0].clone());
    }
    let check = school.gpc_check("igh", &[("igh", "aɪ")]).0;
    let checks = lead.get("/checks").expect(200);
    assert_eq!(checks["items"][0]["id"], check);
    ids.push(text(&checks["items"][0]["items"][0]["gpc_id"]));
    // The published identity of this pair, which every stored record rests on.
    assert_eq!(ids, ["c090554b-55fd-56e2-92da-2bfe29aa5983"; 3]);
    assert_eq!(column(&lead.get("/sequences").expect(200)["items"], "name"), ["One", "Two"]);
}

#[test]
fn a_corrected_label_changes_no_record_and_no_count() {
    let school = School::start();
    school.calendar();
    let lead = school.lead();
    let (id, draft) = sequence(&lead);
    let mut duck = gpc("ck", "k");
    duck["keyword"] = json!("dukc");
    let items = [duck, json!({"kind": "exception_word", "label": "siad"})];
    save(&lead, &draft, &[step("One", &[lesson("ck", &items), lesson("e", &[gpc("e", "e")])])]).expect(200);
    let first = text(&publish(&lead, &id, "2026-09-01").expect(201)["id"]);
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &id, &[&pupils["Zoe"], &pupils["Max"]]);
    let content = lead.get(&format!("/sequences/{id}/versions/{first}")).expect(200);
    let lessons = lesson_ids(&content);
    let absent = json!({"register": [{"pupil_id": pupils["Max"], "mark": "absent"}]});
    for (on, outcome) in [("2026-11-09", "delivered"), ("2026-11-10", "retaught"), ("2026-11-11", "retaught")]
    {
        school.log_lesson(&lead, &group, on, &lessons[0], outcome, &absent).expect(201);
    }
    let logs = format!("/groups/{group}/lesson-records");
    let coverage = format!("/groups/{group}/coverage");
    let learned = format!("/pupils/{}/coverage", pupils["Zoe"]);
    let before =
        (lead.get(&logs).expect(200), lead.get(&coverage).expect(200), lead.get(&learned).expect(200));
    assert_eq!(before.0["items"].as_array().unwrap().len(), 3);

    // Keyword and word put right; the item keeps its id.
    let mut steps = content["steps"].as_array().unwrap().clone();
    steps[0]["lessons"][0]["items"][0]["keyword"] = json!("duck");
    steps[0]["lessons"][0]["items"][1]["label"] = json!("said");
    let corrected = save(&lead, &draft, &steps).expect(200);
    assert_eq!(item_ids(&corrected, 0), item_ids(&content, 0));
    let second = text(&publish(&lead, &id, TODAY).expect(201)["id"]);

    assert_eq!(lead.get(&logs).expect(200), before.0);
    assert_eq!(lead.get(&coverage).expect(200), before.1);
    assert_eq!(lead.get(&learned).expect(200), before.2);
    assert_eq!(school.next_lesson(&group).0, "e");
    // Then and now, by the same id.
    let label = |version: &str| {
        let content = lead.get(&format!("/sequences/{id}/versions/{version}")).expect(200);
        let items = &content["steps"][0]["lessons"][0]["items"];
        (text(&items[0]["keyword"]), text(&items[1]["label"]), text(&items[1]["id"]))
    };
    let item = item_ids(&content, 0)[1].clone();
    assert_eq!(label(&first), ("dukc".into(), "siad".into(), item.clone()));
    assert_eq!(label(&second), ("duck".into(), "said".into(), item));
}

#[test]
fn of_two_leads_who_edit_at_once_the_second_is_told() {
    let school = School::start();
    let (one, two) = (school.lead(), school.staff("lead:2"));
    let (_, draft) = sequence(&one);
    let (seen_by_one, seen_by_two) = (one.get(&draft).etag(), two.get(&draft).etag());
    assert_eq!(seen_by_one, seen_by_two);
    let body = |title: &str| json!({"steps": [step(title, &[])]});
    let saved = one.put(&draft, &seen_by_one, body("from the first"));
    saved.expect(200);
    two.put(&draft, &seen_by_two, body("from the second")).problem(412, "stale");
    two.call("PUT", &draft, Some(&body("from the second"))).problem(428, "precondition_required");
    assert_eq!(two.get(&draft).expect(200)["steps"][0]["title"], "from the first");
    // Having read what is there, she goes on from it.
    two.put(&draft, &two.get(&draft).etag(), body("from the second")).expect(200);
    one.put(&draft, &saved.etag(), body("from the first again")).problem(412, "stale");
}

#[test]
fn a_step_taken_out_keeps_its_ids_for_when_it_comes_back() {
    let school = School::start();
    let lead = school.lead();
    let (id, content) = school.sequence();
    let draft = format!("/sequences/{id}/draft");
    save(&lead, &draft, &[content["steps"][0].clone()]).expect(200);
    let steps = content["steps"].as_array().unwrap();
    let back = save(&lead, &draft, steps).expect(200);
    assert_eq!(back["steps"], content["steps"]);
}

#[test]
fn an_exception_word_is_one_word() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Other"})).expect(201)["id"]);
    let path = format!("/sequences/{id}/draft");
    let item = json!({"kind": "exception_word", "label": "Mr and Mrs"});
    let draft = json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": [item]}]}]});
    let said = lead.put(&path, &lead.get(&path).etag(), draft).problem(422, "invalid");
    assert!(said[0].starts_with("steps[0].lessons[0].items[0].label: must be one word"), "{said:?}");
}

#[test]
fn a_draft_without_ids_keeps_the_exception_words_it_had() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let lead = school.lead();
    school.log_lesson(&lead, &group, TODAY, &lesson_ids(&content)[1], "delivered", &json!({})).expect(201);
    let path = format!("/sequences/{sequence}/draft");
    let the = item_ids(&content, 1)[1].clone();
    let word = |label: &str| json!({"kind": "exception_word", "label": label});
    let save = |items: Vec<Value>| {
        let lessons = json!([{"title": "Words", "items": items}]);
        let body = json!({"steps": [{"title": "Step 1", "lessons": lessons}]});
        item_ids(&lead.put(&path, &lead.get(&path).etag(), body).expect(200), 0)
    };
    // Typed anew, in another lesson and in capitals or not: the word is the word that was taught.
    let ids = save(vec![word("to"), word("the")]);
    assert_eq!(ids[1], the);
    assert_ne!(ids[0], the);
    // Standing twice, one of them is it; one that is named by its id leaves nothing for the other.
    let twice = save(vec![word("the"), word("the")]);
    assert_eq!(twice[0], the);
    assert_ne!(twice[1], the);
    let mut named = word("the");
    named["id"] = json!(the);
    let named = save(vec![word("the"), named]);
    assert_eq!(named[1], the);
    assert_ne!(named[0], the);
    // Out of the draft and back: what was published knows it still. Another kind is another thing.
    save(vec![word("to")]);
    let back = save(vec![json!({"kind": "spelling_rule", "label": "the"}), word("the")]);
    assert_eq!(back[1], the);
    assert_ne!(back[0], the);
    lead.post(&format!("/sequences/{sequence}/versions"), json!({"effective_on": "2026-11-26"})).expect(201);
    let coverage = lead.get(&format!("/pupils/{}/coverage", pupils["Zoe"])).expect(200);
    assert!(column(&coverage["items"], "item_id").contains(&the), "{coverage}");
}

#[test]
fn two_clicks_are_one_version() {
    let school = School::start();
    let lead = school.lead();
    let (id, draft) = sequence(&lead);
    let first = [step("One", &[lesson("m", &[gpc("m", "m")])])];
    let saved = save(&lead, &draft, &first).expect(200);
    publish(&lead, &id, "2026-09-01").expect(201);
    let again = publish(&lead, &id, "2026-09-01");
    assert_eq!(again.problem(409, "conflict").len(), 0);
    let detail = text(&again.json()["detail"]);
    assert!(detail.contains("what version 1 says, which takes effect on 2026-09-01"), "{detail}");
    publish(&lead, &id, "2026-12-01").problem(409, "conflict");
    // Something else is something new, and so is what was taken out of the latest version again.
    let mut more = saved["steps"].as_array().unwrap().clone();
    more[0]["title"] = json!("First");
    save(&lead, &draft, &more).expect(200);
    publish(&lead, &id, "2026-12-01").expect(201);
    save(&lead, &draft, saved["steps"].as_array().unwrap()).expect(200);
    publish(&lead, &id, "2026-12-02").expect(201);
    let versions = lead.get(&format!("/sequences/{id}/versions")).expect(200);
    assert_eq!(versions["items"].as_array().unwrap().len(), 3);
}
