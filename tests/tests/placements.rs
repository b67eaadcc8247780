//! Placement checks: where in a sequence to begin with a new pupil.
#![allow(clippy::unwrap_used)]

use std::{cell::Cell, sync::LazyLock};

use plumbline_tests::{Answer, Client, School, TODAY, Value, column, json, lesson_ids, text};

/// Forty GPCs, one a lesson, in an order of no programme's.
const LISTED: &str = "m:m, o:ɒ, d:d, e:e, n:n, b:b, i:ɪ, r:r, u:ʌ, l:l, a:æ, f:f, h:h, k:k, t:t, g:ɡ, p:p, s:s, c:k, j:dʒ, \
    v:v, w:w, z:z, y:j, x:k s, ck:k, ff:f, ll:l, ss:s, zz:z, qu:k w, sh:ʃ, ch:tʃ, th:θ, ng:ŋ, ee:iː, oo:uː, ar:ɑː, or:ɔː, igh:aɪ";

static GPCS: LazyLock<Vec<(&str, &str)>> =
    LazyLock::new(|| LISTED.split(", ").map(|gpc| gpc.split_once(':').unwrap()).collect());

struct Arrival {
    school: School,
    sequence: String,
    group: String,
    half_term: String,
    /// The pupil's address.
    pupil: String,
    ids: Cell<u32>,
}

fn start() -> Arrival {
    let school = School::start();
    let half_term = school.calendar()[1].clone();
    let lead = school.lead();
    let sequence = text(&lead.post("/sequences", json!({"name": "Long"})).expect(201)["id"]);
    let lessons: Vec<Value> = GPCS
        .iter()
        .map(|(g, p)| {
            let gpc = json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
            json!({"title": format!("Lesson {g}"), "items": [gpc]})
        })
        .collect();
    let steps: Vec<Value> = lessons
        .chunks(10)
        .enumerate()
        .map(|(n, lessons)| json!({"title": format!("Step {}", n + 1), "lessons": lessons}))
        .collect();
    let path = format!("/sequences/{sequence}/draft");
    lead.put(&path, &lead.get(&path).etag(), json!({"steps": steps})).expect(200);
    lead.post(&format!("/sequences/{sequence}/versions"), json!({"effective_on": "2026-09-01"})).expect(201);
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder")]);
    let group = school.group("Alder", &sequence, &[&pupils["Zoe"]]);
    let pupil = format!("/pupils/{}", pupils["Zoe"]);
    Arrival { school, sequence, group, half_term, pupil, ids: Cell::new(0) }
}

/// The place in the order of what is asked next.
fn next(seen: &Value) -> usize {
    let gpc = (text(&seen["next"]["gpc"]["grapheme"]), text(&seen["next"]["gpc"]["phoneme"]));
    GPCS.iter().position(|(g, p)| (*g, *p) == (gpc.0.as_str(), gpc.1.as_str())).unwrap()
}

impl Arrival {
    fn begin(&self, who: &Client) -> Value {
        who.post(&format!("{}/placements", self.pupil), json!({"sequence_id": self.sequence})).expect(201)
    }

    fn at(&self, placement: &Value) -> String {
        format!("{}/placements/{}", self.pupil, text(&placement["id"]))
    }

    fn id(&self) -> String {
        self.ids.set(self.ids.get() + 1);
        format!("0199f2c4-2222-7000-8000-{:012x}", self.ids.get())
    }

    fn answer(&self, who: &Client, placement: &Value, outcome: &str) -> Value {
        let body = json!({"answers": [{"id": self.id(), "item_id": placement["next"]["item_id"], "outcome": outcome}]});
        who.post(&format!("{}/answers", self.at(placement)), body).expect(200)
    }

    /// Answers to the end as a pupil does who knows the first so many; what was asked, in order.
    fn walk(&self, who: &Client, knows: usize) -> (Value, Vec<usize>) {
        let (mut seen, mut asked) = (self.begin(who), Vec::new());
        while seen["end"].is_null() {
            assert_eq!(seen["result"], Value::Null);
            asked.push(next(&seen));
            let outcome = if next(&seen) < knows { "right" } else { "wrong" };
            seen = self.answer(who, &seen, outcome);
            assert_eq!(seen["asked"], asked.len());
        }
        (seen, asked)
    }

