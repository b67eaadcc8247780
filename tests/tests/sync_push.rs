//! What devices send: each operation has one effect, and holds back no other.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, School, Value, json, new_id, text};

#[test]
fn a_lesson_recorded_offline_is_as_one_recorded_here() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    let outcome =
        one.push("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent")));
    assert_eq!(
        (&outcome["outcome"], &outcome["n"], &outcome["code"]),
        (&json!("applied"), &json!(1), &Value::Null)
    );
    let [record] = &alder.records()[..] else { panic!() };
    assert_eq!(
        record["register"][0]["mark"],
        if record["register"][0]["pupil_id"] == alder.pupils["Zoe"] { "absent" } else { "present" }
    );
    other.pull(500);
    let held = other.of("lesson_record");
    let got =
        alder.school.staff("teacher").get(&format!("/lesson-records/{}", text(&record["id"]))).expect(200);
    assert_eq!(held[&text(&record["id"])], got);
}

#[test]
fn a_lost_answer_is_answered_again_and_done_once() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let first = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    let second = device.op("lesson.record", None, alder.lesson(1, "2026-11-24", &json!({})));
    let answered = device.send(&[&first], 0).expect(200);
    // The answer never came: the same again, with the next one.
    let again = device.send(&[&first, &second], 0).expect(200);
    assert_eq!(again["outcomes"][0], answered["outcomes"][0]);
    assert_eq!((&again["last_n"], alder.records().len()), (&json!(2), 2));
    // In another order of keys it is the same operation.
    let mut turned = serde_json::Map::new();
    for (key, value) in first.as_object().unwrap().iter().rev() {
        turned.insert(key.clone(), value.clone());
    }
    assert_eq!(device.send(&[&Value::Object(turned)], 0).expect(200)["outcomes"][0], answered["outcomes"][0]);
}

#[test]
fn a_number_stands_for_one_operation() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let first = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    device.send(&[&first], 0).expect(200);
    let mut other = first.clone();
    other["set"]["on"] = json!("2026-11-24");
    device.send(&[&other], 0).problem(422, "op_reused");
    // A gap names the number that is due.
    let mut later = first.clone();
    later["n"] = json!(5);
    let gap = device.send(&[&later], 0);
    gap.problem(409, "op_gap");
    assert_eq!(gap.json()["expected"], 2);
    // What was acknowledged is not answered again.
    device.send(&[], 1).expect(200);
    device.send(&[&first], 1).problem(422, "op_reused");
    // Numbers within a push follow one another.
    let mut apart = first.clone();
    apart["n"] = json!(3);
    device
        .send(&[&json!({"n": 2, "op_id": new_id(), "type": "lesson.record", "set": {}}), &apart, &apart], 0)
        .problem(422, "invalid");
    assert_eq!(alder.records().len(), 1);
}

#[test]
fn what_is_refused_holds_back_nothing() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let ops = [
        device.op("lesson.record", None, alder.lesson(0, "2026-12-09", &json!({}))),
        device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({"school_id": "x"}))),
        device.op("lesson.invent", None, json!({})),
        device.op("lesson.record", None, json!({"group_id": new_id(), "on": "2026-11-23", "lesson_id": alder.lessons[0], "outcome": "delivered"})),
        device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({}))),
    ];
    let answer = device.send(&ops.iter().collect::<Vec<_>>(), 0).expect(200);
    let became: Vec<(String, Value, Value)> = answer["outcomes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (text(&one["outcome"]), one["code"].clone(), one["field"].clone()))
        .collect();
    let is = |outcome: &str, code: Value, field: Value| (outcome.to_owned(), code, field);
    assert_eq!(
        became,
        [
            is("rejected", json!("invalid"), json!("on")),
            is("rejected", json!("invalid"), json!("school_id")),
            is("rejected", json!("invalid"), json!("type")),
            is("rejected", json!("not_found"), json!("group_id")),
            is("applied", Value::Null, Value::Null),
        ]
    );
    assert_eq!((answer["last_n"].clone(), alder.records().len()), (json!(5), 1));
}

