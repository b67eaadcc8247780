//! Two devices that did the same or another thing: whose stands, and that nobody's is lost or done unseen.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Replica, Value, json, new_id, text};

fn not_delivered(alder: &Alder, on: &str) -> Value {
    alder.lesson(0, on, &json!({"outcome": "not_delivered", "reason": "fire_drill"}))
}

#[test]
fn what_was_found_the_same_is_not_ones_own_to_change_unseen() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    // Two lessons in one version, and the other device says the same of one of them.
    let both = [
        one.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({}))),
        one.op("lesson.record", None, alder.lesson(1, "2026-11-24", &json!({}))),
    ];
    let first = one.send(&[&both[0], &both[1]], 0).expect(200)["outcomes"].clone();
    let same = other.push("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    assert_eq!((&same["outcome"], &same["v"]), (&json!("applied"), &first[0]["v"]));
    // Of the other lesson it has seen nothing: what it says of that is a clash.
    let clash = other.push("lesson.record", None, not_delivered(&alder, "2026-11-24"));
    assert_eq!((&clash["outcome"], &clash["v"]), (&json!("superseded"), &first[1]["v"]));
    let id = text(&clash["current"]["id"]);
    assert_eq!(other.push("lesson.delete", None, json!({"id": id}))["outcome"], "superseded");
    assert_eq!(alder.records().iter().filter(|record| record["outcome"] == "delivered").count(), 2);
}

#[test]
fn an_edit_that_waited_brings_no_deleted_lesson_back() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let record = || alder.lesson(0, "2026-11-23", &json!({}));
    assert_eq!(device.push("lesson.record", None, record())["outcome"], "applied");
    let lead = alder.school.lead();
    let path = format!("/lesson-records/{}", text(&alder.records()[0]["id"]));
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    // The edit was made before the first operation was answered: it knows of no version.
    let edit =
        device.push("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent")));
    assert_eq!((&edit["outcome"], &edit["code"]), (&json!("rejected"), &json!("gone")));
    assert!(alder.records().is_empty());
    // A device that had nothing to do with it records the lesson anew, and may delete it and think again.
    let mut other = alder.school.replica("teacher");
    assert_eq!(other.push("lesson.record", None, record())["outcome"], "applied");
    let id = text(&alder.records()[0]["id"]);
    assert_eq!(other.push("lesson.delete", None, json!({"id": id}))["outcome"], "applied");
    assert_eq!(other.push("lesson.record", None, record())["outcome"], "applied");
    assert_eq!(alder.records().len(), 1);
}

/// Whoever has read the answer and seen the lesson go means a new one.
#[test]
fn a_lesson_recorded_after_its_deletion_was_seen_is_a_new_one() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let record = || alder.lesson(0, "2026-11-23", &json!({}));
    assert_eq!(device.push("lesson.record", None, record())["outcome"], "applied");
    let lead = alder.school.lead();
    let path = format!("/lesson-records/{}", text(&alder.records()[0]["id"]));
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    let anew = device.op("lesson.record", None, record());
    assert_eq!(device.send(&[&anew], 1).expect(200)["outcomes"][0]["outcome"], "applied");
    assert_eq!(alder.records().len(), 1);
}

#[test]
fn a_catch_up_id_stands_for_one_record() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    device.push(
        "lesson.record",
        None,
        alder.lesson(
            0,
            "2026-11-23",
            &json!({"register": [
        {"pupil_id": alder.pupils["Zoe"], "mark": "absent"}, {"pupil_id": alder.pupils["Max"], "mark": "absent"}]}),
        ),
    );
    let item = alder.content["steps"][0]["lessons"][0]["items"][0]["id"].clone();
    let id = new_id();
    let said = |on: &str, pupils: Value| json!({"group_id": alder.group, "id": id, "on": on, "items": [item], "pupil_ids": pupils});
    let first = device.push("catch_up.record", None, said("2026-11-24", json!([alder.pupils["Zoe"]])));
    assert_eq!(first["outcome"], "applied");
    let became =
        |outcome: &Value| (text(&outcome["outcome"]), text(&outcome["code"]), text(&outcome["field"]));
    let conflict = || ("rejected".to_owned(), "conflict".to_owned(), "id".to_owned());
    let more = device.push(
        "catch_up.record",
        None,
        said("2026-11-24", json!([alder.pupils["Zoe"], alder.pupils["Max"]])),
    );
    assert_eq!(became(&more), conflict());
    let later = device.push("catch_up.record", None, said("2026-11-25", json!([alder.pupils["Zoe"]])));
    assert_eq!(became(&later), conflict());
    let lead = alder.school.lead();
    let path = format!("/catch-up-records/{id}");
    lead.delete(&path, &lead.get(&path).etag()).expect(204);
    let gone = device.push("catch_up.record", None, said("2026-11-24", json!([alder.pupils["Zoe"]])));
    assert_eq!(became(&gone), ("rejected".to_owned(), "gone".to_owned(), "id".to_owned()));
}