    /// One that stopped for the child: three right, then no response.
    fn stopped(&self, who: &Client) -> Value {
        let mut seen = self.begin(who);
        for outcome in ["right", "right", "right", "no_response", "no_response", "no_response", "no_response"]
        {
            assert_eq!(seen["end"], Value::Null);
            seen = self.answer(who, &seen, outcome);
        }
        assert_eq!(seen["end"], "stopped", "{seen}");
        seen
    }

    fn undo(&self, who: &Client, placement: &Value, response: &Value) -> Answer {
        let pupil = self.pupil.trim_start_matches("/pupils/");
        let path = format!("/check-rounds/{}/pupils/{pupil}/corrections", text(&placement["id"]));
        who.post(&path, json!({"response_id": response, "outcome": "not_offered"}))
    }
}

#[test]
fn a_walk_finds_the_lessons_around_what_is_known() {
    let a = start();
    let teacher = a.school.staff("teacher");
    for knows in [12, 25, 33] {
        let (seen, asked) = a.walk(&teacher, knows);
        assert_eq!(seen["end"], "settled", "{seen}");
        // The first question lies in the first tenth, and none is asked twice.
        assert!(asked[0] <= 4, "{asked:?}");
        let mut once = asked.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), asked.len());
        let place = |end: &str| match &seen["result"][end]["title"] {
            Value::String(title) => GPCS.iter().position(|(g, _)| *title == format!("Lesson {g}")).unwrap(),
            _ => GPCS.len(),
        };
        let (from, to) = (place("from"), place("to"));
        assert!(from <= knows && knows <= to && to - from <= 8, "{from} {knows} {to}");
        assert_eq!(seen["result"]["from"]["place"], json!({"step": from / 10 + 1, "lesson": from % 10 + 1}));
        // What was asked before the end of the suggestion and was not right.
        let mut wrong: Vec<String> = asked
            .iter()
            .filter(|at| (knows..to).contains(*at))
            .map(|at| format!("{} /{}/", GPCS[*at].0, GPCS[*at].1))
            .collect();
        let mut told: Vec<String> =
            seen["result"]["not_right"].as_array().unwrap().iter().map(text).collect();
        wrong.sort();
        told.sort();
        assert_eq!(told, wrong);
        assert!(!text(&seen["result"]["caution"]).is_empty());
    }
    // Everything known: nothing is left to begin with.
    let (seen, _) = a.walk(&teacher, GPCS.len());
    assert_eq!((&seen["end"], &seen["result"]["to"]), (&json!("settled"), &Value::Null));
    assert_eq!(
        a.school.lead().get(&format!("{}/placements", a.pupil)).expect(200)["items"]
            .as_array()
            .unwrap()
            .len(),
        4
    );
}

#[test]
fn a_beginner_is_asked_little_and_it_stops_after_four_that_were_not_right() {
    let a = start();
    let teacher = a.school.staff("teacher");
    // Two of the easy ones are enough to tell.
    let (seen, asked) = a.walk(&teacher, 0);
    assert!(asked.len() <= 4 && asked.iter().all(|at| *at < 8), "{asked:?}");
    assert_eq!(seen["result"]["from"]["place"], json!({"step": 1, "lesson": 1}));
    let path = format!("{}/answers", a.at(&seen));
    let more = json!({"answers": [{"id": a.id(), "item_id": seen["last"]["item_id"], "outcome": "right"}]});
    teacher.post(&path, more).problem(409, "conflict");
    // Whoever answers three and then no more is not gone on with, though the place is not known.
    let stopped = a.stopped(&teacher);
    assert_eq!((&stopped["end"], &stopped["asked"]), (&json!("stopped"), &json!(7)));
    // Of the four, those before the lesson that the suggestion ends with.
    assert_eq!(stopped["result"]["to"]["title"], "Lesson y");
    assert_eq!(stopped["result"]["not_right"], json!(["w /w/", "s /s/"]));
}

