//! Sequences as files: what is exported imports as the same, and nothing else gets in.
#![allow(clippy::unwrap_used)]

use std::io::Write as _;

use plumbline_tests::{Answer, Client, School, Value, json, text};

fn import(lead: &Client, path: &str, etag: &str, media: &str, body: &str) -> Answer {
    lead.with("If-Match", etag).send("POST", &format!("/api/v1{path}"), Some(media), body.as_bytes())
}

fn risky_draft() -> Value {
    json!({"steps": [
        {"title": "=Step", "lessons": [{"title": "'tis", "items": [
            {"kind": "gpc", "gpc": {"grapheme": "igh", "phoneme": "aɪ"}, "keyword": "light"},
            {"kind": "word_part", "label": "-ing"}, {"kind": "exception_word", "label": "said"}]},
            {"title": "empty", "items": []}]},
        {"title": "Two", "lessons": []}]})
}

#[test]
fn both_files_keep_every_id_and_import_as_the_same_draft() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let draft = format!("/sequences/{id}/draft");
    let saved = lead.put(&draft, &lead.get(&draft).etag(), risky_draft()).expect(200);
    for (format, media) in [("case", "application/json"), ("csv", "text/csv")] {
        let file = lead.get(&format!("{draft}/export?format={format}"));
        assert_eq!(file.status, 200, "{}", file.text);
        assert!(file.header("Content-Type").starts_with(media));
        assert_eq!(file.etag(), lead.get(&draft).etag());
        lead.put(&draft, &file.etag(), json!({"steps": []})).expect(200);
        import(&lead, &format!("{draft}/import"), &file.etag(), media, &file.text).problem(412, "stale");
        let emptied = lead.get(&draft).etag();
        let imported = import(&lead, &format!("{draft}/import"), &emptied, media, &file.text);
        // Ids that stood only in an earlier draft are known no more: publish, or save it first.
        imported.problem(422, "invalid");
        assert!(text(&imported.json()["detail"]).contains("ids=new"), "{}", imported.text);
        lead.put(&draft, &emptied, risky_draft()).expect(200);
        let file = lead.get(&format!("{draft}/export?format={format}"));
        let now = lead.get(&draft).expect(200);
        let same = import(&lead, &format!("{draft}/import"), &file.etag(), media, &file.text);
        assert_eq!(same.expect(200), now);
        assert_eq!(lead.get(&draft).etag(), same.etag());
    }
    assert_eq!(saved["steps"][0]["title"], "=Step");
}

#[test]
fn a_version_exports_the_same_for_ever_and_starts_another_sequence() {
    let school = School::start();
    let lead = school.lead();
    let (id, version) = school.sequence();
    let path = format!("/sequences/{id}/versions/{}/export", text(&version["id"]));
    let case = lead.get(&format!("{path}?format=case"));
    assert_eq!(case.expect(200), lead.get(&format!("{path}?format=case")).expect(200));
    assert_eq!(case.json()["CFDocument"]["identifier"], version["id"]);
    let pair = case.json()["CFItems"]
        .as_array()
        .unwrap()
        .iter()
        .find(|item| item["CFItemType"] == "gpc")
        .unwrap()
        .clone();
    assert!(pair["extensions"]["plumbline:gpc"]["phoneme"].is_string(), "{pair}");
    let other = text(&lead.post("/sequences", json!({"name": "Other"})).expect(201)["id"]);
    let draft = format!("/sequences/{other}/draft");
    for (format, media) in [("case", "application/json"), ("csv", "text/csv")] {
        let file = lead.get(&format!("{path}?format={format}")).text;
        let etag = lead.get(&draft).etag();
        import(&lead, &format!("{draft}/import"), &etag, media, &file).problem(422, "invalid");
        let new = import(&lead, &format!("{draft}/import?ids=new"), &etag, media, &file).expect(200);
        assert_eq!(new["steps"].as_array().unwrap().len(), version["steps"].as_array().unwrap().len());
        assert_ne!(new["steps"][0]["id"], version["steps"][0]["id"]);
    }
}

#[test]
fn one_mistyped_id_does_not_make_a_file_another_sequences() {
    let school = School::start();
    let lead = school.lead();
    let (id, version) = school.sequence();
    let draft = format!("/sequences/{id}/draft");
    let file = lead.get(&format!("{draft}/export?format=csv"));
    let step = text(&version["steps"][0]["id"]);
    let mistyped = file.text.replace(&step, "0199f2c4-1234-7abc-8def-0123456789ab");
    let refused = import(&lead, &format!("{draft}/import"), &file.etag(), "text/csv", &mistyped);
    assert!(refused.problem(422, "invalid")[0].contains("is not an id of this sequence"), "{}", refused.text);
    assert_eq!(refused.json()["detail"], Value::Null);
}