#[test]
fn catch_up_is_taken_back_once_and_open_again() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let away = json!({"register": [{"pupil_id": alder.pupils["Zoe"], "mark": "absent"}]});
    device.push("lesson.record", None, alder.lesson(0, "2026-11-23", &away));
    let item = alder.content["steps"][0]["lessons"][0]["items"][0]["id"].clone();
    let stage = |device: &Replica| {
        let open = device.client.get(&format!("/groups/{}/catch-up", alder.group)).expect(200);
        let of = |one: &&Value| one["item_id"] == item;
        open["pupils"][0]["items"].as_array().unwrap().iter().find(of).unwrap()["stage"].clone()
    };
    assert_eq!(stage(&device), "to_teach");
    let id = new_id();
    let said = json!({"group_id": alder.group, "id": id, "on": "2026-11-24", "items": [item], "pupil_ids": [alder.pupils["Zoe"]]});
    assert_eq!(device.push("catch_up.record", None, said)["outcome"], "applied");
    assert_eq!(stage(&device), "to_check");
    for extra in [json!({"id": id, "on": "2026-11-24"}), json!({})] {
        let refused = device.push("catch_up.delete", None, extra);
        assert_eq!((&refused["outcome"], &refused["code"]), (&json!("rejected"), &json!("invalid")));
    }
    // Whose group it is not does not take it back.
    alder.school.staff("teacher:9");
    let mut other = alder.school.replica("teacher:9");
    let hidden = other.push("catch_up.delete", None, json!({"id": id}));
    assert_eq!((&hidden["outcome"], &hidden["code"]), (&json!("rejected"), &json!("not_found")));
    assert_eq!(stage(&device), "to_check");
    for _ in 0..2 {
        assert_eq!(device.push("catch_up.delete", None, json!({"id": id}))["outcome"], "applied");
        assert_eq!(stage(&device), "to_teach");
    }
    let history = device.client.get(&format!("/catch-up-records/{id}/history")).expect(200);
    assert_eq!(history["items"].as_array().unwrap().len(), 2, "{history}");
    let never = device.push("catch_up.delete", None, json!({"id": new_id()}));
    assert_eq!(
        (&never["outcome"], &never["code"], &never["field"]),
        (&json!("rejected"), &json!("not_found"), &json!("id"))
    );
    // A version that is none is refused of any kind, needed or not.
    let odd = device.push("catch_up.delete", Some("v1"), json!({"id": id}));
    assert_eq!((&odd["code"], &odd["field"]), (&json!("invalid"), &json!("base_v")));
}

#[test]
fn ids_that_devices_make_sort_by_time() {
    let alder = Alder::new();
    let device = alder.school.replica("teacher");
    let random = "0d5e1a64-9d7c-4a0e-8f0e-1f4c5b8c2d10";
    let new = |id: &str, tablet: &str| json!({"id": id, "tablet_id": tablet});
    device.client.post("/tablets", json!({"id": random, "name": "Tablet"})).problem(422, "invalid");
    device.client.post("/sync/replicas", new(random, &device.tablet)).problem(422, "invalid");
    let mut device = device;
    let mut op = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    op["op_id"] = json!(random);
    device.send(&[&op], 0).problem(422, "invalid");
    device.n = 0;
    let sets = [
        (
            "catch_up.record",
            "id",
            json!({"group_id": alder.group, "on": "2026-11-24", "items": [], "pupil_ids": []}),
        ),
        (
            "placement.begin",
            "placement_id",
            json!({"pupil_id": alder.pupils["Zoe"], "sequence_id": alder.content["sequence_id"]}),
        ),
        (
            "response.correct",
            "id",
            json!({"round_id": new_id(), "pupil_id": alder.pupils["Zoe"], "response_id": new_id(), "outcome": "right"}),
        ),
    ];
    for (kind, field, mut set) in sets {
        set[field] = json!(random);
        let refused = device.push(kind, None, set);
        assert_eq!((&refused["code"], &refused["field"]), (&json!("invalid"), &json!(field)), "{kind}");
        assert_eq!(refused["detail"], "must be a UUID of version 7", "{kind}");
    }
}

/// Two adults of one group, each on a tablet, and a round that asks a check.
struct Asked {
    alder: Alder,
    adults: [Replica; 2],
    round: String,
    check: String,
    items: Vec<String>,
    /// The answer sent last.
    last: String,
}