#[test]
fn it_goes_on_on_another_device_and_shows_no_marks() {
    let mut a = start();
    let teacher = a.school.staff("teacher");
    let begun = a.begin(&teacher);
    assert_eq!((&begun["opens_on"], &begun["closes_on"]), (&json!(TODAY), &json!("2026-12-08")));
    assert_eq!((&begun["asked"], &begun["last"]), (&json!(0), &Value::Null));
    let one = a.answer(&teacher, &begun, "right");
    let two = a.answer(&teacher, &one, "no_response");
    // The lead sees where it stands, and nobody what came of it.
    let seen = a.school.lead().get(&a.at(&begun));
    assert_eq!(seen.expect(200), two);
    assert_eq!(two["last"]["item_id"], one["next"]["item_id"]);
    for word in ["right", "no_response", "outcome", "score", "total"] {
        assert!(!seen.text.replace("\"result\"", "").contains(word), "{word}: {}", seen.text);
    }
    // One goes on at a time.
    let again = json!({"sequence_id": a.sequence});
    a.school.lead().post(&format!("{}/placements", a.pupil), again.clone()).problem(409, "conflict");
    // Another day and another adult.
    a.school.server.kill_and_restart("2026-11-30");
    let signed_in = a.school.sign_in(&School::email("lead"));
    let lead = a.school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    let three = a.answer(&lead, &lead.get(&a.at(&begun)).expect(200), "right");
    assert_eq!(three["asked"], 3);
    // Over after its days, with what it has; then another can begin.
    a.school.server.kill_and_restart("2026-12-09");
    let signed_in = a.school.sign_in(&School::email("lead"));
    let lead = a.school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    let over = lead.get(&a.at(&begun)).expect(200);
    assert_eq!((&over["end"], &over["next"]), (&json!("ended"), &Value::Null));
    assert!(!over["result"].is_null());
    lead.post(&format!("{}/placements", a.pupil), again).expect(201);
}

#[test]
fn a_wrong_tap_is_taken_back_and_the_item_asked_again() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let begun = a.begin(&teacher);
    let one = a.answer(&teacher, &begun, "wrong");
    a.undo(&teacher, &begun, &one["last"]["response_id"]).expect(201);
    let back = teacher.get(&a.at(&begun)).expect(200);
    assert_eq!((&back["next"], &back["asked"], &back["last"]), (&begun["next"], &json!(0), &Value::Null));
    let two = a.answer(&teacher, &back, "right");
    assert_eq!(two["asked"], 1);
    assert_ne!(two["next"], one["next"]);
    // Also the tap that stopped it.
    teacher.call("POST", &format!("{}/end", a.at(&begun)), None).expect(200);
    let seen = a.stopped(&teacher);
    a.undo(&teacher, &seen, &seen["last"]["response_id"]).expect(201);
    let back = teacher.get(&a.at(&seen)).expect(200);
    assert_eq!((&back["end"], &back["asked"]), (&Value::Null, &json!(6)));
    // What was not offered from the start is left alone.
    let skipped = a.answer(&teacher, &back, "not_offered");
    assert_eq!(skipped["asked"], 6);
    assert_ne!(skipped["next"]["item_id"], back["next"]["item_id"]);
}

#[test]
fn an_answer_sent_again_is_one_answer() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let begun = a.begin(&teacher);
    let path = format!("{}/answers", a.at(&begun));
    let item = &begun["next"]["item_id"];
    let answer =
        |id: &str, outcome: &str| json!({"answers": [{"id": id, "item_id": item, "outcome": outcome}]});
    let id = a.id();
    let one = teacher.post(&path, answer(&id, "right")).expect(200);
    assert_eq!(teacher.post(&path, answer(&id, "right")).expect(200), one);
    assert_eq!(
        teacher.post(&path, answer(&id, "wrong")).problem(409, "conflict"),
        ["answers[0].id: is the id of another answer"]
    );
    let other = teacher.post(&path, answer(&a.id(), "right")).problem(409, "conflict");
    assert!(other[0].starts_with("answers[0].item_id: "), "{other:?}");
    // A late repeat after it was taken back does not bring it back.
    a.undo(&teacher, &begun, &one["last"]["response_id"]).expect(201);
    assert_eq!(teacher.post(&path, answer(&id, "right")).expect(200)["asked"], 0);
    let refused = |body: Value| teacher.post(&path, body).problem(422, "invalid");
    assert_eq!(refused(json!({"answers": []})), ["answers: give at least one answer"]);
    let unknown = json!({"answers": [{"id": a.id(), "item_id": begun["id"], "outcome": "right"}]});
    assert_eq!(refused(unknown), ["answers[0].item_id: the check has no such item"]);
    let early = json!({"on": "2026-11-24", "answers": [{"id": a.id(), "item_id": item, "outcome": "right"}]});
    assert!(refused(early)[0].ends_with("which is from 2026-11-25 to 2026-12-08"));
    // Several at once count in the order of their ids.
    let (first, second) = (a.id(), a.id());
    let items = a.school.lead().get(&a.at(&begun)).expect(200);
    let also = json!({"answers": [{"id": second, "item_id": one["next"]["item_id"], "outcome": "wrong"},
                                  {"id": first, "item_id": items["next"]["item_id"], "outcome": "wrong"}]});
    let both = teacher.post(&path, also).expect(200);
    assert_eq!((&both["asked"], &both["last"]["response_id"]), (&json!(2), &json!(second)));
}

