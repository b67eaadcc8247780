//! What a role that ended leaves on a tablet: what was done comes in, and what was held goes.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Value, json, new_id};

/// A role up to a day.
fn until(role: &str, last: &str) -> Value {
    json!([{"role": role, "from": "2026-09-01", "until": last}])
}

/// Cover on Monday and Tuesday; today is Wednesday.
fn covered(alder: &Alder) {
    alder.adults(&json!([
        {"staff_id": alder.school.staff_id("teacher"), "from": "2026-09-01"},
        {"staff_id": alder.school.staff_id("cover"), "from": "2026-11-23", "until": "2026-11-24"}]));
}

#[test]
fn who_has_no_role_any_more_sends_what_was_done_and_holds_nothing() {
    let alder = Alder::new();
    covered(&alder);
    alder.adults(&json!([{"staff_id": alder.school.staff_id("cover"), "from": "2026-11-23"}]));
    let mut device = alder.school.replica("cover");
    device.pull(500);
    assert_eq!(device.of("pupil").len(), 2);
    covered(&alder);
    alder.roles("cover", &until("cover", "2026-11-24"));
    // A lesson of a day of the role is taken; one of today is not, and holds back nothing.
    let today = device.op("lesson.record", None, alder.lesson(1, "2026-11-25", &json!({})));
    let monday = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    let answer = device.send(&[&today, &monday], 0).expect(200);
    let became = [0, 1].map(|nth| answer["outcomes"][nth]["outcome"].clone());
    assert_eq!(became, ["rejected", "applied"]);
    // Everything is dropped: no name stays.
    device.pull(500);
    assert!(device.records.is_empty(), "{:?}", device.records.keys());
    assert!(device.cursors.is_empty());
    // Nothing else opens, and no replica is begun.
    device.client.get("/groups").problem(403, "forbidden");
    alder
        .school
        .signed_in("cover")
        .post("/sync/replicas", json!({"id": new_id(), "tablet_id": device.tablet}))
        .problem(403, "forbidden");
    // After a new sign-in the same store goes on.
    device.client = alder.school.signed_in("cover");
    let own = json!({"id": device.id, "tablet_id": device.tablet});
    device.client.post("/sync/replicas", own).expect(201);
    let tuesday = alder.lesson(1, "2026-11-24", &json!({}));
    assert_eq!(device.push("lesson.record", None, tuesday)["outcome"], "applied");
}

#[test]
fn late_records_are_judged_by_the_role_of_their_day_and_for_some_days_only() {
    let alder = Alder::new();
    let mut device = alder.school.replica("assistant");
    alder.adults(&json!([{"staff_id": alder.school.staff_id("assistant"), "from": "2026-09-01"}]));
    let (check, items) = alder.school.word_check("Words", &["mat"]);
    let round = alder.school.round("Now", "2026-11-16", "2026-11-27", &[&check]);
    alder.roles("assistant", &until("assistant", "2026-11-20"));
    let sitting = new_id();
    let at = |on: &str, field: &str, more: Value| {
        let mut set = json!({"round_id": round, "pupil_id": alder.pupils["Zoe"], "on": on});
        set[field] = json!(sitting);
        more.as_object().unwrap().iter().for_each(|(name, value)| set[name] = value.clone());
        set
    };
    let begin = |on: &str| at(on, "id", json!({"check_id": check}));
    let refused = device.push("sitting.begin", None, begin("2026-11-24"));
    assert_eq!((&refused["outcome"], &refused["code"]), (&json!("rejected"), &json!("not_found")));
    assert_eq!(device.push("sitting.begin", None, begin("2026-11-19"))["outcome"], "applied");
    let answers = json!({"answers": [{"id": new_id(), "item_id": items[0], "outcome": "right"}]});
    let answer = at("2026-11-19", "sitting_id", answers);
    assert_eq!(device.push("sitting.answer", None, answer)["outcome"], "applied");
    // A role that ended long ago counts for no day.
    alder.roles("assistant", &until("assistant", "2026-10-20"));
    let old = alder.lesson(0, "2026-10-19", &json!({}));
    assert_eq!(device.push("lesson.record", None, old)["code"], "not_found");
    // A reader of the day is told of the role held now alone.
    let path = format!("/groups/{}/lesson-records", alder.group);
    device.client.get(&path).problem(404, "not_found");
}