impl Asked {
    fn new(words: &[&str]) -> Self {
        let alder = Alder::new();
        let who = ["teacher", "assistant"];
        let adult = |key: &&str| json!({"staff_id": alder.school.staff_id(key), "from": "2026-09-01"});
        alder.adults(&who.iter().map(adult).collect());
        let (check, items) = alder.school.word_check("Words", words);
        let round = alder.school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
        let adults = who.map(|key| alder.school.replica(key));
        Self { alder, adults, round, check, items, last: String::new() }
    }

    /// An adult's operation on the sitting of this id.
    fn op(&mut self, who: usize, kind: &str, sitting: &str, more: Value) -> Value {
        let mut set =
            json!({"round_id": self.round, "pupil_id": self.alder.pupils["Zoe"], "on": "2026-11-25"});
        set[if kind == "begin" { "id" } else { "sitting_id" }] = json!(sitting);
        more.as_object().unwrap().iter().for_each(|(field, value)| set[field] = value.clone());
        self.adults[who].push(&format!("sitting.{kind}"), None, set)
    }

    fn begin(&mut self, who: usize) -> String {
        let (sitting, check) = (new_id(), json!({"check_id": self.check}));
        assert_eq!(self.op(who, "begin", &sitting, check)["outcome"], "applied");
        sitting
    }

    fn answer(&mut self, who: usize, sitting: &str, item: usize, outcome: &str) -> Value {
        self.last = new_id();
        let one = json!({"id": self.last, "item_id": self.items[item], "outcome": outcome});
        self.op(who, "answer", sitting, json!({"answers": [one]}))
    }
}

#[test]
fn two_adults_who_asked_one_pupil_offline_both_keep_what_was_answered() {
    let mut asked = Asked::new(&["mat", "mod", "dot"]);
    // Neither knew of the other. The one whose work comes in first has the sitting.
    let first = asked.begin(0);
    assert_eq!(asked.answer(0, &first, 0, "right")["outcome"], "applied");
    // Who asks over the line is told at once; who was away has asked by now.
    let path = format!("/check-rounds/{}/pupils/{}/sittings", asked.round, asked.alder.pupils["Zoe"]);
    asked.adults[1].client.post(&path, json!({"check_id": asked.check})).problem(409, "conflict");
    let second = asked.begin(1);
    // What the first did not ask is taken, and taken back as in any sitting.
    assert_eq!(asked.answer(1, &second, 1, "wrong")["outcome"], "applied");
    assert_eq!(asked.op(1, "undo", &second, json!({"id": new_id()}))["outcome"], "applied");
    assert_eq!(asked.answer(1, &second, 1, "right")["outcome"], "applied");
    // Of what both asked the first answer stands; the other is told, and is kept.
    let clash = asked.answer(1, &second, 0, "wrong");
    assert_eq!((&clash["outcome"], &clash["current"]["outcome"]), (&json!("superseded"), &json!("right")));
    // Taken back by its id it takes no other answer with it; and by its id one goes that is not the last.
    let back = |asked: &mut Asked, of: &str| asked.op(1, "undo", &second, json!({"id": new_id(), "of": of}));
    let aside = asked.last.clone();
    assert_eq!(back(&mut asked, &aside)["outcome"], "applied");
    assert_eq!(asked.answer(1, &second, 2, "wrong")["outcome"], "applied");
    let third = asked.last.clone();
    assert_eq!(back(&mut asked, &third)["outcome"], "applied");
    assert_eq!(back(&mut asked, &third)["outcome"], "applied", "once is once");
    // It is shown with whose it was to whoever may see the answers, and is none of them.
    let of = format!("/check-rounds/{}/pupils/{}", asked.round, asked.alder.pupils["Zoe"]);
    let aside = asked.adults[0].client.get(&format!("{of}/set-aside")).expect(200)["items"].clone();
    let by = asked.alder.school.staff_id("assistant");
    let said = ["check_id", "item_id", "outcome", "by"].map(|field| aside[0][field].clone());
    assert_eq!(json!(said), json!([asked.check, asked.items[0], "wrong", by]));
    assert_eq!(aside.as_array().unwrap().len(), 1, "{aside}");
    // To one's own answer another is none.
    assert_eq!(asked.answer(1, &second, 1, "wrong")["outcome"], "rejected");
    assert_eq!(asked.answer(0, &first, 2, "no_response")["outcome"], "applied");
    for (who, sitting) in [(0, &first), (1, &second)] {
        assert_eq!(asked.op(who, "finish", sitting, json!({}))["outcome"], "applied", "{who}");
    }
    let path = format!("/check-rounds/{}/pupils/{}/responses", asked.round, asked.alder.pupils["Zoe"]);
    let given = asked.alder.school.lead().get(&path).expect(200)["items"].clone();
    let standing: Vec<(String, String)> = given
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| !given.as_array().unwrap().iter().any(|other| other["corrects"] == one["id"]))
        .filter(|one| one["outcome"] != "not_offered")
        .map(|one| (text(&one["item_id"]), text(&one["outcome"])))
        .collect();
    let items = &asked.items;
    let standing = &standing;
    let stands =
        |item: usize| standing.iter().filter(move |(of, _)| *of == items[item]).map(|(_, is)| is.as_str());
    assert_eq!(
        [0, 1, 2].map(|item| stands(item).collect::<Vec<_>>()),
        [["right"], ["right"], ["no_response"]]
    );
}

