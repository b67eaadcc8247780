//! Several versions alive at once: kept, withdrawn, and taught from late.

use plumbline_tests::{TODAY, Value, column, json, lesson_ids, text};

use super::start;

#[test]
fn only_a_version_that_took_effect_by_then_is_taught_from_late() {
    let it = start();
    let [alder, rowan] = [("Alder", "Zoe"), ("Rowan", "Ida")].map(|(name, pupil)| it.group(name, pupil));
    it.revise();
    let how = json!({"effective_on": "2026-11-23", "stay": [alder]});
    let second = text(&it.publish(&how).expect(201)["id"]);
    let under = |version: &str| json!({"version_id": version});
    let never = ["version_id: is no version of the group's sequence that took effect by that day"];
    assert_eq!(it.log(&rowan, "2026-11-20", "m", &under(&second)).problem(422, "invalid"), never);
    let (_, other) = it.school.sequence();
    assert_eq!(it.log(&rowan, TODAY, "m", &under(&text(&other["id"]))).problem(422, "invalid"), never);
    let made = it.log(&rowan, "2026-11-23", "m", &under(&second));
    assert_eq!(made.expect(201)["version_id"], second);
    // Alder was told to keep the first. That can be said of a day that is half over: the tablet had not heard.
    let lessons = lesson_ids(&it.version(&second));
    let this_morning = |group: &str, version: &str, lesson: &str| {
        it.school.log_lesson(&it.lead, group, TODAY, lesson, "delivered", &under(version))
    };
    assert_eq!(this_morning(&alder, &second, &lessons[1]).expect(201)["version_id"], second);
    it.keep(&rowan, &json!(it.first_id()), "2026-11-24").expect(200);
    assert_eq!(this_morning(&rowan, &second, &lessons[1]).expect(201)["version_id"], second);
    // An amended record stays with its version.
    let path = format!("/lesson-records/{}", text(&made.json()["id"]));
    let mut body = json!({"on": "2026-11-23", "lesson_id": it.lesson("m")["id"], "outcome": "delivered",
                          "version_id": it.first_id()});
    let said = it.lead.put(&path, &made.etag(), body.clone()).problem(422, "invalid");
    assert_eq!(said, ["version_id: cannot change: it is the one the record was made under"]);
    body["version_id"] = json!(second);
    assert_eq!(it.lead.put(&path, &made.etag(), body).expect(200)["version_id"], second);
}

#[test]
fn a_group_keeps_a_version_and_follows_again() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.revise();
    let second = it.published("2026-11-16");
    let first = json!(it.first_id());
    assert_eq!(it.next(&alder, TODAY).0, 2);
    let kept = it.keep(&alder, &first, TODAY).expect(200);
    assert_eq!(kept["version"], json!({"id": first, "number": 1, "keeps": true}));
    assert_eq!((it.next(&alder, "2026-11-24").0, it.next(&alder, TODAY).0), (2, 1));
    // Everything of the group goes by it: what is carried in is of that version, as is what is recorded.
    let carried = format!("/groups/{alder}/carried-in");
    let taught = json!({"as_of": "2026-09-01", "lesson_ids": [it.lesson("g")["id"]]});
    it.lead.put(&carried, &it.lead.get(&carried).etag(), taught).expect(200);
    assert_eq!(it.next(&alder, TODAY), (1, "m".into()));
    let back = it.keep(&alder, &json!(null), "2026-12-01").expect(200);
    assert_eq!(back["version"], json!({"id": second, "number": 2, "keeps": false}));
    let days = json!([{"id": first, "number": 1, "from": TODAY, "until": "2026-11-30"}]);
    assert_eq!(back["kept_versions"], days);
    assert_eq!((it.next(&alder, "2026-11-30").0, it.next(&alder, "2026-12-01").0), (1, 2));
    // A day with a record of another version cannot change.
    it.log(&alder, TODAY, "o", &json!({})).expect(201);
    let said = it.keep(&alder, &json!(null), "2026-11-20").problem(422, "invalid");
    assert_eq!(
        said,
        ["from: Alder has 1 record of another version from that day on, the latest of 2026-11-25"]
    );
    it.keep(&alder, &first, "2026-11-20").expect(200);
    assert_eq!(it.next(&alder, "2026-12-01").0, 1, "what was said of later days is said anew");
    // What cannot be kept.
    let early = it.keep(&alder, &json!(second), "2026-11-15").problem(422, "invalid");
    assert_eq!(early, ["from: lies before 2026-11-16, from which it is taught"]);
    let (_, other) = it.school.sequence();
    let strange = it.keep(&alder, &other["id"], TODAY).problem(422, "invalid");
    assert_eq!(strange, ["version_id: is not a version of the group's sequence"]);
    let path = format!("/groups/{alder}/version");
    it.lead.put(&path, "\"v1\"", json!({"version_id": null})).problem(412, "stale");
    let etag = it.lead.get(&format!("/groups/{alder}")).etag();
    let unsaid = it.lead.put(&path, &etag, json!({})).problem(422, "invalid");
    assert!(unsaid[0].starts_with("version_id: "), "{unsaid:?}");
}