/// What a device did one after the other offline comes in one push, and is one version of the school.
#[test]
fn each_of_several_words_on_one_lesson_is_kept() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    let said = |who: &str| alder.lesson(0, "2026-11-23", &alder.mark(who, "absent"));
    let away = |register: &Value| -> Vec<Value> {
        let marks = register.as_array().unwrap().iter();
        marks.filter(|entry| entry["mark"] == "absent").map(|entry| entry["pupil_id"].clone()).collect()
    };
    let (zoe, max) = (json!(alder.pupils["Zoe"]), json!(alder.pupils["Max"]));
    let ops = ["Zoe", "Max", "Zoe"].map(|who| one.op("lesson.record", None, said(who)));
    let sent = one.send(&ops.iter().collect::<Vec<_>>(), 0).expect(200);
    assert_eq!(plumbline_tests::column(&sent["outcomes"], "outcome"), ["applied"; 3]);
    let path = format!("/lesson-records/{}", text(&alder.records()[0]["id"]));
    let lead = alder.school.lead();
    let history = lead.get(&format!("{path}/history")).expect(200)["items"].clone();
    let words: Vec<_> =
        history.as_array().unwrap().iter().map(|line| away(&line["record"]["register"])).collect();
    assert_eq!(words, [vec![zoe.clone()], vec![max.clone()], vec![zoe]]);
    // So is each of several that clash, in order; the same once more is kept once.
    let gone = json!({"outcome": "not_delivered", "reason": "fire_drill"});
    let ops = [said("Max"), alder.lesson(0, "2026-11-23", &gone), said("Max")]
        .map(|set| other.op("lesson.record", None, set));
    let sent = other.send(&ops.iter().collect::<Vec<_>>(), 0).expect(200);
    assert_eq!(plumbline_tests::column(&sent["outcomes"], "outcome"), ["superseded"; 3]);
    let aside = lead.get(&format!("{path}/set-aside")).expect(200)["items"].clone();
    let aside: Vec<_> = aside.as_array().unwrap().iter().map(|one| text(&one["record"]["outcome"])).collect();
    assert_eq!(aside, ["delivered", "not_delivered"]);
    // An id stands for one operation, and numbers are digits.
    let mut twice =
        [other.op("lesson.record", None, said("Zoe")), other.op("lesson.record", None, said("Max"))];
    twice[1]["op_id"] = twice[0]["op_id"].clone();
    let refused = other.send(&twice.iter().collect::<Vec<_>>(), 0).problem(422, "invalid");
    assert_eq!(refused, ["ops[1].op_id: is the id of another operation"]);
    other.n -= 2;
    for base in ["+5", "05", "0", "-1", "1e3", "9223372036854775808"] {
        let odd = other.push("lesson.record", Some(base), said("Zoe"));
        assert_eq!((&odd["code"], &odd["field"]), (&json!("invalid"), &json!("base_v")), "{base}");
    }
    other.send(&[], -1).problem(422, "invalid");
}

#[test]
fn two_devices_that_record_one_lesson_make_one_record() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    let first = one.push("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent")));
    // The same said of it: nothing is amiss.
    let same = other.push("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent")));
    assert_eq!((&same["outcome"], &same["v"]), (&json!("applied"), &first["v"]));
    // Something else: the first stands whole, and the other is told what stands.
    let mut third = alder.school.replica("lead");
    let clash = third.push("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    assert_eq!((&clash["outcome"], &clash["v"]), (&json!("superseded"), &first["v"]));
    let [record] = &alder.records()[..] else { panic!() };
    assert_eq!(clash["current"]["register"], record["register"]);
    assert!(record["register"].as_array().unwrap().iter().any(|line| line["mark"] == "absent"));
}

#[test]
fn one_goes_on_with_what_one_did_and_a_later_change_of_another_stands() {
    let alder = Alder::new();
    let (mut one, mut other) = alder.two();
    // Recorded and amended before anything was sent: both count, the last one stands.
    let ops = [
        one.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({}))),
        one.op("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent"))),
    ];
    let answer = one.send(&[&ops[0], &ops[1]], 0).expect(200);
    assert_eq!(
        [&answer["outcomes"][0]["outcome"], &answer["outcomes"][1]["outcome"]],
        ["applied", "applied"]
    );
    other.pull(500);
    let (id, held) = other.of("lesson_record").into_iter().next().unwrap();
    assert!(held["register"].as_array().unwrap().iter().any(|line| line["mark"] == "absent"));
    // Meanwhile the lead puts it right; a change made knowing only of the version before is superseded.
    let known = text(&answer["outcomes"][1]["v"]);
    let lead = alder.school.lead();
    let path = format!("/lesson-records/{id}");
    let amended = json!({"on": "2026-11-23", "lesson_id": alder.lessons[0], "outcome": "delivered"});
    lead.put(&path, &lead.get(&path).etag(), amended).expect(200);
    let late = alder.lesson(0, "2026-11-23", &json!({"outcome": "not_delivered", "reason": "adult_absent"}));
    assert_eq!(other.push("lesson.record", Some(&known), late)["outcome"], "superseded");
    // It is shown to whoever may see the record, with whose it was, and stands nowhere.
    let aside = one.client.get(&format!("{path}/set-aside")).expect(200)["items"].clone();
    assert_eq!(aside.as_array().unwrap().len(), 1, "{aside}");
    let said = ["outcome", "reason", "on", "id"].map(|field| aside[0]["record"][field].clone());
    assert_eq!(json!(said), json!(["not_delivered", "adult_absent", "2026-11-23", id]));
    assert_eq!(aside[0]["by"], alder.school.staff_id("teacher").as_str());
    assert!(!lead.get(&format!("{path}/history")).text.contains("adult_absent"));
    assert_eq!(other.push("lesson.delete", Some(&known), json!({"id": id}))["outcome"], "superseded");
    assert_eq!(alder.records()[0]["outcome"], "delivered");
    // Knowing of it, it may be deleted; what was deleted stays so.
    let page = other.page(500).expect(200);
    let v = page["rows"]
        .as_array()
        .unwrap()
        .iter()
        .find(|row| row["id"] == id.as_str())
        .map(|row| text(&row["v"]))
        .unwrap();
    assert_eq!(other.push("lesson.delete", Some(&v), json!({"id": id}))["outcome"], "applied");
    assert_eq!(other.push("lesson.delete", Some(&v), json!({"id": id}))["outcome"], "applied");
    let gone = other.push("lesson.record", Some(&v), alder.lesson(0, "2026-11-23", &json!({})));
    assert_eq!((&gone["outcome"], &gone["code"]), (&json!("rejected"), &json!("gone")));
    assert!(alder.records().is_empty());
}

