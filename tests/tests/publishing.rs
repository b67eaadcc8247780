//! Publishing a revised sequence: what differs, what it would change for each group, from when, and what it
//! leaves as it is. Worked by hand.
#![allow(clippy::unwrap_used)]

mod revised;

use plumbline_tests::{TODAY, Value, column, item_ids, json, lesson_ids, text};
use revised::{letters, place, places, start};

#[test]
fn two_versions_are_compared_by_what_they_teach() {
    let it = start();
    let path = format!("/sequences/{}", it.sequence);
    let (draft, of_first) =
        (format!("{path}/draft/changes"), format!("{path}/versions/{}/changes", it.first_id()));
    // Of the first version all is new; the draft as it was published differs in nothing.
    let all = it.lead.get(&of_first).expect(200);
    let added: Vec<Value> = all["added"].as_array().unwrap().iter().map(|one| one["item"].clone()).collect();
    assert_eq!((&all["since"], letters(&json!(added)).join("")), (&json!(null), "modeng".into()));
    let same = it.lead.get(&draft).expect(200);
    assert_eq!(same["since"]["number"], 1);
    let lists = ["added", "withdrawn", "moved", "relabelled", "lessons_added", "lessons_withdrawn"];
    for list in lists.into_iter().chain(["lessons_moved", "lessons_retitled"]) {
        assert_eq!(same[list], json!([]), "{list}");
    }
    it.revise();
    let found = it.lead.get(&draft).expect(200);
    let items = |list: &str| -> Vec<(String, String)> {
        let line = |one: &Value| {
            let at = |place: &Value| format!("{}.{}", place["step"], place["lesson"]);
            let to = if one["to"].is_null() {
                at(&one["place"])
            } else {
                at(&one["from"]) + " " + &at(&one["to"])
            };
            (text(&one["item"]["label"]), to)
        };
        found[list].as_array().unwrap().iter().map(line).collect()
    };
    assert_eq!(items("added"), [("s /s/".into(), "1.2".into())]);
    assert_eq!(items("withdrawn"), [("o /ɒ/".into(), "1.2".into())]);
    // g stands in another lesson and is the same pair; d only makes room for e.
    assert_eq!(items("moved"), [("e /e/".into(), "2.1 1.3".into())]);
    assert_eq!(places(&found["lessons_added"]), ["s 1.2", "g 2.3"]);
    assert_eq!(places(&found["lessons_withdrawn"]), ["o 1.2", "g 2.3"]);
    // Published it says the same of itself, and of the version named.
    let second = it.published(TODAY);
    let published = format!("{path}/versions/{second}/changes");
    assert_eq!(it.lead.get(&published).expect(200), found);
    let named = it.lead.get(&format!("{published}?since={}", it.first_id()));
    assert_eq!(named.expect(200), found);
    assert_eq!(it.lead.get(&format!("{published}?since={second}")).expect(200)["added"], json!([]));
    let teacher = it.school.staff("teacher");
    assert_eq!(teacher.get(&published).expect(200), found);
    let (_, other) = it.school.sequence();
    let wrong = it.lead.get(&format!("{draft}?since={}", text(&other["id"]))).problem(422, "invalid");
    assert_eq!(wrong, ["since: is not a version of this sequence"]);
}