#[test]
fn a_version_is_withdrawn_and_its_records_stay() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.revise();
    let second = it.published("2026-11-23");
    let made = it.log(&alder, "2026-11-24", "m", &json!({})).expect(201);
    assert_eq!(made["version_id"], second);
    let gone = it.withdraw(&second).expect(200);
    assert_eq!(
        (&gone["withdrawn_on"], &gone["withdrawn_note"]),
        (&json!(TODAY), &json!("Published by mistake"))
    );
    it.withdraw(&second).problem(409, "conflict");
    // Not from today on; the days before stay as they were, and the record names it.
    assert_eq!((it.next(&alder, "2026-11-24").0, it.next(&alder, TODAY).0), (2, 1));
    let record = format!("/lesson-records/{}", text(&made["id"]));
    assert_eq!(it.lead.get(&record).expect(200), made);
    assert_eq!(it.version(&second)["withdrawn_on"], TODAY);
    let kept = it.keep(&alder, &json!(second), TODAY).problem(422, "invalid");
    assert_eq!(kept, ["version_id: was withdrawn on 2026-11-25"]);
    // What was taught from it this morning is still taken.
    let lessons = lesson_ids(&it.version(&second));
    let late = json!({"version_id": second});
    let late = it.school.log_lesson(&it.lead, &alder, TODAY, &lessons[1], "delivered", &late).expect(201);
    assert_eq!(late["version_id"], second);
    // The last one is not withdrawn from groups that have no other.
    let last = it.withdraw(&it.first_id());
    last.problem(409, "conflict");
    let detail = "these groups would be without a version: Alder from 2026-11-25 on";
    assert_eq!(last.json()["detail"], detail);
    // Back again, unless a record of another version stands in the way.
    assert_eq!(it.restore(&second).status, 204);
    assert_eq!(it.next(&alder, TODAY).0, 2);
    it.restore(&second).problem(409, "conflict");
    it.withdraw(&second).expect(200);
    it.log(&alder, TODAY, "d", &json!({"slot": 2})).expect(201);
    let way = it.restore(&second);
    way.problem(409, "conflict");
    let detail = "Alder has 1 record of another version from that day on, the latest of 2026-11-25";
    assert_eq!(way.json()["detail"], detail);
}

#[test]
fn a_version_withdrawn_before_its_day_is_as_if_it_were_not() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.revise();
    let mistake = it.published("2027-09-01");
    it.publish(&json!({"effective_on": "2026-11-30"})).problem(422, "invalid");
    it.withdraw(&mistake).expect(200);
    assert_eq!(it.next(&alder, "2027-09-01").0, 1);
    let changes = it.lead.get(&format!("/sequences/{}/draft/changes", it.sequence)).expect(200);
    assert_eq!(changes["since"]["number"], 1, "what is taught from is compared with");
    let third = it.published("2026-11-30");
    assert_eq!(it.next(&alder, "2027-09-01"), (3, "m".into()));
    // A group that keeps one that is over goes on with the next.
    it.keep(&alder, &json!(it.first_id()), "2026-11-30").expect(200);
    assert_eq!(it.next(&alder, "2026-11-30").0, 1);
    // The first is needed until the third takes effect.
    it.withdraw(&it.first_id()).problem(409, "conflict");
    it.keep(&alder, &json!(third), "2026-11-30").expect(200);
    it.withdraw(&it.first_id()).problem(409, "conflict");
    let path = format!("/groups/{alder}");
    let close = it.lead.with("If-Match", &it.lead.get(&path).etag());
    close.post(&format!("{path}/close"), json!({"on": "2026-11-24"})).expect(204);
    it.withdraw(&it.first_id()).expect(200);
    let listed = it.lead.get(&format!("/sequences/{}/versions", it.sequence)).expect(200);
    assert_eq!(column(&listed["items"], "withdrawn_on"), ["", TODAY, TODAY]);
}