#[test]
fn a_late_record_of_who_covered_is_taken_and_of_who_did_not_is_not() {
    let alder = Alder::new();
    let lead = alder.school.lead();
    let path = format!("/groups/{}", alder.group);
    // Cover on Monday only; today is Wednesday.
    let adults = json!({"adults": [
        {"staff_id": alder.school.staff_id("teacher"), "from": "2026-09-01"},
        {"staff_id": alder.school.staff_id("cover"), "from": "2026-11-23", "until": "2026-11-23"}]});
    lead.put(&format!("{path}/adults"), &lead.get(&path).etag(), adults).expect(200);
    let mut cover = alder.school.replica("cover");
    assert_eq!(
        cover.push("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})))["outcome"],
        "applied"
    );
    let other_day = cover.push("lesson.record", None, alder.lesson(1, "2026-11-24", &json!({})));
    assert_eq!((&other_day["outcome"], &other_day["code"]), (&json!("rejected"), &json!("not_found")));
    // Nothing of the group is held by then.
    cover.pull(500);
    assert!(cover.of("lesson_record").is_empty() && cover.of("pupil").is_empty());
}

#[test]
fn catch_up_and_a_sitting_come_in_by_their_own_ids() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    device.push("lesson.record", None, alder.lesson(0, "2026-11-23", &alder.mark("Zoe", "absent")));
    let item = alder.content["steps"][0]["lessons"][0]["items"][0]["id"].clone();
    let caught_up = json!({"group_id": alder.group, "id": new_id(), "on": "2026-11-24", "items": [item], "pupil_ids": [alder.pupils["Zoe"]]});
    for _ in 0..2 {
        assert_eq!(device.push("catch_up.record", None, caught_up.clone())["outcome"], "applied");
    }
    let path = format!("/groups/{}/catch-up-records", alder.group);
    assert_eq!(alder.school.lead().get(&path).expect(200)["items"].as_array().unwrap().len(), 1);
    let (check, items) = alder.school.word_check("Words", &["mat", "mod"]);
    let round = alder.school.round("Now", "2026-11-23", "2026-11-27", &[&check]);
    let (sitting, answer) = (new_id(), new_id());
    let seat = json!({"round_id": round, "pupil_id": alder.pupils["Zoe"], "sitting_id": sitting, "on": "2026-11-25"});
    let with = |more: Value| {
        let mut set = seat.clone();
        more.as_object().unwrap().iter().for_each(|(field, value)| set[field] = value.clone());
        set
    };
    let begin = json!({"round_id": round, "pupil_id": alder.pupils["Zoe"], "id": sitting, "check_id": check, "on": "2026-11-25"});
    assert_eq!(device.push("sitting.begin", None, begin)["outcome"], "applied");
    let given =
        with(json!({"answers": [{"id": answer, "item_id": items[0], "outcome": "wrong", "heard": "m.æ.d"}]}));
    assert_eq!(device.push("sitting.answer", None, given.clone())["outcome"], "applied");
    assert_eq!(device.push("sitting.answer", None, given)["outcome"], "applied");
    // A second answer to the item, and sounds that are none, are refused by themselves.
    let other = with(json!({"answers": [{"id": new_id(), "item_id": items[0], "outcome": "right"}]}));
    assert_eq!(device.push("sitting.answer", None, other)["outcome"], "rejected");
    let odd =
        with(json!({"answers": [{"id": new_id(), "item_id": items[1], "outcome": "wrong", "heard": "§"}]}));
    let odd = device.push("sitting.answer", None, odd);
    assert_eq!((&odd["outcome"], &odd["field"]), (&json!("rejected"), &json!("answers[0]")));
    assert_eq!(device.push("sitting.undo", None, with(json!({"id": new_id()})))["outcome"], "applied");
    assert_eq!(device.push("sitting.pause", None, seat.clone())["outcome"], "applied");
    assert_eq!(device.push("sitting.resume", None, seat.clone())["outcome"], "applied");
    assert_eq!(device.push("sitting.finish", None, seat)["outcome"], "applied");
    device.pull(500);
    let held = device.of("response");
    assert_eq!(
        (held[&answer]["outcome"].clone(), held[&answer]["heard"].clone()),
        (json!("wrong"), json!("m.æ.d"))
    );
    assert!(device.of("sitting")[&sitting]["finished_at"].is_string());
    let corrected = json!({"round_id": round, "pupil_id": alder.pupils["Zoe"], "id": new_id(), "response_id": answer, "outcome": "right"});
    let refused = device.push("response.correct", None, corrected);
    assert_eq!((&refused["outcome"], &refused["code"]), (&json!("rejected"), &json!("conflict")));
}