#[test]
fn answers_come_by_the_placement_and_are_remembered_nowhere_else() {
    let a = start();
    let teacher = a.school.staff("teacher");
    let keyed = teacher.with("Idempotency-Key", "one");
    let begun = a.begin(&keyed);
    let answer =
        json!({"answers": [{"id": a.id(), "item_id": begun["next"]["item_id"], "outcome": "right"}]});
    let path = format!("{}/answers", a.at(&begun));
    let one = teacher.with("Idempotency-Key", "two").post(&path, answer.clone()).expect(200);
    let two = a.answer(&teacher, &one, "wrong");
    // A repeat is told what is there by now, which nobody kept beside the answers.
    assert_eq!((a.begin(&keyed), &two["asked"]), (two.clone(), &json!(2)));
    assert_eq!(teacher.with("Idempotency-Key", "two").post(&path, answer).expect(200), two);
    // The road of other rounds takes no answer of it, whether it goes on or is over.
    let pupil = a.pupil.trim_start_matches("/pupils/").to_owned();
    let path = format!("/check-rounds/{}/pupils/{pupil}/responses", text(&begun["id"]));
    let aside = json!({"check_id": begun["check_id"], "on": TODAY,
                       "answers": [{"item_id": two["next"]["item_id"], "outcome": "right"}]});
    teacher.post(&path, aside.clone()).problem(409, "conflict");
    teacher.call("POST", &format!("{}/end", a.at(&begun)), None).expect(200);
    teacher.post(&path, aside).problem(409, "conflict");
    assert_eq!(teacher.get(&a.at(&begun)).expect(200)["asked"], 2);
    // What was entered wrongly is put right there.
    a.undo(&teacher, &begun, &two["last"]["response_id"]).expect(201);
    assert_eq!(teacher.get(&a.at(&begun)).expect(200)["asked"], 1);
}

#[test]
fn answers_are_evidence_and_what_was_not_asked_stays_unknown() {
    let a = start();
    let (lead, teacher) = (a.school.lead(), a.school.staff("teacher"));
    let (seen, asked) = a.walk(&teacher, 25);
    let pupil = a.pupil.trim_start_matches("/pupils/").to_owned();
    let path = format!("/check-rounds/{}/pupils/{pupil}/responses", text(&seen["id"]));
    let responses = lead.get(&path).expect(200)["items"].clone();
    let outcomes: Vec<String> =
        asked.iter().map(|at| if *at < 25 { "right" } else { "wrong" }.to_owned()).collect();
    assert_eq!(column(&responses, "outcome"), outcomes);
    // Nothing was taught by it; of what is taught, what was asked is on record and the rest is unknown.
    let coverage = lead.get(&format!("{}/coverage", a.pupil)).expect(200);
    assert_eq!((&coverage["items"], &coverage["lessons_attended"]), (&json!([]), &json!(0)));
    assert!(asked.contains(&3) && !asked.iter().any(|at| *at < 3), "{asked:?}");
    let version = format!("/sequences/{}/versions/{}", a.sequence, text(&seen["version_id"]));
    for (lesson, on) in lesson_ids(&lead.get(&version).expect(200)).iter().zip([
        "2026-11-17",
        "2026-11-18",
        "2026-11-19",
        "2026-11-20",
    ]) {
        a.school.log_lesson(&lead, &a.group, on, lesson, "delivered", &json!({})).expect(201);
    }
    let report = lead.get(&format!("/reports/attainment?half_term_id={}", a.half_term)).expect(200);
    let gpcs = &report["school"]["gpcs"];
    let counted = ["taught", "secure", "right_so_far", "not_yet_secure", "unknown"]
        .map(|name| gpcs[name].as_u64().unwrap());
    assert_eq!(counted, [4, 0, 1, 1, 3], "{gpcs}");
    assert_eq!(report["school"]["checked"], 1);
    // It is nobody's check and no round of the school.
    assert_eq!(lead.get("/checks").expect(200)["items"], json!([]));
    assert_eq!(lead.get("/check-rounds").expect(200)["items"], json!([]));
    lead.get(&format!("/check-rounds/{}", text(&seen["id"]))).problem(404, "not_found");
    lead.get(&format!("/check-rounds/{}/progress", text(&seen["id"]))).problem(404, "not_found");
    let round = json!({"name": "R", "opens_on": TODAY, "closes_on": TODAY, "check_ids": [seen["check_id"]]});
    let refused = lead.post("/check-rounds", round).problem(422, "invalid");
    assert_eq!(refused, ["check_ids: one of them is not a check of this school"]);
    let check = json!({"name": "P", "kind": "placement", "items": [{"prompt": "m", "gpc": {"grapheme": "m", "phoneme": "m"}}]});
    assert_eq!(lead.post("/checks", check).problem(422, "invalid"), ["kind: is made by a placement alone"]);
    // Nor can another pupil be answered for in it.
    let max = text(&lead.get("/pupils?find=Max").expect(200)["items"][0]["id"]);
    let other = json!({"check_id": seen["check_id"], "on": TODAY, "answers": [{"item_id": seen["last"]["item_id"], "outcome": "right"}]});
    lead.post(&format!("/check-rounds/{}/pupils/{max}/responses", text(&seen["id"])), other)
        .problem(404, "not_found");
    lead.get(&format!("/pupils/{max}/placements/{}", text(&seen["id"]))).problem(404, "not_found");
}