#[test]
fn a_revised_sequence_is_previewed_published_and_taught_beside_the_old_one() {
    let it = start();
    let [alder, rowan, elm] =
        [("Alder", "Zoe"), ("Rowan", "Ida"), ("Elm", "Ned")].map(|(name, pupil)| it.group(name, pupil));
    it.teach(&alder, &["m", "o", "d", "e"]);
    it.teach(&rowan, &["m", "o", "d"]);
    it.teach(&elm, &["m", "d"]);
    let report =
        || it.lead.get(&format!("/reports/attainment?half_term_id={}", it.half_terms[0])).expect(200);
    let (sounds, items) = it.school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let round = it.school.round("R", "2026-10-01", "2026-10-23", &[&sounds]);
    it.school
        .answer(
            &it.lead,
            (&round, &it.pupils["Zoe"], &sounds),
            "2026-10-12",
            &[(&items[0], "right"), (&items[1], "wrong")],
        )
        .expect(201);
    let before = report();
    // Four GPCs of Zoe, three of Ida, two of Ned.
    assert_eq!(before["school"]["gpcs"]["taught"], 9, "{before}");

    it.revise();
    let impact =
        it.lead.get(&format!("/sequences/{}/draft/impact?effective_on=2026-11-23", it.sequence)).expect(200);
    let totals =
        json!({"groups": 3, "gaps_created": 5, "gaps_closed": 1, "records_kept": 9, "records_lost": 0});
    assert_eq!(impact["totals"], totals);
    let first = json!({"id": it.first_id(), "number": 1});
    assert_eq!(impact["records"], json!([{"id": it.first_id(), "number": 1, "records": 9}]));
    assert_eq!(impact["staying"], json!([]));
    // Name, next as it is and by the draft, gaps created and closed, taught and withdrawn, lessons.
    let lines = [
        ("Alder", "n 2.2", "s 1.2", "s", "", "o", "o 1.2"),
        ("Elm", "o 1.2", "s 1.2", "s e", "o", "", ""),
        ("Rowan", "e 2.1", "s 1.2", "s e", "", "o", "o 1.2"),
    ];
    let groups = impact["groups"].as_array().unwrap();
    assert_eq!(groups.len(), 3);
    for (group, (name, next, then, created, closed, taught, lessons)) in groups.iter().zip(lines) {
        assert_eq!(
            (&group["name"], &group["version"], &group["in_the_way"]),
            (&json!(name), &first, &json!(null))
        );
        assert_eq!((place(&group["next_before"]), place(&group["next_after"])), (next.into(), then.into()));
        let said = |list: &str| letters(&group[list]).join(" ");
        assert_eq!((said("gaps_created"), said("gaps_closed")), (created.into(), closed.into()), "{name}");
        assert_eq!(said("taught_and_withdrawn"), taught, "{name}");
        assert_eq!(places(&group["lessons_withdrawn"]).join(" "), lessons, "{name}");
    }

    // Alder finishes the old one. What is published is what was looked at.
    let how = json!({"effective_on": "2026-11-23", "stay": [alder]});
    let path = format!("/sequences/{}/versions", it.sequence);
    let meanwhile = it.lead.with("If-Match", "\"v1\"").post(&path, how.clone());
    meanwhile.problem(412, "stale");
    let etag = it.lead.get(&format!("/sequences/{}/draft", it.sequence)).etag();
    let impact = it.lead.get(&format!("/sequences/{}/draft/impact", it.sequence));
    let changes = it.lead.get(&format!("/sequences/{}/draft/changes", it.sequence));
    assert_eq!((impact.etag(), changes.etag()), (etag.clone(), etag.clone()));
    let second = text(&it.lead.with("If-Match", &etag).post(&path, how).expect(201)["id"]);
    assert_eq!(it.next(&alder, TODAY), (1, "n".into()));
    assert_eq!(it.next(&rowan, "2026-11-22"), (1, "e".into()));
    assert_eq!(it.next(&rowan, TODAY), (2, "s".into()));
    let shown = it.lead.get(&format!("/groups/{alder}")).expect(200);
    assert_eq!(shown["version"], json!({"id": it.first_id(), "number": 1, "keeps": true}));
    let kept = json!([{"id": it.first_id(), "number": 1, "from": "2026-11-23", "until": null}]);
    assert_eq!(shown["kept_versions"], kept);
    let again = it.lead.get(&format!("/sequences/{}/draft/impact", it.sequence)).expect(200);
    assert_eq!(
        again["staying"],
        json!([{"group_id": alder, "name": "Alder", "version": first, "until": null}])
    );
    assert_eq!(column(&again["groups"], "name"), ["Elm", "Rowan"]);

    // A tablet that had not heard of it: the old lesson of g, which the new version has no more.
    let unknown = it.log(&rowan, "2026-11-24", "g", &json!({})).problem(422, "invalid");
    assert_eq!(unknown, ["lesson_id: the sequence version in force on that day has no such lesson"]);
    let late = it.log(&rowan, "2026-11-24", "g", &json!({"version_id": it.first_id()})).expect(201);
    assert_eq!(late["version_id"], it.first_id());
    let covered = it.lead.get(&format!("/pupils/{}/coverage", it.pupils["Ida"])).expect(200);
    assert_eq!(letters(&covered["items"]).len(), 4);
    assert!(letters(&covered["items"]).contains(&"g".to_owned()));
    // The pair was taught, in whatever lesson: with the others the group has come to the end.
    let content = it.version(&second);
    let new = lesson_ids(&content);
    for (slot, n) in [(1, 1), (2, 2), (3, 4)] {
        let more = json!({"slot": slot});
        it.school.log_lesson(&it.lead, &rowan, TODAY, &new[n], "delivered", &more).expect(201);
    }
    let next = it.lead.get(&format!("/groups/{rowan}/next-lesson")).expect(200);
    assert_eq!((&next["finished"], &next["lesson"]), (&json!(true), &json!(null)));
    assert_eq!(item_ids(&content, 5), item_ids(&it.first, 5));

    // Nothing of it changes the term that is over, nor any record.
    assert_eq!(report(), before);
    let totals = &it.lead.get(&format!("/sequences/{}/draft/impact", it.sequence)).expect(200)["totals"];
    assert_eq!((&totals["records_kept"], &totals["records_lost"]), (&json!(13), &json!(0)));
}