#[test]
fn a_placement_check_comes_in_by_its_own_ids() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let (placement, answer) = (new_id(), new_id());
    let of = json!({"pupil_id": alder.pupils["Zoe"], "placement_id": placement});
    let with = |field: &str, value: Value| {
        let mut set = of.clone();
        set[field] = value;
        set
    };
    let sequence = alder.content["sequence_id"].clone();
    for _ in 0..2 {
        assert_eq!(
            device.push("placement.begin", None, with("sequence_id", sequence.clone()))["outcome"],
            "applied"
        );
    }
    let path = format!("/pupils/{}/placements/{placement}", alder.pupils["Zoe"]);
    let next = device.client.get(&path).expect(200)["next"]["item_id"].clone();
    let answers = json!([{"id": answer, "item_id": next, "outcome": "right"}]);
    for _ in 0..2 {
        assert_eq!(
            device.push("placement.answer", None, with("answers", answers.clone()))["outcome"],
            "applied"
        );
    }
    assert_eq!(device.push("placement.end", None, of.clone())["outcome"], "applied");
    let ended = device.client.get(&path).expect(200);
    assert_eq!((ended["asked"].clone(), ended["end"].is_null()), (json!(1), false));
    let late = device.push(
        "placement.answer",
        None,
        with("answers", json!([{"id": new_id(), "item_id": next, "outcome": "wrong"}])),
    );
    assert_eq!((&late["outcome"], &late["code"]), (&json!("rejected"), &json!("conflict")));
}

#[test]
fn what_a_revoked_tablet_sends_is_kept_and_done_by_nobody() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    device.pull(500);
    let lead = alder.school.lead();
    lead.post(&format!("/tablets/{}/revoke", device.tablet), json!({})).expect(200);
    let op = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    device.send(&[&op], 0).problem(403, "tablet_revoked");
    device.send(&[&op], 0).problem(403, "tablet_revoked");
    device.page(500).problem(403, "tablet_revoked");
    // Nor from another sign-in.
    let signed_in = alder.school.sign_in(&School::email("teacher"));
    device.client = alder.school.nobody().with_token(&text(&signed_in["access_token"]));
    device.page(500).problem(403, "tablet_revoked");
    device.send(&[&op], 0).problem(403, "tablet_revoked");
    let held = lead.get("/sync/held-ops").expect(200);
    assert_eq!(held["items"].as_array().unwrap().len(), 1);
    assert!(alder.records().is_empty());
}

#[test]
fn a_push_is_bounded_and_of_this_epoch_and_schema() {
    let alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let op = device.op("lesson.invent", None, json!({}));
    let many: Vec<Value> = (1..=501)
        .map(|n| {
            let mut one = op.clone();
            one["n"] = json!(n);
            one
        })
        .collect();
    device.send(&many.iter().collect::<Vec<_>>(), 0).problem(413, "too_large");
    let said = |more: Value| {
        let mut body =
            json!({"replica": device.id, "epoch": device.epoch, "schema": 1, "ack_n": 0, "ops": []});
        more.as_object().unwrap().iter().for_each(|(field, value)| body[field] = value.clone());
        device.client.post("/sync/push", body)
    };
    said(json!({"epoch": new_id()})).problem(409, "epoch_changed");
    said(json!({"schema": 0})).problem(426, "schema_too_old");
    said(json!({"staff_id": new_id()})).problem(422, "invalid");
    said(json!({"replica": new_id()})).problem(404, "not_found");
    // Another's replica is nobody else's.
    let other = alder.school.replica("lead");
    said(json!({"replica": other.id})).problem(404, "not_found");
    said(json!({})).expect(200);
}