#[test]
fn only_those_who_check_the_pupil_place_and_read() {
    let a = start();
    let seen = a.begin(&a.school.staff("teacher"));
    let (path, new) = (format!("{}/placements", a.pupil), json!({"sequence_id": a.sequence}));
    for key in ["teacher:2", "cover", "office", "administrator"] {
        let who = a.school.staff(key);
        who.post(&path, new.clone()).problem(404, "not_found");
        who.get(&a.at(&seen)).problem(404, "not_found");
        who.call("POST", &format!("{}/end", a.at(&seen)), None).problem(404, "not_found");
    }
    let head = a.school.staff("head");
    head.get(&a.at(&seen)).expect(200);
    head.post(&path, new).problem(403, "forbidden");
    // Ended early, it says what it has, and once more the same.
    let end = || a.school.lead().call("POST", &format!("{}/end", a.at(&seen)), None).expect(200);
    let ended = end();
    assert_eq!((&ended["end"], &ended["asked"]), (&json!("ended"), &json!(0)));
    assert_eq!(end(), ended);
    let log = a.school.staff("administrator").get("/audit-entries");
    let read: Vec<String> = log.expect(200)["items"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|e| e["operation"] == "placement.read")
        .map(|e| text(&e["subject_kind"]))
        .collect();
    assert_eq!(read, ["pupil"]);
    assert!(!log.text.contains(a.pupil.trim_start_matches("/pupils/")));
    let refused = |sequence: &str| {
        a.school.lead().post(&path, json!({"sequence_id": sequence})).problem(422, "invalid")
    };
    assert_eq!(refused(&text(&seen["id"])), ["sequence_id: is not a sequence of this school"]);
    let empty = a.school.lead().post("/sequences", json!({"name": "Empty"})).expect(201);
    assert_eq!(refused(&text(&empty["id"])), ["sequence_id: has no published version in force on the day"]);
}

#[test]
fn it_goes_with_the_pupil_when_two_records_become_one() {
    let a = start();
    let lead = a.school.lead();
    let seen = a.answer(&lead, &a.begin(&lead), "right");
    let max = text(&lead.get("/pupils?find=Max").expect(200)["items"][0]["id"]);
    let same =
        json!({"verdict": "same", "pupil_id": max, "other_id": a.pupil.trim_start_matches("/pupils/")});
    let decide = || lead.post("/pupil-decisions", same.clone()).expect(201);
    let part =
        |made: &Value| lead.delete(&format!("/pupil-decisions/{}", text(&made["id"])), &text(&made["etag"]));
    let made = decide();
    let kept = format!("/pupils/{max}/placements/{}", text(&seen["id"]));
    lead.get(&kept).expect(200);
    assert_eq!(part(&made).status, 204);
    lead.get(&kept).problem(404, "not_found");
    // What a device sends late about the record that is gone lands there; then the two are not taken apart.
    let made = decide();
    assert_eq!(a.answer(&lead, &seen, "wrong")["pupil_id"], json!(max));
    assert!(part(&made).text.contains("one of its placement checks went on since"));
}