#[test]
fn a_placement_done_offline_is_of_its_day_and_of_who_had_the_pupil_then() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let (pupil, placement) = (json!(alder.pupils["Zoe"]), new_id());
    let begin = |id: &str, on: &str| json!({"pupil_id": pupil, "placement_id": id, "sequence_id": alder.content["sequence_id"], "on": on});
    // Yesterday was the teacher's last day with the pupil.
    alder.adults(
        &json!([{"staff_id": alder.school.staff_id("teacher"), "from": "2026-09-01", "until": "2026-11-24"}]),
    );
    assert_eq!(device.push("placement.begin", None, begin(&new_id(), "2026-11-25"))["code"], "not_found");
    assert_eq!(device.push("placement.begin", None, begin(&placement, "2026-11-24"))["outcome"], "applied");
    let path = format!("/pupils/{}/placements/{placement}", alder.pupils["Zoe"]);
    let shown = alder.school.lead().get(&path).expect(200);
    assert_eq!(shown["opens_on"], "2026-11-24");
    let answer = |on: &str| {
        let one = json!({"id": new_id(), "item_id": shown["next"]["item_id"], "outcome": "right"});
        json!({"pupil_id": pupil, "placement_id": placement, "on": on, "answers": [one]})
    };
    assert_eq!(device.push("placement.answer", None, answer("2026-11-25"))["code"], "not_found");
    assert_eq!(device.push("placement.answer", None, answer("2026-11-24"))["outcome"], "applied");
    let end = json!({"pupil_id": pupil, "placement_id": placement, "on": "2026-11-24"});
    assert_eq!(device.push("placement.end", None, end)["outcome"], "applied");
    // The future and what is long gone are no days of it.
    let lead = alder.school.lead();
    for (on, says) in
        [("2026-11-26", "is in the future"), ("2026-10-01", "is longer ago than late records are taken")]
    {
        let new = json!({"sequence_id": alder.content["sequence_id"], "on": on});
        let refused =
            lead.post(&format!("/pupils/{}/placements", alder.pupils["Zoe"]), new).problem(422, "invalid");
        assert_eq!(refused, [format!("on: {says}")]);
    }
}

#[test]
fn a_correction_made_offline_is_of_who_had_the_pupil_then() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let (check, items) = alder.school.word_check("Words", &["mat"]);
    let round = alder.school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    let teacher = alder.school.staff("teacher");
    alder
        .school
        .answer(&teacher, (&round, &alder.pupils["Zoe"], &check), "2026-11-24", &[(&items[0], "wrong")])
        .expect(201);
    let given = alder
        .school
        .lead()
        .get(&format!("/check-rounds/{round}/pupils/{}/responses", alder.pupils["Zoe"]))
        .expect(200);
    alder.adults(
        &json!([{"staff_id": alder.school.staff_id("teacher"), "from": "2026-09-01", "until": "2026-11-24"}]),
    );
    let corrected = |on: &str| {
        json!({"round_id": round, "pupil_id": alder.pupils["Zoe"], "id": new_id(), "response_id": given["items"][0]["id"],
               "outcome": "right", "on": on})
    };
    assert_eq!(device.push("response.correct", None, corrected("2026-11-25"))["code"], "not_found");
    assert_eq!(device.push("response.correct", None, corrected("2026-11-24"))["outcome"], "applied");
}

#[test]
fn what_came_without_its_beginning_is_refused_and_holds_back_nothing() {
    let mut asked = Asked::new(&["mat", "mod"]);
    let sitting = new_id();
    let early = asked.answer(0, &sitting, 0, "right");
    assert_eq!((&early["outcome"], &early["code"]), (&json!("rejected"), &json!("not_found")));
    let wrong = asked.op(0, "begin", &sitting, json!({"check_id": new_id()}));
    assert_eq!((&wrong["outcome"], &wrong["field"]), (&json!("rejected"), &json!("check_id")));
    assert_eq!(asked.answer(0, &sitting, 0, "right")["outcome"], "rejected");
    let check = json!({"check_id": asked.check});
    assert_eq!(asked.op(0, "begin", &sitting, check)["outcome"], "applied");
    assert_eq!(asked.answer(0, &sitting, 1, "right")["outcome"], "applied");
}