#[test]
fn a_day_with_records_of_another_version_after_it_is_refused() {
    let it = start();
    let [alder, rowan] = [("Alder", "Zoe"), ("Rowan", "Ida")].map(|(name, pupil)| it.group(name, pupil));
    for (on, letter) in [("2026-11-19", "m"), ("2026-11-23", "d"), ("2026-11-20", "o")] {
        it.log(&alder, on, letter, &json!({})).expect(201);
    }
    it.log(&rowan, "2026-11-18", "m", &json!({})).expect(201);
    it.revise();
    let from = |on: &str| it.publish(&json!({"effective_on": on}));
    let alder_has =
        "effective_on: Alder has 2 records of another version from that day on, the latest of 2026-11-23";
    let rowan_has =
        "effective_on: Rowan has 1 record of another version from that day on, the latest of 2026-11-18";
    assert_eq!(from("2026-11-20").problem(422, "invalid"), [alder_has]);
    let both = from("2026-11-18").problem(422, "invalid");
    assert_eq!(both, [alder_has.replace("2 rec", "3 rec"), rowan_has.into()]);
    assert_eq!(
        it.lead.get(&format!("/sequences/{}/versions", it.sequence)).expect(200)["items"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    let impact = format!("/sequences/{}/draft/impact?effective_on=2026-11-20", it.sequence);
    let impact = it.lead.get(&impact).expect(200);
    let way = json!({"records": 2, "latest_on": "2026-11-23"});
    assert_eq!(
        (&impact["groups"][0]["in_the_way"], &impact["groups"][1]["in_the_way"]),
        (&way, &json!(null))
    );
    // Letting that group stay resolves it, and so does a later day; who is no group of it is none here.
    let stray = it.publish(&json!({"effective_on": "2026-11-20", "stay": [alder, it.pupils["Zoe"]]}));
    assert_eq!(stray.problem(422, "invalid"), ["stay[1]: is not a group of this sequence"]);
    it.publish(&json!({"effective_on": "2026-11-20", "stay": [alder]})).expect(201);
    assert_eq!((it.next(&alder, TODAY).0, it.next(&rowan, TODAY).0), (1, 2));
    it.rename();
    assert_eq!(from("2026-11-24").expect(201)["number"], 3);
    assert_eq!((it.next(&rowan, "2026-11-23").0, it.next(&rowan, TODAY).0), (2, 3));
}

#[test]
fn a_draft_without_ids_is_taken_by_what_it_teaches() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.teach(&alder, &["m", "o"]);
    // As a file is imported: every lesson is drafted anew, s before o, and m in one lesson with g.
    let draft = |lessons: &[(&str, &[&str])]| {
        let lesson = |(title, letters): &(&str, &[&str])| {
            let mut items = Vec::new();
            for letter in *letters {
                let phoneme = if *letter == "o" { "ɒ" } else { letter };
                items.push(json!({"kind": "gpc", "gpc": {"grapheme": letter, "phoneme": phoneme}}));
            }
            json!({"title": title, "items": items})
        };
        let lessons: Vec<Value> = lessons.iter().map(lesson).collect();
        let path = format!("/sequences/{}/draft", it.sequence);
        let steps = json!({"steps": [{"title": "Step 1", "lessons": lessons}]});
        it.lead.put(&path, &it.lead.get(&path).etag(), steps).expect(200);
    };
    draft(&[("m", &["m"]), ("s", &["s"]), ("o", &["o"]), ("d", &["d"])]);
    let path = format!("/sequences/{}/draft/impact", it.sequence);
    let found = it.lead.get(&path).expect(200)["groups"][0].clone();
    assert_eq!(
        (letters(&found["gaps_created"]).join(" "), place(&found["next_after"])),
        ("s".into(), "s 1.2".into())
    );
    assert_eq!((&found["lessons_withdrawn"], &found["gaps_closed"]), (&json!([]), &json!([])));
    // Of a lesson only what was not taught in another is left, and delivered means that.
    draft(&[("m and g", &["m", "g"]), ("o", &["o"]), ("d", &["d"])]);
    let second = it.published("2026-11-23");
    let next = it.lead.get(&format!("/groups/{alder}/next-lesson")).expect(200);
    assert_eq!(
        (text(&next["lesson"]["title"]), letters(&next["lesson"]["items"])),
        ("m and g".into(), vec!["g".into()])
    );
    assert_eq!(next["lesson"]["begun"], true);
    let content = it.version(&second);
    let items = json!({"items": [next["lesson"]["items"][0]["id"]]});
    let log = |outcome: &str, more: &Value| {
        it.school.log_lesson(&it.lead, &alder, TODAY, &lesson_ids(&content)[0], outcome, more)
    };
    assert_eq!(log("delivered", &items).expect(201)["items"], items["items"]);
    assert_eq!(it.next(&alder, TODAY), (2, "d".into()));
}