#[test]
fn a_group_that_stays_by_itself_keeps_its_plan() {
    let it = start();
    let [alder, rowan] = [("Alder", "Zoe"), ("Rowan", "Ida")].map(|(name, pupil)| it.group(name, pupil));
    let first = json!(it.first_id());
    // Alder finishes the first version until 30 November.
    it.keep(&alder, &first, TODAY).expect(200);
    it.keep(&alder, &json!(null), "2026-12-01").expect(200);
    it.revise();
    let impact = it.lead.get(&format!("/sequences/{}/draft/impact?effective_on={TODAY}", it.sequence));
    let staying = json!([{"group_id": alder, "name": "Alder", "version": {"id": first, "number": 1},
                          "until": "2026-11-30"}]);
    assert_eq!(impact.expect(200)["staying"], staying);
    let etag = it.lead.get(&format!("/groups/{alder}")).etag();
    it.publish(&json!({"effective_on": TODAY, "stay": [alder, rowan]})).expect(201);
    let kept = |group: &str| it.lead.get(&format!("/groups/{group}")).expect(200)["kept_versions"].clone();
    assert_eq!(kept(&alder), json!([{"id": first, "number": 1, "from": TODAY, "until": "2026-11-30"}]));
    assert_eq!(kept(&rowan), json!([{"id": first, "number": 1, "from": TODAY, "until": null}]));
    assert_eq!(it.lead.get(&format!("/groups/{alder}")).etag(), etag, "nothing of it was changed");
    assert_eq!((it.next(&alder, "2026-11-30").0, it.next(&alder, "2026-12-01").0), (1, 2));
}

#[test]
fn one_that_is_restored_puts_no_later_one_out_of_force() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.revise();
    let second = it.published(TODAY);
    it.withdraw(&second).expect(200);
    let third = it.published("2026-11-24");
    assert_eq!(it.next(&alder, TODAY).0, 3);
    let refused = it.restore(&second);
    refused.problem(409, "conflict");
    let detail =
        "it would put version 3 out of force, which was published after it and takes effect on 2026-11-24";
    assert_eq!(refused.json()["detail"], detail);
    assert_eq!(it.next(&alder, TODAY).0, 3);
    // With that one withdrawn as well there is none to put out of force.
    it.withdraw(&third).expect(200);
    assert_eq!(it.restore(&second).status, 204);
    assert_eq!(it.next(&alder, TODAY).0, 2);
}

#[test]
fn groups_are_proposed_from_the_version_they_are_taught_from() {
    let it = start();
    let [alder, rowan] = [("Alder", "Zoe"), ("Rowan", "Ida")].map(|(name, pupil)| it.group(name, pupil));
    it.revise();
    let how = json!({"effective_on": "2026-11-23", "stay": [alder]});
    let second = it.publish(&how).expect(201)["id"].clone();
    let slot = |id: &str, name: &str| json!({"group_id": id, "name": name, "least": 0, "most": 9});
    let new = json!({"name": "Foxes", "least": 0, "most": 9});
    let ask = |groups: &[Value]| {
        it.lead
            .post("/group-proposals", json!({"sequence_id": it.sequence, "pupil_ids": [], "groups": groups}))
    };
    let of = |groups: &[Value]| ask(groups).expect(201)["version_id"].clone();
    assert_eq!(of(&[slot(&alder, "Alder")]), it.first_id());
    assert_eq!(
        (of(&[slot(&rowan, "Rowan")]), of(&[slot(&rowan, "Rowan"), new.clone()])),
        (second.clone(), second)
    );
    // A group to be made follows the sequence.
    let mixed = ask(&[slot(&alder, "Alder"), slot(&rowan, "Rowan"), new]).problem(422, "invalid");
    assert_eq!(
        mixed,
        [
            "groups: are taught from several versions: Alder from version 1, Rowan from version 2, Foxes from version 2"
        ]
    );
}