#[test]
fn what_is_wrong_with_a_file_is_named_where_it_stands() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let draft = format!("/sequences/{id}/draft");
    let (path, etag) = (format!("{draft}/import"), lead.get(&draft).etag());
    let csv = |text: &str| import(&lead, &path, &etag, "text/csv", text).problem(422, "invalid");
    let head = "step,step_title,lesson,lesson_title,kind,grapheme,phoneme,label\n";
    let kinds = "must be one of gpc, exception_word, word_part, spelling_rule, oral_skill, review";
    assert_eq!(csv(&format!("{head}1,S,1,L,song,,,x\n")), [format!("line 2.kind: {kinds}")]);
    let unknown = csv(&format!("{head}1,S,1,L,review,,,x\n1,S,1,L,gpc,igh,b,\n"));
    assert!(unknown[0].starts_with("steps[0].lessons[0].items[1].gpc: "), "{unknown:?}");
    assert!(unknown[0].ends_with("(line 3)"), "{unknown:?}");
    let json = |text: &str| import(&lead, &path, &etag, "application/json", text).problem(422, "invalid");
    assert_eq!(json("{}"), ["CFDocument: missing field `CFDocument`"]);
    import(&lead, &path, &etag, "text/plain", "x").problem(415, "unsupported_media_type");
    lead.get(&format!("{draft}/export?format=xlsx")).problem(422, "invalid");
    assert!(lead.get(&format!("{draft}/export")).expect(200)["CFDocument"].is_object());
    let framework = lead.get(&format!("{draft}/export")).expect(200);
    lead.call("POST", &path, Some(&framework)).problem(428, "precondition_required");
    assert_eq!(lead.get(&draft).expect(200), json!({"steps": []}));
}

#[test]
fn a_framework_larger_than_other_bodies_is_read_and_a_huge_one_is_not() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let draft = format!("/sequences/{id}/draft");
    let items: Vec<Value> = (0..30).map(|n| json!({"kind": "word_part", "label": format!("-{n}")})).collect();
    let lessons: Vec<Value> = (0..50).map(|n| json!({"title": format!("L{n}"), "items": items})).collect();
    let steps = json!({"steps": [{"title": "S", "lessons": lessons}]});
    let etag = lead.put(&draft, &lead.get(&draft).etag(), steps).etag();
    let file = lead.get(&format!("{draft}/export?format=case")).text;
    assert!(file.len() > 1_048_576, "{}", file.len());
    let path = format!("{draft}/import");
    let kept = import(&lead, &path, &etag, "application/json", &file);
    assert_eq!(kept.expect(200), lead.get(&draft).expect(200));
    let huge = format!("{file}{}", " ".repeat(4 * 1_048_576));
    import(&lead, &path, &kept.etag(), "application/json", &huge).problem(413, "too_large");
}

#[test]
fn a_packed_file_is_unpacked_first_and_bounded_by_what_it_unpacks_to() {
    let school = School::start();
    let lead = school.lead();
    let id = text(&lead.post("/sequences", json!({"name": "Ours"})).expect(201)["id"]);
    let draft = format!("/sequences/{id}/draft");
    lead.put(&draft, &lead.get(&draft).etag(), risky_draft()).expect(200);
    let file = lead.get(&format!("{draft}/export?format=case"));
    let packed = |text: &str| {
        let mut zipped = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
        zipped.write_all(text.as_bytes()).unwrap();
        zipped.finish().unwrap()
    };
    let send = |etag: &str, body: &[u8]| {
        let client = lead.with("If-Match", etag).with("Content-Encoding", "gzip");
        client.send("POST", &format!("/api/v1{draft}/import"), Some("application/json"), body)
    };
    assert_eq!(send(&file.etag(), &packed(&file.text)).expect(200), lead.get(&draft).expect(200));
    // Eight times the usual size is more than a file may unpack to.
    let bomb = packed(&" ".repeat(8 * 1024 * 1024));
    assert!(bomb.len() < 100_000);
    send(&lead.get(&draft).etag(), &bomb).problem(413, "too_large");
}
