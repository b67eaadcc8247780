//! What becomes of runs of answers as devices send them, and of the ids they make. Today is Wednesday 25 November 2026.
#![allow(clippy::unwrap_used)]

mod sat;

use plumbline_tests::{json, text};
use sat::{fates, start};

/// The last answer is told by its id: one that sorts by chance is refused wherever a device makes it.
#[test]
fn an_id_a_device_makes_is_of_version_7() {
    const RANDOM: &str = "0b0e1bfa-7d5f-4c46-9a4c-5f0d5f1c2a11";
    let at = start();
    let teacher = at.school.staff("teacher");
    let begin = json!({"id": RANDOM, "check_id": at.check.0});
    let said = teacher.post(&format!("{}/sittings", at.of("Zoe")), begin).problem(422, "invalid");
    assert_eq!(said, ["id: must be a UUID of version 7"]);
    let sitting = at.begin(&teacher, "Zoe");
    let mut random = at.one(1, "wrong");
    random["id"] = json!(RANDOM);
    let said = at.send(&teacher, &sitting, &[at.one(0, "right"), random]).problem(422, "invalid");
    assert_eq!(said, ["answers[1].id: must be a UUID of version 7"]);
    let said = teacher.post(&format!("{sitting}/undo"), json!({"id": RANDOM})).problem(422, "invalid");
    assert_eq!(said, ["id: must be a UUID of version 7"]);
    // So in a placement.
    let lead = at.school.lead();
    let sequence = text(&lead.get("/sequences").expect(200)["items"][0]["id"]);
    let path = format!("/pupils/{}/placements", at.pupils["Max"]);
    let begun = lead.post(&path, json!({"sequence_id": sequence})).expect(201);
    let answer = json!({"id": RANDOM, "item_id": begun["next"]["item_id"], "outcome": "right"});
    let path = format!("{path}/{}/answers", text(&begun["id"]));
    let said = lead.post(&path, json!({"answers": [answer]})).problem(422, "invalid");
    assert_eq!(said, ["answers[0].id: must be a UUID of version 7"]);
    // In one run the last of the ids is taken back, in whatever order they were sent.
    let (first, second) = (at.one(0, "right"), at.one(1, "wrong"));
    at.send(&teacher, &sitting, &[second, first]).expect(200);
    let seen = at.undo(&teacher, &sitting).expect(200);
    assert_eq!(at.stands(&seen), [json!("right"), json!(null), json!(null)]);
}

#[test]
fn sounds_that_cannot_be_read_refuse_one_answer_and_not_the_run() {
    let at = start();
    let teacher = at.school.staff("teacher");
    let sitting = at.begin(&teacher, "Zoe");
    let heard = |n: usize, outcome: &str, heard: &str| {
        let mut one = at.one(n, outcome);
        one["heard"] = json!(heard);
        one
    };
    let sent = at.send(
        &teacher,
        &sitting,
        &[at.one(0, "right"), heard(1, "wrong", "wall"), heard(2, "wrong", "p ɒ t")],
    );
    assert_eq!(fates(&sent), ["taken", "refused", "taken"]);
    let refusal = sent.json()["answers"][1]["refusal"].clone();
    assert_eq!(refusal["code"], "heard");
    let message = "“wall” is not written in IPA phonemes of English: “a” is none; write what is said, sounds joined by \
        dots, such as ʃ.ɪ.p";
    assert_eq!(refusal["message"], message);
    assert_eq!(at.stands(&sent.json()["sitting"]), [json!("right"), json!(null), json!("wrong")]);
    // Heard instead of a right answer is no answer either.
    let sent = at.send(&teacher, &sitting, &[heard(1, "right", "d ɒ t")]);
    assert_eq!(
        (fates(&sent), &sent.json()["answers"][0]["refusal"]["code"]),
        (vec!["refused".into()], &json!("heard"))
    );
}

#[test]
fn of_two_answers_to_one_item_in_a_run_the_first_made_stands() {
    let at = start();
    let teacher = at.school.staff("teacher");
    let sitting = at.begin(&teacher, "Zoe");
    let (first, second) = (at.one(0, "wrong"), at.one(0, "right"));
    let sent = at.send(&teacher, &sitting, &[second, first.clone()]);
    assert_eq!(fates(&sent), ["refused", "taken"]);
    let refusal = sent.json()["answers"][0]["refusal"].clone();
    assert_eq!(
        (&refusal["code"], &refusal["stands"]["response_id"]),
        (&json!("already_answered"), &first["id"])
    );
    assert_eq!(at.stands(&sent.json()["sitting"]), [json!("wrong"), json!(null), json!(null)]);
}