#[test]
fn an_adult_who_is_gone_is_given_no_group() {
    let it = start();
    it.group("Alder", "Zoe");
    let adult = it.school.staff_id("teacher:2");
    let groups = json!([{"name": "Foxes", "staff_id": adult, "least": 0, "most": 9}]);
    let made = it.lead.post(
        "/group-proposals",
        json!({"sequence_id": it.sequence, "pupil_ids": [it.pupils["Zoe"]], "groups": groups}),
    );
    let path = format!("/group-proposals/{}/accept", text(&made.expect(201)["id"]));
    let (admin, staff) = (it.school.staff("administrator"), format!("/staff/{adult}"));
    let disabled =
        |is: bool| admin.patch(&staff, &admin.get(&staff).etag(), json!({"disabled": is})).expect(200);
    disabled(true);
    let refused = it.lead.post(&path, json!({"on": TODAY}));
    refused.problem(409, "conflict");
    let detail = "the adult asked for is not of this school's staff any more, or may not teach: Foxes";
    assert_eq!(refused.json()["detail"], detail);
    disabled(false);
    it.lead.post(&path, json!({"on": TODAY})).expect(200);
}

#[test]
fn what_withdrawing_would_change_is_looked_at_before() {
    let it = start();
    let [alder, rowan, elm] =
        [("Alder", "Zoe"), ("Rowan", "Ida"), ("Elm", "Ned")].map(|(name, pupil)| it.group(name, pupil));
    it.revise();
    let second = it.published("2026-11-23");
    it.rename();
    let third = it.published("2026-12-07");
    let numbered = |id: &str, number: i32| json!({"id": id, "number": number});
    let (first, two, three) = (numbered(&it.first_id(), 1), numbered(&second, 2), numbered(&third, 3));
    // Rowan finishes the first; Elm keeps the second from December on.
    it.keep(&rowan, &json!(it.first_id()), "2026-11-23").expect(200);
    it.keep(&elm, &json!(second), "2026-12-01").expect(200);
    let look = |version: &str| {
        it.lead.get(&format!("/sequences/{}/versions/{version}/withdraw", it.sequence)).expect(200)
    };
    let seen = look(&second);
    let change = |from: &str, until: Option<&str>, instead: &Value, keeps: bool| json!({"from": from, "until": until, "version": two, "instead": instead, "keeps": keeps});
    let of = |name: &str, id: &str, changes: Value| json!({"group_id": id, "name": name, "changes": changes});
    let of_alder = json!([change(TODAY, Some("2026-12-06"), &first, false)]);
    let of_elm =
        json!([change(TODAY, Some("2026-12-06"), &first, false), change("2026-12-07", None, &three, true)]);
    assert_eq!(seen["groups"], json!([of("Alder", &alder, of_alder), of("Elm", &elm, of_elm)]));
    assert_eq!((&seen["on"], &seen["possible"]), (&json!(TODAY), &json!(true)));
    // Nothing was written, and what was seen is what then is.
    assert_eq!(it.next(&elm, TODAY).0, 2);
    it.withdraw(&second).expect(200);
    assert_eq!((it.next(&alder, TODAY).0, it.next(&elm, "2026-12-06").0), (1, 1));
    assert_eq!((it.next(&alder, "2026-12-07").0, it.next(&elm, "2026-12-07").0), (3, 3));
    it.lead.get(&format!("/sequences/{}/versions/{second}/withdraw", it.sequence)).problem(409, "conflict");
    // The first: Alder and Elm have it until the third takes effect, Rowan goes over to that.
    let seen = look(&it.first_id());
    assert_eq!(seen["possible"], false);
    assert_eq!(seen["groups"][0]["changes"][0]["instead"], Value::Null);
    it.withdraw(&it.first_id()).problem(409, "conflict");
}

#[test]
fn only_records_made_since_a_withdrawal_stand_in_the_way_of_taking_it_back() {
    let it = start();
    let alder = it.group("Alder", "Zoe");
    it.revise();
    let second = it.published("2026-11-24");
    // A device that had not heard of it taught the first version, before it was withdrawn.
    it.log(&alder, TODAY, "m", &json!({"version_id": it.first_id()})).expect(201);
    it.withdraw(&second).expect(200);
    assert_eq!(it.restore(&second).status, 204);
    it.withdraw(&second).expect(200);
    it.log(&alder, TODAY, "o", &json!({"slot": 2})).expect(201);
    it.restore(&second).problem(409, "conflict");
}
